"""The field's picture: taken in, looked at, placed by two points, written into ``logbook.toml``."""

from __future__ import annotations

import asyncio
import re
from typing import Final

from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response

from analyser.desk.answers import Refused, fields_of, line_of, lost, refusal, shown
from analyser.desk.desk import Desk
from analyser.desk.pages.site import field_page
from analyser.desk.planning import settings_of
from analyser.desk.uploads import Limits, Upload, take_upload
from analyser.desk.work import (
    MAX_PICTURE_BYTES,
    AnalyserError,
    FormatError,
    SettingsError,
    SitePicture,
    parse_target,
)

__all__ = ["look", "picture", "place", "remove", "take"]

_NAME: Final = re.compile(r"picture-[0-9a-f]{16}\.(png|jpg)")
_KINDS: Final = {b"\x89PNG\r\n\x1a\n": "png", b"\xff\xd8\xff": "jpg"}
_PIXEL: Final = re.compile(r"\s*(\d{1,6}(?:\.\d+)?)\s*[,;\s]\s*(\d{1,6}(?:\.\d+)?)\s*")


def _present(desk: Desk) -> SitePicture | None:
    try:
        found: SitePicture | None = settings_of(desk.folder.path).site.picture
    except SettingsError:
        return None
    return found


async def look(request: Request) -> Response:
    """The page."""
    desk: Desk = request.app.state.desk
    name = request.query_params.get("picture", "")
    if name and not (_NAME.fullmatch(name) and (desk.folder.path / name).is_file()):
        return lost()
    known = (await desk.library.ask(desk.library.overview)).known
    return shown(field_page(name, await asyncio.to_thread(_present, desk), known))


async def picture(request: Request) -> Response:
    """The picture to be placed; only one that was taken in here."""
    desk: Desk = request.app.state.desk
    found = _NAME.fullmatch(request.path_params["name"])
    path = desk.folder.path / request.path_params["name"] if found else None
    if found is None or path is None or not path.is_file():
        return lost()
    return FileResponse(path, media_type="image/png" if found[1] == "png" else "image/jpeg")


async def take(request: Request) -> Response:
    """A chosen picture: counted while it streams, opened once in the pool, kept under a name made of its bytes."""
    desk: Desk = request.app.state.desk
    limits = Limits(file_bytes=MAX_PICTURE_BYTES, silence_s=desk.limits.silence_s)
    declared = request.headers.get("content-length")
    try:
        async with desk.uploading:
            upload = await take_upload(request.stream(), "picture", declared, desk.folder.hidden, limits)
        try:
            kind = _kind(upload)
            await desk.does("picture", str(upload.part))
            name = f"picture-{upload.sha256[:16]}.{kind}"
            if not (desk.folder.path / name).exists():
                upload.part.rename(desk.folder.path / name)
        finally:
            upload.part.unlink(missing_ok=True)
    except AnalyserError as error:
        return refusal(413 if "too large" in error.what else 422, f"{error.what}; {error.hint}")
    return JSONResponse({"go": f"/field?picture={name}"})


def _kind(upload: Upload) -> str:
    with upload.part.open("rb") as file:
        head = file.read(8)
    for magic, kind in _KINDS.items():
        if head.startswith(magic):
            return kind
    raise FormatError("is neither a PNG nor a JPEG picture", "save it as one of the two")


async def place(request: Request) -> Response:
    """Two points: written, tried by the reader, and every page made again."""
    desk: Desk = request.app.state.desk
    fields = await fields_of(request)
    name = str(fields.get("name", ""))
    if not _NAME.fullmatch(name):
        raise Refused(400, "not what this desk's pages send")
    try:
        points = [
            (_pixel(str(fields.get(f"pixel{i}", "")), i), _place(str(fields.get(f"place{i}", "")), i))
            for i in (1, 2)
        ]
        await asyncio.to_thread(desk.corrections.save_picture, name, points)
        await desk.run()
    except AnalyserError as error:
        return refusal(422, line_of(error))
    return JSONResponse({"saved": True, "go": "/field"})


def _pixel(typed: str, number: int) -> tuple[float, float]:
    found = _PIXEL.fullmatch(typed)
    if found is None:
        raise SettingsError(
            f"place {number} is not clicked yet", "click it in the picture, or type column, row"
        )
    return float(found[1]), float(found[2])


def _place(typed: str, number: int) -> tuple[float, float]:
    if not typed.strip():
        raise SettingsError(f"place {number} has no latitude and longitude", "type them in decimal degrees")
    return parse_target(typed)


async def remove(request: Request) -> Response:
    """Take the picture from under the maps; the file stays."""
    desk: Desk = request.app.state.desk
    try:
        await asyncio.to_thread(desk.corrections.save_picture, "", [])
        await desk.run()
    except AnalyserError as error:
        return refusal(422, line_of(error))
    return JSONResponse({"saved": True, "go": "/field"})
