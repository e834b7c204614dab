"""Leaps of the receiver's clock while it went on recording, undone where place and height show that no time was lost."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from analyser.frame import apart_m
from analyser.importers.recording import Note

__all__ = ["ROLLOVER_S", "distance_m", "undo_leaps"]

Vector = NDArray[np.float64]
Index = NDArray[np.intp]
Flags = NDArray[np.bool_]

ROLLOVER_S: Final = 1024 * 7 * 86400.0  # the GPS week counter has ten bits (IS-GPS-200)
_HOUR_S: Final = 3600.0
_NAMED_S: Final = (_HOUR_S, 2 * _HOUR_S, 12 * _HOUR_S, 24 * _HOUR_S, ROLLOVER_S)
_NEAR_M: Final = 300.0  # ours: a place from which the recording can have gone on after a shift of the clock
_LONG_BACK_S: Final = 30.0  # ours: a shorter step back is a correction of seconds, not of the hour
_LONG_ON_S: Final = 300.0  # ours: a shorter step on is a gap
_MOVES_S, _MOVING_MPS, _NOISE_M = (
    2.0,
    2.5,
    1.0,
)  # ours: slower than that in space is no flight, and a fix is off by less
_MOST: Final = 30  # ours: a file with more leaps has no clock to be mended


def distance_m(lat: Vector, lon: Vector, a: Index, b: Index) -> Vector:
    """Distances [m] between fixes ``a`` and ``b``, on a sphere and for short ways, across ±180° too."""
    return apart_m(lat[a], lon[a], lat[b], lon[b])


def undo_leaps(time: Vector, lat: Vector, lon: Vector, altitude: Vector) -> tuple[Vector, tuple[Note, ...]]:
    """Times (n,) in file order with leaps taken out, and a note that counts them. The greater part of the fixes keeps its
    time; after a rollover of the week counter the later part does."""
    steps = np.diff(time)
    leaps = np.flatnonzero((steps < 0.0) | (steps > _LONG_ON_S))
    if leaps.size == 0 or leaps.size > _MOST or not np.any(steps > 0):
        return time, ()
    typical = float(np.median(steps[steps > 0]))
    away = distance_m(lat, lon, leaps, leaps + 1)
    goes_on = _goes_on(time, lat, lon, altitude, leaps, typical)
    repeated = _repeated(time, lat, lon)
    change, offset = np.zeros(time.size), 0.0
    ahead: list[int] = []  # leaps on in time that may have been a gap
    for i, apart, smooth in zip(leaps.tolist(), away.tolist(), goes_on.tolist()):
        step = float(steps[i])
        returns = offset != 0.0 and abs(step - offset) < 90.0
        if repeated[i + 1] or apart > _NEAR_M:
            continue
        if -_LONG_BACK_S <= step < 0.0:
            shift = typical - step if smooth and not _was_ahead(time, i, typical) else 0.0
        elif returns:
            shift = -offset
        elif step < 0.0 and any(0.0 < time[i + 1] - time[j] < _LONG_ON_S for j in ahead):
            continue  # back from a stray stretch, which is left to be dropped
        elif step < 0.0 or smooth or abs(step - ROLLOVER_S) < 86400.0:
            shift = _shift(step, typical)
        else:
            ahead.append(i)
            continue
        change[i + 1] = shift
        offset += shift
    return _based(time, change)


def _based(time: Vector, change: Vector) -> tuple[Vector, tuple[Note, ...]]:
    count = int(np.count_nonzero(change))
    if count == 0:
        return time, ()
    total = np.cumsum(change)
    values, sizes = np.unique(total, return_counts=True)
    rolled = np.any(np.abs(np.abs(change) - ROLLOVER_S) < 1.0)
    base = total[-1] if rolled else values[np.argmax(sizes)]
    hours = float(np.max(np.abs(change))) / _HOUR_S
    text = f"the receiver's clock leapt while it went on recording, {count} times (by up to {hours:.3g} h); undone"
    return time + total - base, (Note("clock-shift", text, count),)


def _shift(step: float, typical: float) -> float:
    """What to add after a leap: a round amount where the leap is near one, else what leaves one usual interval."""
    for named in _NAMED_S:
        rest = step + named if step < 0 else step - named
        if 0.0 < rest < 90.0:
            return named if step < 0 else -named
    return typical - step


def _was_ahead(time: Vector, i: int, typical: float) -> bool:
    """Whether the clock had run ahead shortly before it stepped back: then the fixes between are the wrong ones."""
    first = i
    while first > 0 and i - first < 1000 and time[first - 1] > time[i + 1] and time[first - 1] < time[first]:
        first -= 1
    recent = np.diff(time[max(first - 1, 0) : i + 1])
    return bool(np.any(recent > max(3.0 * typical, 0.5 * (time[i] - time[i + 1]))))


def _repeated(time: Vector, lat: Vector, lon: Vector) -> Flags:
    """Fixes whose time and place have both occurred before in the file."""
    rows = np.stack([time, lat, lon], axis=1)
    _, first, inverse = np.unique(rows, axis=0, return_index=True, return_inverse=True)
    return np.asarray(first[inverse.ravel()] != np.arange(time.size))


def _goes_on(time: Vector, lat: Vector, lon: Vector, altitude: Vector, leaps: Index, typical: float) -> Flags:
    """Whether the fixes on both sides of each leap move (level or in height), and the way across is like theirs.

    They move by what they do in two seconds: from fix to fix the noise of ten fixes a second is larger than the way.
    """

    def way(a: Index, b: Index) -> Vector:
        return np.hypot(distance_m(lat, lon, a, b), np.nan_to_num(altitude[b] - altitude[a], nan=0.0))

    def speed(a: Index, b: Index) -> Vector:
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(way(a, b) / (time[b] - time[a]))

    some = max(int(_MOVES_S / typical + 1e-6), 1)
    before, after = np.maximum(leaps - some, 0), np.minimum(leaps + 1 + some, time.size - 1)
    longest = 2.0 * some * typical
    plain = (time[leaps] > time[before]) & (time[leaps] - time[before] <= longest)
    before = np.where(plain, before, np.maximum(leaps - 1, 0))
    plain = (time[after] > time[leaps + 1]) & (time[after] - time[leaps + 1] <= longest)
    after = np.where(plain, after, np.minimum(leaps + 2, time.size - 1))
    speed_in, speed_out, across = speed(before, leaps), speed(leaps + 1, after), way(leaps, leaps + 1)
    usual = np.maximum(speed_in, speed_out) * typical
    moving = np.minimum(speed_in, speed_out) > _MOVING_MPS
    return np.asarray(moving & (across < 2.5 * usual + _NOISE_M) & (across > 0.2 * usual))
