"""lay_under: the aerial picture of a field under a map, cut to what the map shows, north up, small enough to go with the page."""

from __future__ import annotations

import base64
import io
import math
import os
import warnings
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from analyser.errors import SettingsError
from analyser.frame import LocalFrame
from analyser.report.pictures.spec import Spec
from analyser.report.plain import escape
from analyser.settings import SitePicture

if TYPE_CHECKING:
    from PIL import Image

__all__ = ["MAX_EMBEDDED", "MAX_PIXELS", "Box", "box_about", "cut_out", "lay_under"]

MAX_EMBEDDED: Final = 400_000  # characters of base64 in the page
MAX_PIXELS: Final = 60_000_000
LONGEST: Final = 1200
MARGIN_M: Final = 150.0
MOST_M: Final = 8000.0
OPACITY: Final = 0.72


class Box(NamedTuple):
    """West, south, east, north [m] about the map's origin."""

    west: float
    south: float
    east: float
    north: float


def lay_under(
    spec: Spec, picture: SitePicture | None, frame: LocalFrame, box: Box | None = None, *, said: bool = True
) -> Spec:
    """The map with the picture below everything; the same map where there is no picture or it lies elsewhere.

    ``box``: the part of the picture that another map of the page shows too, so that it goes with the page once; None: what this
    map needs. A broken picture costs no debrief: the map says (``said``) in its corner what is wrong with it.
    """
    if picture is None:
        return spec
    wanted = box or box_about([p for view in spec["layout"]["meta"]["views"].values() for p in view])
    try:
        found = cut_out(picture, (frame.lat_deg, frame.lon_deg), wanted)
    except SettingsError as error:
        if not said:
            return spec
        told = {
            "text": escape(error.what),
            "xref": "paper",
            "yref": "paper",
            "x": 0.5,
            "y": 0.01,
            "showarrow": False,
        }
        return {"data": spec["data"], "layout": spec["layout"] | {"annotations": [told]}}
    if found is None:
        return spec
    source, filled = found
    image = {
        "source": source,
        "xref": "x",
        "yref": "y",
        "x": filled.west,
        "y": filled.north,
        "sizex": filled.east - filled.west,
        "sizey": filled.north - filled.south,
        "xanchor": "left",
        "yanchor": "top",
        "sizing": "stretch",
        "layer": "below",
        "opacity": OPACITY,
    }
    return {"data": spec["data"], "layout": spec["layout"] | {"images": [image]}}


def cut_out(picture: SitePicture, origin: tuple[float, float], wanted: Box) -> tuple[str, Box] | None:
    """The part of the picture in a box about ``origin`` (lat, lon), as an address that carries it, and the box that it fills; None
    where it lies elsewhere. Raises SettingsError where the picture is missing, broken or too large.
    """
    return _cut(picture, origin, wanted, _stamp(picture.file))


def box_about(points: list[list[float]]) -> Box:
    """The box that holds all the points, with room around them."""
    east, north = np.array(points, dtype=np.float64).T
    low, high = np.array([east.min(), north.min()]), np.array([east.max(), north.max()])
    middle = (low + high) / 2
    # a map is wider than its points, and wider still when it is turned
    half = np.minimum((high - low) / 2 + MARGIN_M + 0.35 * (high - low).max(), MOST_M / 2)
    return Box(*(round(float(v), -1) for v in (*(middle - half), *(middle + half))))


def _stamp(file: str) -> tuple[int, int]:
    try:
        found = os.stat(file)
    except OSError as error:
        raise _broken(file, (error.strerror or "can not be read").lower()) from None
    return found.st_size, found.st_mtime_ns


def _broken(file: str, why: str) -> SettingsError:
    return SettingsError(f"the picture can not be used ({why})", "save it again as a PNG or JPEG", file)


@lru_cache(maxsize=8)
def _cut(
    picture: SitePicture, origin: tuple[float, float], wanted: Box, stamp: tuple[int, int]
) -> tuple[str, Box] | None:
    """The part of the picture in a box, as an address that carries it, and the box; None where it lies elsewhere."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            return _cut_guarded(picture, origin, wanted)
        except SettingsError:
            raise
        except MemoryError:
            raise _broken(picture.file, "needs more memory than there is") from None
        except Exception as error:  # whatever a damaged or hostile picture makes of the library that reads it
            raise _broken(picture.file, f"damaged: {type(error).__name__}") from None


def _cut_guarded(picture: SitePicture, origin: tuple[float, float], wanted: Box) -> tuple[str, Box] | None:
    from PIL import Image

    Image.MAX_IMAGE_PIXELS = MAX_PIXELS
    with Image.open(picture.file, formats=("PNG", "JPEG")) as opened:
        width, height = opened.size
        if width * height > MAX_PIXELS:
            raise _broken(picture.file, f"{width * height / 1e6:.0f} million pixels")
        matrix, shift = _to_map(picture, origin)
        corners = (
            matrix @ (np.array([[0, width, width, 0], [0, 0, height, height]], dtype=np.float64) - 0.5)
            + shift[:, None]
        )
        low, high = corners.min(axis=1), corners.max(axis=1)
        box = Box(
            max(wanted.west, float(low[0])),
            max(wanted.south, float(low[1])),
            min(wanted.east, float(high[0])),
            min(wanted.north, float(high[1])),
        )
        if box.east - box.west < 1.0 or box.north - box.south < 1.0:
            return None
        native = math.sqrt(abs(float(np.linalg.det(matrix))))
        return _packed(_plain(opened), matrix, shift, box, native), box


def _to_map(picture: SitePicture, origin: tuple[float, float]) -> tuple[Any, Any]:
    """Matrix (2, 2) and shift (2,): pixel (column, row) -> metres about the map's origin.

    The two local planes are laid on each other at the picture's own origin; over a field they differ by centimetres.
    """
    matrix = np.array([picture.east[1:], picture.north[1:]])
    own = LocalFrame(*origin).to_local(*picture.origin)
    return matrix, np.array([picture.east[0] + float(own[0]), picture.north[0] + float(own[1])])


def _plain(image: Image.Image) -> Image.Image:
    from PIL import Image

    if image.mode in ("RGBA", "LA", "P", "PA"):
        with_alpha = image.convert("RGBA")
        sheet = Image.new("RGBA", with_alpha.size, "white")
        return Image.alpha_composite(sheet, with_alpha).convert("RGB")
    return image.convert("RGB")


def _packed(image: Image.Image, matrix: Any, shift: Any, box: Box, native: float) -> str:
    """The box north up as a JPEG in an address, made smaller until it is small enough."""
    longest = max(box.east - box.west, box.north - box.south)
    step = max(native, longest / LONGEST)
    while True:
        turned = _turned(image, matrix, shift, box, step, native)
        for quality in (82, 70, 58):
            packed = io.BytesIO()
            turned.save(packed, "JPEG", quality=quality, optimize=True)
            text = base64.b64encode(packed.getvalue()).decode()
            if len(text) + 30 <= MAX_EMBEDDED:
                return f"data:image/jpeg;base64,{text}"
        step *= 1.3


def _turned(image: Image.Image, matrix: Any, shift: Any, box: Box, step: float, native: float) -> Image.Image:
    from PIL import Image

    factor = max(int(step / native), 1)
    small = image.reduce(factor) if factor > 1 else image
    size = max(round((box.east - box.west) / step), 1), max(round((box.north - box.south) / step), 1)
    back = np.linalg.inv(matrix) / factor
    # output pixel (x, y) -> east = west + (x + ½) step, north = north - (y + ½) step -> column, row of the small picture
    start = back @ (np.array([box.west, box.north]) - shift) + 0.5 / factor
    # PIL adds its own half pixel to x and y, so none is added here
    rows = [back[0, 0] * step, -back[0, 1] * step, start[0], back[1, 0] * step, -back[1, 1] * step, start[1]]
    return small.transform(
        size,
        Image.Transform.AFFINE,
        tuple(float(v) for v in rows),
        Image.Resampling.BILINEAR,
        fillcolor="white",
    )
