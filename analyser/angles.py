"""Angles: compass degrees (clockwise from true north) against east/north vectors.

Winds are kept as vectors *to* which the air goes; ``from_deg`` is where the wind comes *from*,
the reporting convention of WMO-No. 8 (clockwise from geographic north).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "along_across",
    "bearing_text",
    "circular_mean_deg",
    "compass_deg",
    "opposite_deg",
    "rotate",
    "signed_difference_deg",
    "to_vector",
    "wind_from_deg",
    "wind_vector",
    "wrap_360",
]


def wrap_360(deg: ArrayLike) -> NDArray[np.float64]:
    """Degrees brought into 0 ≤ x < 360, any shape.

    >>> float(wrap_360(-90.0))
    270.0
    """
    wrapped = np.mod(np.asarray(deg, dtype=np.float64), 360.0)
    return np.where(wrapped >= 360.0, 0.0, wrapped)


def signed_difference_deg(a: ArrayLike, b: ArrayLike) -> NDArray[np.float64]:
    """``a - b`` the short way round, -180 ≤ x < 180 [deg], any shape; positive where ``a`` lies clockwise (right) of ``b``.

    >>> float(signed_difference_deg(10.0, 350.0))
    20.0
    """
    return np.mod(np.asarray(a, dtype=np.float64) - np.asarray(b, dtype=np.float64) + 180.0, 360.0) - 180.0


def compass_deg(east: ArrayLike, north: ArrayLike) -> NDArray[np.float64]:
    """Direction in which a vector points, degrees true; 0 for the null vector.

    >>> float(compass_deg(1.0, 1.0))
    45.0
    """
    return wrap_360(
        np.degrees(np.arctan2(np.asarray(east, dtype=np.float64), np.asarray(north, dtype=np.float64)))
    )


def to_vector(length: ArrayLike, direction_deg: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """East and north parts of a vector of ``length`` pointing *to* ``direction_deg``; unit and shape are those of ``length``.

    >>> [round(float(part), 3) for part in to_vector(10.0, 90.0)]
    [10.0, 0.0]
    """
    angle = np.radians(np.asarray(direction_deg, dtype=np.float64))
    size = np.asarray(length, dtype=np.float64)
    return size * np.sin(angle), size * np.cos(angle)


def wind_vector(speed: ArrayLike, from_deg: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """East and north velocity of the air for a wind of ``speed`` coming *from* ``from_deg`` (WMO-No. 8).

    >>> [round(float(part), 3) for part in wind_vector(10.0, 225.0)]
    [7.071, 7.071]
    """
    east, north = to_vector(speed, from_deg)
    return -east, -north


def wind_from_deg(east: ArrayLike, north: ArrayLike) -> NDArray[np.float64]:
    """Direction a wind comes *from* [deg true], for the velocity of the air (east, north); inverse of :func:`wind_vector`.

    >>> float(wind_from_deg(1.0, 0.0))
    270.0
    """
    return compass_deg(-np.asarray(east, dtype=np.float64), -np.asarray(north, dtype=np.float64))


def opposite_deg(deg: ArrayLike) -> NDArray[np.float64]:
    """The direction turned by 180°.

    >>> float(opposite_deg(300.0))
    120.0
    """
    return wrap_360(np.asarray(deg, dtype=np.float64) + 180.0)


def circular_mean_deg(deg: ArrayLike, weights: ArrayLike | None = None) -> float:
    """Mean direction (of the unit vectors), degrees true; NaN where they cancel out.

    >>> round(circular_mean_deg([350.0, 30.0]), 6)
    10.0
    """
    angle = np.radians(np.asarray(deg, dtype=np.float64))
    w = np.ones_like(angle) if weights is None else np.asarray(weights, dtype=np.float64)
    s, c = float(np.sum(w * np.sin(angle))), float(np.sum(w * np.cos(angle)))
    if math.hypot(s, c) < 1e-12 * float(np.sum(np.abs(w))):
        return math.nan
    return float(wrap_360(math.degrees(math.atan2(s, c))))


def along_across(
    east: ArrayLike, north: ArrayLike, toward_deg: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The parts of vectors along a direction and across it, to its right.

    >>> [round(float(part), 3) for part in along_across(3.0, 4.0, 90.0)]
    [3.0, -4.0]
    """
    across, along = rotate(east, north, -toward_deg)
    return along, across


def rotate(
    east: ArrayLike, north: ArrayLike, clockwise_deg: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The vectors turned clockwise by ``clockwise_deg``.

    >>> [round(float(part), 3) for part in rotate(0.0, 1.0, 90.0)]
    [1.0, 0.0]
    """
    angle = math.radians(clockwise_deg)
    e, n = np.asarray(east, dtype=np.float64), np.asarray(north, dtype=np.float64)
    return e * math.cos(angle) + n * math.sin(angle), -e * math.sin(angle) + n * math.cos(angle)


def bearing_text(deg: float | None, sd: float | None = None) -> str:
    """A direction as it is written everywhere: three digits 000…359, its error where there is one, ``–`` for none.

    >>> bearing_text(359.7, 4.2), bearing_text(None)
    ('000 ± 4°', '–')
    """
    if deg is None or not math.isfinite(deg):
        return "–"
    error = f" ± {sd:.0f}" if sd is not None and math.isfinite(sd) and sd > 0.0 else ""
    return f"{round(deg) % 360:03d}{error}°"
