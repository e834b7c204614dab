"""The events of a flight on its signals: fast falls, exit, deployment, steady canopy, landing, take-off."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from analyser.signals import Mask, Signals, Vector, bridge, moving_slope, runs, window_mean
from analyser.touchdown import find_touchdown

__all__ = [
    "Fall",
    "find_exit_without_fall",
    "find_falls",
    "find_landing",
    "find_takeoff",
    "steady_canopy",
    "top_of_flight",
    "touchdown_of_aeroplane",
]

_FAST = 15.0  # m/s down: faster than a canopy in straight flight, slower than any free fall
_SURE = 28.0  # m/s down: faster than a canopy in a spiral
_DROPS = 6.0  # m/s² downwards: let go, not banked into a spiral
_PLANE = 25.0  # m/s over ground


class Fall(NamedTuple):
    """A fast fall: indices of its first fix, of the deployment, and of the first fix of steady canopy flight."""

    start: int
    deployment: int
    steady: int


def top_of_flight(s: Signals) -> int:
    """The last fix within 15 m of the highest point, spikes aside."""
    top = float(np.max(0.5 * (s.h[:-1] + s.h[1:]))) if s.h.shape[0] > 1 else float(s.h[0])
    return int(np.flatnonzero(s.h > top - 15.0)[-1])


def _turned_deg(s: Signals, part: slice) -> float:
    east, north = np.gradient(s.e[part], s.t[part]), np.gradient(s.n[part], s.t[part])
    return float(np.degrees(np.ptp(np.unwrap(np.arctan2(east, north)))))


def _is_fall(s: Signals, start: int, stop: int) -> bool:
    """Whether a fast run is free fall and not a spiral, a glitch of the height or an aeroplane on its way down."""
    t0, t1 = float(s.t[start]), float(s.t[stop - 1])
    drop = float(s.h[max(start - 1, 0)] - s.h[min(stop, s.t.shape[0] - 1)])
    after = s.span(t1 + 6.0, t1 + 20.0)
    if drop < 25.0 or (after.stop > after.start and s.h[after].mean() > s.h[stop - 1] + 30.0):
        return False
    before = s.span(t0 - 12.0, t0 - 3.0)
    if after.stop > after.start and float(np.median(s.slow_speed[after])) > 1.6 * _PLANE:
        return False
    if float(np.max(s.sink[start:stop])) >= _SURE or before.stop - before.start < 2:
        return True
    under_canopy = float(np.median(s.sink[before])) > 2.0 and float(np.median(s.speed[before])) < _PLANE
    gained = float(np.max(moving_slope(s.t, s.sink, 0.8)[max(start - 3, 0) : stop]))
    return not under_canopy or gained > _DROPS or _turned_deg(s, slice(start, stop)) < 180.0


def steady_canopy(s: Signals, after: int, latest_s: float) -> int:
    """First fix from ``after`` on where the descent has come down to that of the following half minute."""
    t0 = float(s.t[after])
    later = s.span(t0 + 6.0, min(t0 + 30.0, latest_s))
    usual = float(np.median(s.sink[later])) if later.stop > later.start else 6.0
    limit = max(usual, 3.0) + max(1.5, 0.3 * usual)
    part = s.span(t0, min(t0 + 30.0, latest_s))
    calm = np.flatnonzero(s.sink[part] <= limit)
    return int(after + calm[0] if calm.size else min(after, s.t.shape[0] - 1))


def _deployment(s: Signals, start: int, stop: int) -> int:
    tail = s.span(float(s.t[stop - 1]) - 10.0, float(s.t[stop - 1]) + 0.01)
    first = max(tail.start, start)
    level = float(np.percentile(s.sink[first:stop], 75))
    return int(first + np.flatnonzero(s.sink[first:stop] >= 0.9 * level)[-1])


def _hidden_fall(s: Signals) -> Mask:
    """Fixes that are followed by a hole over which the height fell faster than a canopy falls."""
    dt = np.diff(s.t, append=s.t[-1] + 1.0)
    dh = -np.diff(s.h, append=s.h[-1])
    hidden: Mask = (dt > 4.0) & (dh > _FAST * dt)
    return hidden


def _leaves(s: Signals, fast: int, floor: int) -> int:
    """The fix from which the fall that is fast at ``fast`` began: the last one that sank no faster than before."""
    before = s.span(float(s.t[fast]) - 12.0, float(s.t[fast]) - 3.5)
    some = before.stop > max(before.start, floor)
    usual = float(np.median(s.sink[max(before.start, floor) : before.stop])) if some else 0.0
    slow = np.flatnonzero(s.sink[:fast] < (usual + 2.0 if usual > 2.0 else 3.0))
    return max(int(slow[-1]) if slow.size else 0, floor)


def find_falls(s: Signals, stop: int) -> tuple[Fall, ...]:
    """Every free fall before the fix ``stop``, in order; also one that a gap of the recording hides."""
    hole = _hidden_fall(s)
    found = bridge(runs((s.sink[:stop] > _FAST) | hole[:stop]), s.t, 2.5)
    falls: list[Fall] = []
    for a, b in found:
        if not _is_fall(s, a, b) or (falls and a <= falls[-1].steady):
            continue
        start = _leaves(s, a, falls[-1].steady if falls else 0)
        end_s = float(s.t[stop - 1]) + 0.01
        deployment = b if hole[b - 1] else _deployment(s, a, b)
        falls.append(Fall(start, deployment, steady_canopy(s, max(b - 1, deployment), end_s)))
    return tuple(falls)


def _speed_at(s: Signals, t: Vector) -> Vector:
    """Ground speed over four seconds around each of the times ``t``."""
    return window_mean(s.t, s.speed, 2.0)[np.clip(np.searchsorted(s.t, t), 0, s.t.shape[0] - 1)]


def find_exit_without_fall(s: Signals, landing: int) -> tuple[int, int] | None:
    """Exit and first steady canopy fix of a jump that has no free fall (static line): the aeroplane's speed is lost at height."""
    top = float(s.t[top_of_flight(s)])
    around = s.span(top - 20.0, top + 12.0)
    lost = _speed_at(s, s.t[around] - 6.0) - _speed_at(s, s.t[around] + 4.0)
    if lost.shape[0] == 0 or float(lost.max()) < 8.0:
        return None
    i = around.start + int(np.argmax(lost))
    if _speed_at(s, s.t[i : i + 1] - 6.0)[0] < 0.8 * _PLANE:
        return None
    near = s.span(float(s.t[i]) - 10.0, float(s.t[i]) + 6.0)
    usual = float(np.median(s.speed[s.span(float(s.t[i]) - 20.0, float(s.t[i]) - 6.0)])) if i > 3 else _PLANE
    still = np.flatnonzero(s.speed[near] > 0.93 * usual)
    start = near.start + int(still[-1]) if still.size else i
    later = s.span(float(s.t[start]) + 8.0, float(s.t[start]) + 30.0)
    if later.stop - later.start < 3 or s.h[start] - s.h[landing] < 100.0:
        return None
    level = s.sink[s.span(float(s.t[start]) - 12.0, float(s.t[start]) - 2.0)]
    if level.shape[0] == 0 or float(np.median(level)) > 1.5:
        return None
    if float(np.median(s.sink[later])) < 1.5 or float(np.median(s.speed[later])) > 1.1 * _PLANE:
        return None
    ahead = s.span(float(s.t[start]) + 1.0, float(s.t[start]) + 20.0)
    limit = 1.35 * max(float(np.median(s.speed[later])), 6.0)
    slowing = -moving_slope(s.t, s.speed, 1.5)[ahead]
    quiet = (s.speed[ahead] < limit) & (s.sink[ahead] < float(np.median(s.sink[later])) + 2.0)
    quiet &= slowing < 1.5
    calm = np.flatnonzero(quiet)
    return start, ahead.start + (int(calm[0]) if calm.size else 0)


def _quiet(s: Signals, seconds: float) -> Mask:
    """Fixes from which on the track neither sinks nor travels for ``seconds`` (shorter only at the end of the file)."""
    end = np.minimum(s.t + seconds, s.t[-1])
    dh = np.interp(end, s.t, s.h) - s.h
    de, dn = np.interp(end, s.t, s.e) - s.e, np.interp(end, s.t, s.n) - s.n
    length = np.maximum(end - s.t, 1e-6)
    enough = end - s.t >= 2.0
    still: Mask = enough & (np.abs(dh) < 0.7 * length) & (np.hypot(de, dn) < 3.5 * length)
    return still


def find_landing(s: Signals, start: int) -> tuple[float, float] | None:
    """Touchdown after the fix ``start``: (time, its standard deviation) [s], or None where the recording stops before."""
    quiet = _quiet(s, 8.0)
    quiet[:start] = False
    for a, b in runs(quiet):
        later = s.span(float(s.t[b - 1]), float(s.t[b - 1]) + 900.0)
        lost = float(s.h[a] - np.min(s.h[later])) if later.stop > later.start else 0.0
        if lost > 40.0 and float(np.max(s.slow_sink[later])) > 2.0 and float(s.t[b - 1] - s.t[a]) < 60.0:
            continue
        around = s.span(float(s.t[a]) - 12.0, float(s.t[a]) + 12.0)
        found = find_touchdown(s.t[around], s.e[around], s.n[around], s.h[around], float(s.t[a]))
        return found.t_s, found.sd_s
    return None


def find_takeoff(s: Signals, exit_: int) -> int:
    """First fix of the climb before the fix ``exit_``: where it leaves the ground; 0 where the recording starts in the air.

    The height rises with the square of the time at first: twice the square root of a height takes twice as long.
    """
    if exit_ < 3:
        return 0
    h = window_mean(s.t, s.h, 1.5)[:exit_]
    low = float(np.percentile(h, 2))
    up = np.flatnonzero(h > low + 60.0)
    first = int(up[0]) if up.size else exit_
    below = np.flatnonzero(h[:first] < low + 24.0)
    if below.size == 0 or (below[-1] < 3 and s.slow_speed[0] > 15.0):
        return 0
    last = int(below[-1])
    waiting = h[s.span(float(s.t[last]) - 40.0, float(s.t[last]) - 12.0)]
    ground = float(np.median(waiting)) if waiting.shape[0] > 3 else low
    quarter = np.flatnonzero(h[: last + 1] < ground + 0.25 * max(h[last] - ground, 4.0))
    if quarter.size == 0:
        return 0
    gone = s.speed[s.span(float(s.t[last]) + 15.0, float(s.t[last]) + 45.0)]
    taxiing = np.flatnonzero(s.speed[:last] < 0.75 * (float(np.median(gone)) if gone.shape[0] else _PLANE))
    rolling = float(s.t[taxiing[-1]]) if taxiing.size else float(s.t[0])
    lifted = max(2.0 * float(s.t[quarter[-1]]) - float(s.t[last]), rolling)
    return max(s.near(lifted), 1)


def touchdown_of_aeroplane(s: Signals, rest_s: float) -> float:
    """When an aeroplane that stands or taxies at ``rest_s`` came down to that level [s]."""
    level = s.h[s.span(rest_s, rest_s + 15.0)]
    if level.shape[0] == 0:
        return rest_s
    high = np.flatnonzero(window_mean(s.t, s.h, 2.0)[: s.near(rest_s)] > float(np.median(level)) + 8.0)
    if high.size == 0:
        return rest_s
    return min(float(s.t[high[-1]]) + 8.0 / max(float(s.slow_sink[high[-1]]), 1.0), rest_s)
