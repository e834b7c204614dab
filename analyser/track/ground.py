"""Where the recording rests on the ground: the level of the landing area and of the take-off, and the flight between."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

__all__ = ["Ground", "Rest", "find_ground", "flight_span"]

Vector = NDArray[np.float64]

REST_SPEED_MPS = 2.0  # ours: a person who stands or collects a canopy; walking is faster
REST_CLIMB_MPS = 0.8  # ours: a canopy into strong wind stands still over the ground, but sinks
REST_S = 4.0  # ours: shorter stretches are chance
REST_USED_S = 60.0  # ours: of a long rest only this much, nearest to the flight, sets the level (drift)
FLIGHT_HEIGHT_M = 60.0  # ours: a rise or a fall of less is a walk, a hill or drift
ROLL_SPEED_MPS = 15.0  # ours: an aeroplane taxiing
ROLL_S = 10.0
SHORT_REST_S = 3.0


@dataclass(frozen=True, slots=True)
class Rest:
    """A stretch at rest: fixes ``start:stop``, median altitude [m] (NaN without), its sd [m], mean place [m]."""

    start: int
    stop: int
    level_m: float
    sd_m: float
    east_m: float
    north_m: float


@dataclass(frozen=True, slots=True)
class Ground:
    """The rests on either side of the flight (None where not recorded) and the flight ``start:stop`` between."""

    before: Rest | None
    after: Rest | None
    flight: tuple[int, int]

    @property
    def difference_m(self) -> float:
        """Level after the landing minus level before take-off; NaN where one is missing."""
        if self.before is None or self.after is None:
            return math.nan
        return self.after.level_m - self.before.level_m

    @property
    def same_place(self) -> bool:
        """Take-off and landing lie close enough to each other and in height for one field (ours: 1500 m, 60 m)."""
        if self.before is None or self.after is None:
            return False
        apart = math.hypot(self.after.east_m - self.before.east_m, self.after.north_m - self.before.north_m)
        return apart <= 1500.0 and not abs(self.difference_m) > 60.0


def flight_span(altitude: Vector) -> tuple[int, int] | None:
    """Fixes ``start:stop`` between which the height changes by more than 60 m; None where it never does.

    ``start`` is the last fix within 6 m of the lowest (or highest) before the first such change, ``stop - 1`` the last
    fix that lies more than 60 m above something that follows it.
    """
    known = np.flatnonzero(np.isfinite(altitude))
    if known.size < 2:
        return None
    z = altitude[known]
    lowest, highest = np.minimum.accumulate(z), np.maximum.accumulate(z)
    moved = np.flatnonzero((z - lowest > FLIGHT_HEIGHT_M) | (highest - z > FLIGHT_HEIGHT_M))
    if moved.size == 0:
        return None
    first = int(moved[0])
    rises = z[first] - lowest[first] > FLIGHT_HEIGHT_M
    near = z[: first + 1] <= lowest[first] + 6.0 if rises else z[: first + 1] >= highest[first] - 6.0
    start = int(np.flatnonzero(near)[-1])
    lowest_after = np.minimum.accumulate(z[::-1])[::-1]
    falling = np.flatnonzero(z - lowest_after > FLIGHT_HEIGHT_M)
    stop = int(falling[-1]) + 1 if falling.size else z.size
    return int(known[start]), int(known[max(start, stop - 1)]) + 1


def _runs(flag: NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.diff(np.concatenate([[0], flag.astype(np.int8), [0]]))
    return list(zip(np.flatnonzero(edges == 1).tolist(), np.flatnonzero(edges == -1).tolist()))


def find_ground(
    t: Vector, east: Vector, north: Vector, altitude: Vector, velocity: tuple[Vector, Vector, Vector]
) -> Ground:
    """The rests before and after the flight. ``velocity`` (east, north, up) [m/s]; NaN climb counts as none.

    After: the first rest that follows the last descent; without any change of height the last rest of all. Before: the last rest
    ahead of the first rise; a level roll of 10 s serves where the receiver never stood still.
    """
    speed = np.hypot(velocity[0], velocity[1])
    level = np.abs(np.nan_to_num(velocity[2], nan=0.0)) < REST_CLIMB_MPS
    still = level & (speed < REST_SPEED_MPS)

    def rest(low: int, high: int, flag: NDArray[np.bool_], seconds: float, *, last: bool) -> Rest | None:
        runs = [(low + a, low + b) for a, b in _runs(flag[low:high])]
        runs = [(a, b) for a, b in runs if t[b - 1] - t[a] >= seconds]
        if not runs:
            return None
        a, b = runs[-1] if last else runs[0]
        if last:
            a = max(a, int(np.searchsorted(t, t[b - 1] - REST_USED_S)))
        else:
            b = min(b, int(np.searchsorted(t, t[a] + REST_USED_S)) + 1)
        return _rest(a, b, t, east, north, altitude)

    span = flight_span(altitude)
    if span is None:
        return Ground(None, rest(0, t.size, still, REST_S, last=True), (0, t.size))
    start, stop = span
    before = rest(0, start + 1, still, REST_S, last=True)
    if before is None:
        before = rest(0, start + 1, level & (speed < ROLL_SPEED_MPS), ROLL_S, last=True)
    after = rest(stop - 1, t.size, still, REST_S, last=False)
    if after is None:
        after = _short_rest(stop, t, east, north, altitude)
    return Ground(before, after, (start, after.start if after else t.size))


def _short_rest(stop: int, t: Vector, east: Vector, north: Vector, altitude: Vector) -> Rest | None:
    """The last three seconds, where a descent ends in them within a few metres: the recording stopped on touchdown."""
    a = max(int(np.searchsorted(t, t[-1] - SHORT_REST_S - 1e-6)), stop - 1)
    apart = float(np.hypot(east[-1] - east[a], north[-1] - north[a]))
    sunk = abs(float(altitude[-1] - altitude[a]))
    if t[-1] - t[a] < 0.6 * SHORT_REST_S or apart > 6.0 or not sunk < 4.0:
        return None
    found = _rest(a, t.size, t, east, north, altitude)
    return replace(found, sd_m=math.hypot(found.sd_m, 2.0))


def _rest(a: int, b: int, t: Vector, east: Vector, north: Vector, altitude: Vector) -> Rest:
    z = altitude[a:b][np.isfinite(altitude[a:b])]
    level = float(np.median(z)) if z.size else math.nan
    return Rest(
        a,
        b,
        level,
        _level_sd(z, float(t[b - 1] - t[a])),
        float(np.mean(east[a:b])),
        float(np.mean(north[a:b])),
    )


def _level_sd(z: Vector, seconds: float) -> float:
    """Standard error of a level from ``z``: the noise is taken as correlated over 5 s (ours), never below 0.3 m."""
    if z.size == 0:
        return math.nan
    scatter = 1.4826 * float(np.median(np.abs(z - np.median(z)))) + 0.3
    return max(0.3, scatter / math.sqrt(max(1.0, seconds / 5.0)))
