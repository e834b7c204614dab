"""Keep-out areas: which of them a path crosses below their height."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyser.frame import LocalFrame
from analyser.plan.thresholds import PLAN
from analyser.settings import KeepOut

__all__ = ["crossed", "inside", "to_edge_m"]

Vector = NDArray[np.float64]


def inside(east_m: ArrayLike, north_m: ArrayLike, polygon: Vector) -> NDArray[np.bool_]:
    """Which points (n,) lie inside a polygon (k, 2) of east, north [m]: even-odd rule on a ray to the east."""
    x, y = (
        np.atleast_1d(np.asarray(east_m, float))[:, None],
        np.atleast_1d(np.asarray(north_m, float))[:, None],
    )
    x0, y0 = polygon[:, 0], polygon[:, 1]
    x1, y1 = np.roll(x0, -1), np.roll(y0, -1)
    spans = (y0 > y) != (y1 > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        cut = x0 + (y - y0) / (y1 - y0) * (x1 - x0)
    return np.asarray(np.count_nonzero(spans & (x < cut), axis=1) % 2 == 1)


def to_edge_m(east_m: float, north_m: float, polygon: Vector) -> float:
    """How far a point lies inside a polygon (k, 2) of east, north [m]: to its nearest edge, negative outside [m]."""
    start = polygon
    along = np.roll(polygon, -1, axis=0) - start
    way = np.array([east_m, north_m]) - start
    length = np.maximum(np.sum(along**2, axis=1), 1e-12)
    share = np.clip(np.sum(way * along, axis=1) / length, 0.0, 1.0)
    distance = float(np.min(np.hypot(*(way - share[:, None] * along).T)))
    return distance if bool(inside(east_m, north_m, polygon)[0]) else -distance


def crossed(
    areas: Iterable[KeepOut],
    frame: LocalFrame,
    path: Sequence[tuple[float, float, float]],
    *,
    margin_m: float = 0.0,
) -> tuple[str, ...]:
    """Names of the areas that a path of (east, north, agl) [m] in ``frame`` enters below their height plus ``margin_m``."""
    areas = tuple(areas)
    if not areas or not path:
        return ()
    east, north, agl = _dense(np.asarray(path, dtype=np.float64))
    found = []
    for area in areas:
        corners = np.asarray(area.polygon, dtype=np.float64)
        polygon = np.stack(frame.to_local(corners[:, 0], corners[:, 1]), axis=1)
        if bool(np.any(inside(east, north, polygon) & (agl < area.below_m + margin_m))):
            found.append(area.name)
    return tuple(found)


def _dense(path: Vector) -> tuple[Vector, Vector, Vector]:
    """The path with a point every few metres, so that a narrow area is not stepped over."""
    if path.shape[0] < 2:
        return path[:, 0], path[:, 1], path[:, 2]
    length = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(path[:, 0]), np.diff(path[:, 1])))])
    length += np.arange(length.shape[0]) * 1e-9
    at = np.union1d(length, np.arange(0.0, length[-1], PLAN.area_step_m))
    east, north, agl = (np.interp(at, length, path[:, i]) for i in range(3))
    return east, north, agl
