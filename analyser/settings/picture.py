"""placed_picture: ``[site.picture]`` -> where the pixels of an aerial picture lie, from a world file or from two points."""

from __future__ import annotations

import math
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from analyser.errors import SettingsError
from analyser.frame import LocalFrame
from analyser.settings.model import SitePicture
from analyser.settings.position import check_position
from analyser.settings.read_keys import Entry, Given, read_text

__all__ = ["MAX_PICTURE_BYTES", "between_points", "picture_files", "placed_picture"]

MAX_PICTURE_BYTES: Final = 40_000_000
LEAST_PIXELS: Final = (
    20.0  # ours: nearer to each other, two points leave scale and north to a slip of the hand
)
SCALES_M: Final = (0.005, 50.0)  # ours: metres a pixel; outside, a point was mistaken
_MAGIC: Final = (b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff")
_WORLD: Final = {".png": ".pgw", ".jpg": ".jgw", ".jpeg": ".jgw"}


def placed_picture(entry: Entry) -> SitePicture:
    """The picture that a ``[site.picture]`` table means. Paths count from the folder of its file.

    Raises SettingsError where the picture is missing, neither PNG nor JPEG or too large, or where its place is not given by
    exactly one of a world file and two points.
    """
    given: Given = entry.value
    if "file" not in given:
        entry.fail("site.picture has no file", 'give it file = "…", a PNG or JPEG')
    folder = Path(given["file"].file).parent
    path = Path(os.path.abspath(folder / given["file"].value))
    _check_file(given["file"], path)
    points = given.get("point")
    if points is not None and "world" in given:
        points.fail("site.picture has a world file and points", "keep one of the two")
    if points is not None:
        return _from_points(path, points)
    world = (
        folder / given["world"].value
        if "world" in given
        else path.with_suffix(_WORLD.get(path.suffix.lower(), ".wld"))
    )
    if not world.is_file():
        entry.fail(
            "site.picture is not placed",
            f"put a world file beside it ({world.name}) or give two [[site.picture.point]]",
        )
    return _from_world(path, world)


def picture_files(given: Given) -> Iterator[Path]:
    """The picture that settings name and its world file, so that nothing is written over them; neither has to be there."""
    if "site.picture" not in given:
        return
    table: Given = given["site.picture"].value
    if "file" in table:
        path = Path(table["file"].file).parent / table["file"].value
        yield path
        yield path.with_suffix(_WORLD.get(path.suffix.lower(), ".wld"))
    if "world" in table:
        yield Path(table["world"].file).parent / table["world"].value


def _check_file(entry: Entry, path: Path) -> None:
    try:
        if not path.is_file():
            entry.fail(
                f'{entry.key} names "{entry.value}", which is not there',
                "paths count from the folder of this file",
            )
        if path.stat().st_size > MAX_PICTURE_BYTES:
            entry.fail(
                f"{entry.key}: the picture is too large (over {MAX_PICTURE_BYTES / 1e6:.0f} MB)",
                "save it smaller",
            )
        with path.open("rb") as file:
            head = file.read(8)
    except OSError as error:
        entry.fail(f"{entry.key} can not be read ({(error.strerror or '').lower()})", "check its permissions")
    if not head.startswith(_MAGIC):
        entry.fail(f"{entry.key} is neither a PNG nor a JPEG picture", "save it as one of the two")


def _from_points(path: Path, points: Entry) -> SitePicture:
    rows = points.value
    if len(rows) != 2:
        points.fail(f"site.picture needs two points, not {len(rows)}", "one [[site.picture.point]] for each")
    try:
        return between_points(
            str(path),
            (rows[0]["pixel"].value, rows[0]["place"].value),
            (rows[1]["pixel"].value, rows[1]["place"].value),
        )
    except ValueError as error:
        last: Entry = rows[1]["pixel"]
        last.fail(str(error), "choose two places far apart that you know for certain")


def between_points(
    file: str,
    a: tuple[tuple[float, float], tuple[float, float]],
    b: tuple[tuple[float, float], tuple[float, float]],
) -> SitePicture:
    """The picture turned and scaled so that two pixels (column, row) lie on two places (lat, lon).

    Raises ValueError where the points are too near to each other or make no scale that a picture of a field has.
    """
    frame = LocalFrame(*a[1])
    east, north = (float(v) for v in frame.to_local(*b[1]))
    across, up = b[0][0] - a[0][0], a[0][1] - b[0][1]
    if math.hypot(across, up) < LEAST_PIXELS:
        raise ValueError(f"the two points of the picture are less than {LEAST_PIXELS:.0f} pixels apart")
    turn = complex(east, north) / complex(across, up)
    _check_scale(abs(turn))
    start = turn * complex(a[0][0], -a[0][1])
    return SitePicture(file, a[1], (-start.real, turn.real, turn.imag), (-start.imag, turn.imag, -turn.real))


def _check_scale(metres: float) -> None:
    if not SCALES_M[0] <= metres <= SCALES_M[1]:
        raise ValueError(f"a pixel of the picture would be {metres:.3g} m wide")


def _from_world(path: Path, world: Path) -> SitePicture:
    """A world file: six lines A D B E C F; longitude = A column + B row + C, latitude = D column + E row + F, in degrees."""

    def wrong(what: str, hint: str) -> SettingsError:
        return SettingsError(what, hint, str(world))

    words = read_text(world).split()
    try:
        a, d, b, e, c, f = (float(word) for word in words)
    except ValueError:
        raise wrong("a world file holds six numbers", "one on each line: A, D, B, E, C, F") from None
    if not all(map(math.isfinite, (a, b, c, d, e, f))) or check_position(f, c):
        raise wrong(
            "is not in degrees of longitude and latitude", "export it in WGS 84 degrees, or give two points"
        )
    frame = LocalFrame(f, c)

    def local(column: float, row: float) -> complex:
        lat, lon = d * column + e * row + f, a * column + b * row + c
        if check_position(lat, lon):
            raise wrong(
                "is not in degrees of longitude and latitude",
                "export it in WGS 84 degrees, or give two points",
            )
        return complex(*(float(v) for v in frame.to_local(lat, lon)))

    span = 1000.0  # pixels over which the plane of the field is laid through the degrees
    right, down = local(span, 0.0) / span, local(0.0, span) / span
    try:
        _check_scale(abs(right))
        _check_scale(abs(down))
    except ValueError as error:
        raise wrong(str(error), "check the world file") from None
    return SitePicture(str(path), (f, c), (0.0, right.real, down.real), (0.0, right.imag, down.imag))
