"""Flights in which nobody left an aircraft: on wheels, skis, ropes and rails, and in wings that soar; one line why."""

from __future__ import annotations

import numpy as np

from analyser.phases.ground_events import PLANE_MPS
from analyser.phases.signals import Signals, Vector, moving_slope, runs, window_mean

__all__ = ["leaps", "why_no_canopy", "why_no_exit", "why_on_rails"]

# Ours, each well beyond what sport canopies, receivers and lifts to altitude do.
_LEAP_M, _LEAP_MPS = (
    100.0,
    90.0,
)  # a fall ends at 54 to 72 m/s (uspa.org, SIM 6-3); no aircraft of jumpers climbs faster
_CLIMBS_M, _GAINS_M = 60.0, 35.0  # before the descent; in it
_FLATTEST, _LEAST_SINK_MPS = (
    4.6,
    1.9,
)  # glide and sink of the whole descent; trade figures: 2 to 3.5, and 3 to 8 m/s
_STANDS_S, _STANDS_MPS, _STANDS_SINK, _LEFT_M = 3.0, 2.5, 0.8, 25.0
_FLOWN_S = 180.0
_LOITERS_M, _LOITERS_S = 28.0, 20.0  # less height than any canopy loses in that time, deep brakes included
_RAIL_MPS, _RAIL_S = 0.06, 45.0  # no canopy keeps to a line like that for that long
_TURNS_DEG, _TURNS_S, _NEVER_S = 25.0, 10.0, 150.0  # nobody flies down so long without a turn


def leaps(t: Vector, h: Vector) -> Vector:
    """Changes of height [m] (n - 1,) between fixes that are faster than any fall or climb; 0 where they are not. ``t`` [s], ``h`` [m]."""
    dh, dt = np.diff(h), np.diff(t)
    wild = (np.abs(dh) > _LEAP_M) & (np.abs(dh) > _LEAP_MPS * dt)
    return np.asarray(np.where(wild, dh, 0.0))


def why_no_exit(s: Signals, top: int, stop: int) -> str:
    """Why a descent without a free fall, from the fix ``top`` to ``stop``, was begun without an aircraft; "" where it may have been."""
    wild = leaps(s.t[:stop], s.h[:stop])
    if wild.any():
        return (
            f"the heights leap by {np.abs(wild).max():.0f} m between two fixes, and there is no exit: no jump"
        )
    flown = s.slow_speed[s.span(float(s.t[top]) - _FLOWN_S, float(s.t[top]))]
    if flown.size > 5 and float(np.median(flown)) > 0.9 * PLANE_MPS:
        return ""
    still = (s.slow_speed[: top + 1] < 3.0) & (np.abs(s.slow_sink[: top + 1]) < 1.0)
    if still.any():
        return "the way down begins at rest, with no exit from an aircraft: launched on foot, or a track on the ground"
    risen = float(s.h[top] - s.h[: top + 1].min())
    if risen > _CLIMBS_M and float(np.median(s.slow_speed[: top + 1])) < 0.8 * PLANE_MPS:
        return f"a climb of {risen:.0f} m at {np.median(s.slow_speed[: top + 1]):.0f} m/s over ground and no exit: no aircraft of jumpers"
    return ""


def why_no_canopy(s: Signals, start: int, stop: int) -> str:
    """Why the descent ``start:stop`` was flown under no sport canopy, or on the ground; "" where it may have been flown under one."""
    t, h = s.t[start:stop], window_mean(s.t, s.h, 4.0)[start:stop]
    lasted = float(t[-1] - t[0]) if t.size > 1 else 0.0
    if lasted < 20.0:
        return ""
    gain = float(np.max(h - np.minimum.accumulate(h)))
    if gain > _GAINS_M:
        return f"it climbs by {gain:.0f} m on the way down: no flight under a sport canopy"
    standing = _stands(s, start, stop)
    if standing > 0.0:
        return f"it hardly moves for {standing:.0f} s on the way down: a track on the ground"
    held = _held_up_m(t, h)
    if held < _LOITERS_M:
        return f"it goes down by only {held:.0f} m in {_LOITERS_S:.0f} s on the way: no sport canopy, and no exit is seen"
    sink = float(h[0] - h[-1]) / lasted
    glide = float(np.median(s.speed[start:stop])) / max(sink, 0.01)
    if sink < _LEAST_SINK_MPS or (glide > _FLATTEST and sink < 2.0 * _LEAST_SINK_MPS):
        return f"it goes down by {sink:.1f} m/s, {glide:.1f} m along for each: no sport canopy, and no exit is seen"
    return ""


def why_on_rails(s: Signals, start: int, stop: int) -> str:
    """Why the descent ``start:stop`` is one on a rope or a rail; "" where it may be flown."""
    lasted = float(s.t[stop - 1] - s.t[start]) if stop > start else 0.0
    if lasted > _RAIL_S and _off_the_line(s, start, stop) < _RAIL_MPS * min(lasted, 130.0):
        return "the way down keeps to one straight line over the ground, with no exit: a rope or a rail"
    if lasted > _NEVER_S and _sharpest_deg(s, start, stop) < _TURNS_DEG:
        return f"no turn in {lasted:.0f} s of the way down, and no exit: a rope or a rail"
    return ""


def _held_up_m(t: Vector, h: Vector) -> float:
    """The least height [m] lost within ``_LOITERS_S`` on the way from ``h[0]`` to ``h[-1]``, the ends left out."""
    since = np.arange(float(t[0]) + 5.0, float(t[-1]) - _LOITERS_S - 5.0)
    if since.size == 0:
        return float("inf")
    lost = np.interp(since, t, h) - np.interp(since + _LOITERS_S, t, h)
    return max(float(lost.min()), 0.0)


def _stands(s: Signals, start: int, stop: int) -> float:
    """The longest time [s] at rest with height still to lose, over the fixes ``start:stop``; 0 where it never rests."""
    level = np.abs(moving_slope(s.t, s.h, 2.0)) < _STANDS_SINK
    rests = (s.speed < _STANDS_MPS) & level
    rests[: start + 1] = rests[stop:] = False
    rests &= s.h - s.h[min(stop, s.h.shape[0] - 1)] > _LEFT_M
    longest = max((float(s.t[b - 1] - s.t[a]) for a, b in runs(rests)), default=0.0)
    return longest if longest >= _STANDS_S else 0.0


def _sharpest_deg(s: Signals, start: int, stop: int) -> float:
    """The largest change of direction over the ground [deg] within ten seconds; infinite where it hardly moves."""
    t = np.arange(float(s.t[start]) + _TURNS_S, float(s.t[stop - 1]) - 2.0 * _TURNS_S, 1.0)
    e, n = (np.interp([t - 0.5 * _TURNS_S, t, t + 0.5 * _TURNS_S, t + _TURNS_S], s.t, y) for y in (s.e, s.n))
    before, after = (e[1] - e[0] + 1j * (n[1] - n[0])), (e[3] - e[2] + 1j * (n[3] - n[2]))
    if t.size == 0 or float(np.min(np.abs(before))) < 5.0:
        return float("inf")
    return float(np.degrees(np.max(np.abs(np.angle(after / before)))))


def _off_the_line(s: Signals, start: int, stop: int) -> float:
    """Distance [m] from the straight line between both ends that a tenth of the fixes exceed."""
    e, n = s.e[start:stop] - s.e[start], s.n[start:stop] - s.n[start]
    length = float(np.hypot(e[-1], n[-1]))
    if length < 100.0:
        return float("inf")
    return float(np.percentile(np.abs(e * n[-1] - n * e[-1]) / length, 90))
