"""Small plan views of single jumps, drawn from their documents: the final upward, all at one scale."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from analyser.angles import rotate
from analyser.report.pictures.parts import RINGS_M
from analyser.report.story.blocks import Drawing, Drawings, Sentence, distance

__all__ = ["Shown", "small_views"]

TOP_M: Final = 330.0  # what is drawn: from a little above the usual entry of a pattern down
BAR_M: Final = 100.0
LEAST_SIDE_M: Final = 300.0
MOST_SIDE_M: Final = 1200.0
RING_M: Final = RINGS_M[2]
Pair = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Shown:
    """One jump to draw: the words above and below the view, and its document."""

    title: Sentence
    note: Sentence
    document: Mapping[str, Any]


def small_views(jumps: Iterable[Shown]) -> Drawings | None:
    """The views of all jumps whose documents say where they flew; None where none does."""
    drawn = [found for jump in jumps if (found := _drawing(jump)) is not None]
    if not drawn:
        return None
    side = float(np.clip(max(size for _, size in drawn), LEAST_SIDE_M, MOST_SIDE_M))
    caption = Sentence(
        (
            "All at one scale, the bar is {bar}; the final goes upward. Solid: flown, every five seconds. Dashed: planned. Ring: {ring} about the "
            "target. Open marks: where the turns were planned. Dot: the landing."
        ),
        {"bar": distance(BAR_M), "ring": distance(RING_M)},
    )
    return Drawings(caption, tuple(view for view, _ in drawn), side, BAR_M)


def _drawing(jump: Shown) -> tuple[Drawing, float] | None:
    document = jump.document
    up = (document.get("pattern") or {}).get("landing_deg")
    way = _flown(document)
    if up is None or way is None:
        return None
    flown = _turned(way, up)
    plan = (document.get("plan") or {}).get("gates") or ()
    gates = _turned(np.array([(g["east_m"], g["north_m"]) for g in plan], dtype=float).reshape(-1, 2), up)
    angle = np.linspace(0.0, 2.0 * math.pi, 37)
    ring = tuple(zip((RING_M * np.sin(angle)).tolist(), (RING_M * np.cos(angle)).tolist(), strict=True))
    size = 0.6 * RING_M
    lines: list[tuple[str, tuple[Pair, ...]]] = [
        ("ring", ring),
        ("target", ((-size, 0.0), (size, 0.0))),
        ("target", ((0.0, -size), (0.0, size))),
    ]
    if gates:
        lines.append(("planned", (*gates, (0.0, 0.0))))
    lines.append(("flown", flown))
    dots = [("gate", x, y) for x, y in gates] + [("landing", *flown[-1])]
    seen = np.array([*flown, *gates, (-RING_M, -RING_M), (RING_M, RING_M)])
    middle = (seen.max(axis=0) + seen.min(axis=0)) / 2.0
    side = 1.12 * float(np.max(np.ptp(seen, axis=0)))
    return Drawing(
        jump.title, tuple(lines), tuple(dots), (float(middle[0]), float(middle[1])), jump.note
    ), side


def _flown(document: Mapping[str, Any]) -> NDArray[np.float64] | None:
    """East and north of the target (n, 2) [m] of the last part of the flight, with the landing; None where it is not known."""
    reach, landing = document.get("reach") or {}, document.get("landing") or {}
    samples, line = reach.get("samples") or {}, reach.get("wind_line_from_deg")
    if line is None or landing.get("bearing_deg") is None or not samples.get("agl_m"):
        return None
    columns = [
        np.array([np.nan if v is None else v for v in samples[k]]) for k in ("agl_m", "upwind_m", "right_m")
    ]
    height, upwind, right = columns
    use = np.isfinite(height + upwind + right) & (height <= TOP_M)
    angle = math.radians(line)
    east = upwind * math.sin(angle) + right * math.cos(angle)
    north = upwind * math.cos(angle) - right * math.sin(angle)
    bearing, offset = math.radians(landing["bearing_deg"]), landing["offset_m"]
    last = (offset * math.sin(bearing), offset * math.cos(bearing))
    return np.vstack([np.column_stack([east[use], north[use]]), last])


def _turned(places: NDArray[np.float64], up_deg: float) -> tuple[Pair, ...]:
    x, y = rotate(places[:, 0], places[:, 1], -up_deg)
    return tuple(zip(np.asarray(x).tolist(), np.asarray(y).tolist(), strict=True))
