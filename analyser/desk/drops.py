"""What happens to dropped files: taken in, put into the folder, named, debriefed, and told about while it lasts."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from analyser.desk.answers import Fields, Refused, fields_of, line_of, refusal
from analyser.desk.corrections import Change, JumpId
from analyser.desk.desk import Desk
from analyser.desk.uploads import Upload, file_name, place, take_upload
from analyser.desk.work import SUFFIXES, AnalyserError, parse_target

__all__ = ["begin", "progress", "take"]

MOST_HASHES: Final = 2000


async def take(request: Request) -> Response:
    """One dropped file: into the folder, whole or not at all; nothing is debriefed yet."""
    desk: Desk = request.app.state.desk
    name = file_name(request.headers.get("x-name", ""))
    try:
        if await _full(desk):
            raise Refused(429, f"{name}: too many files wait already; drop it again when these are read")
        async with desk.uploading:
            upload = await take_upload(
                request.stream(), name, request.headers.get("content-length"), desk.folder.hidden, desk.limits
            )
            return await _keep(desk, upload)
    except AnalyserError as error:
        return refusal(413 if "too large" in error.what else 422, line_of(error))


async def _full(desk: Desk) -> bool:
    """Whether too much waits; what a page that was closed left waiting is debriefed then."""

    def much() -> bool:
        limits, waiting = desk.limits, desk.waiting
        return len(waiting) >= limits.waiting_files or sum(waiting.values()) >= limits.waiting_bytes

    if not much():
        return False
    if desk.keeper.progress.running:
        return (
            True  # the logbook is asked when the run has ended, not for every file that is refused meanwhile
        )
    for sha in await desk.library.ask(desk.library.contents, list(desk.waiting)):
        desk.waiting.pop(sha, None)
    if much():
        desk.keeper.run()
    return much()


async def _keep(desk: Desk, upload: Upload) -> Response:
    try:
        known = await desk.library.ask(desk.library.contents, [upload.sha256])
        where = await desk.library.ask(desk.library.places, upload.sha256)
        if upload.sha256 in known and where:
            return JSONResponse({"content": upload.sha256, "name": where[0].name, "known": True})
        if upload.sha256 in desk.waiting:
            return JSONResponse({"content": upload.sha256, "name": upload.name, "known": False})
        if not upload.name.lower().endswith(SUFFIXES):
            await _judge(desk, upload)
        desk.waiting[upload.sha256] = upload.size
        target = place(upload, desk.folder.path)
        return JSONResponse({"content": upload.sha256, "name": target.name, "known": False})
    finally:
        upload.part.unlink(missing_ok=True)


async def _judge(desk: Desk, upload: Upload) -> None:
    """A file that is not named like a track must be one. Raises what a command says to it."""
    try:
        await desk.does("check", str(upload.part))
    except AnalyserError as error:
        raise type(error)(error.what, error.hint, upload.name) from None


async def begin(request: Request) -> Response:
    """Everything is dropped: note who and where, then debrief."""
    desk: Desk = request.app.state.desk
    fields = await fields_of(request)
    hashes = _hashes(fields)
    try:
        changes = await _named(desk, hashes, fields)
        if changes:
            await asyncio.to_thread(desk.corrections.save, changes)
    except AnalyserError as error:
        return refusal(422, line_of(error))
    run = desk.keeper.run()
    run.add_done_callback(lambda _: [desk.waiting.pop(sha, None) for sha in hashes])
    return JSONResponse({"begun": True})


async def _named(desk: Desk, hashes: Sequence[str], fields: Fields) -> list[Change]:
    """Corrections for the dropped tracks, where anything was chosen; a field known by name brings its target."""
    values: dict[str, Any] = {key: str(fields.get(key, "")).strip() for key in ("jumper", "canopy", "site")}
    values = {key: value for key, value in values.items() if value}
    if not values:
        return []
    if "site" in values:
        known = (await desk.library.ask(desk.library.overview)).known
        target = known.sites.get(values["site"])
        values |= {} if target is None else {"target": parse_target(f"{target[0]!r},{target[1]!r}")}
    # where the track will be looked up matters only for the files above it, and all of these lie in the same folder
    return [Change(JumpId(sha, 0), desk.folder.path / "track", values) for sha in hashes]


def _hashes(fields: Fields) -> list[str]:
    rows = fields.get("contents", [])
    rows = [rows] if isinstance(rows, str) else rows
    if len(rows) > MOST_HASHES or not all(len(r) == 64 and set(r) <= set("0123456789abcdef") for r in rows):
        raise Refused(400, "not what this desk's pages send")
    return list(dict.fromkeys(rows))


async def progress(request: Request) -> Response:
    """How far it is, and what became of the contents asked for."""
    desk: Desk = request.app.state.desk
    hashes = _hashes(await fields_of(request))
    known = await desk.library.ask(desk.library.contents, hashes)
    state = desk.keeper.progress
    files = {
        sha: {"failed": content.reason}
        if content.status != "done"
        else {"jumps": [f"/jump/{sha}-{n}" for n in numbers]}
        for sha, (content, numbers) in known.items()
    }
    told = {"running": state.running, "done": state.done, "total": state.total, "error": state.error}
    return JSONResponse(told | {"files": files})
