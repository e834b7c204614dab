"""Flights in which nobody left an aircraft: on wheels, skis, ropes and rails, and in wings that soar; one line why."""

from __future__ import annotations

import numpy as np

from analyser.phases.signals import Signals, Vector, moving_slope, runs, window_mean
from analyser.phases.thresholds import PHASES

__all__ = ["leaps", "why_no_canopy", "why_no_exit", "why_on_rails"]


def leaps(t: Vector, h: Vector) -> Vector:
    """Changes of height [m] (n - 1,) between fixes that are faster than any fall or climb; 0 where they are not. ``t`` [s], ``h`` [m]."""
    dh, dt = np.diff(h), np.diff(t)
    wild = (np.abs(dh) > PHASES.leap_m) & (np.abs(dh) > PHASES.leap_mps * dt)
    return np.asarray(np.where(wild, dh, 0.0))


def why_no_exit(s: Signals, top: int, stop: int) -> str:
    """Why a descent without a free fall, from the fix ``top`` to ``stop``, was begun without an aircraft; "" where it may have been."""
    wild = leaps(s.t[:stop], s.h[:stop])
    if wild.any():
        return (
            f"the heights leap by {np.abs(wild).max():.0f} m between two fixes, and there is no exit: no jump"
        )
    flown = s.slow_speed[s.span(float(s.t[top]) - PHASES.flown_s, float(s.t[top]))]
    if flown.size > 5 and float(np.median(flown)) > 0.9 * PHASES.plane_mps:
        return ""
    still = (s.slow_speed[: top + 1] < 3.0) & (np.abs(s.slow_sink[: top + 1]) < 1.0)
    if still.any():
        return "the way down begins at rest, with no exit from an aircraft: launched on foot, or a track on the ground"
    risen = float(s.h[top] - s.h[: top + 1].min())
    if risen > PHASES.climbs_m and float(np.median(s.slow_speed[: top + 1])) < 0.8 * PHASES.plane_mps:
        return f"a climb of {risen:.0f} m at {np.median(s.slow_speed[: top + 1]):.0f} m/s over ground and no exit: no aircraft of jumpers"
    return ""


def why_no_canopy(s: Signals, start: int, stop: int) -> str:
    """Why the descent ``start:stop`` was flown under no sport canopy, or on the ground; "" where it may have been flown under one."""
    t, h = s.t[start:stop], window_mean(s.t, s.h, 4.0)[start:stop]
    lasted = float(t[-1] - t[0]) if t.size > 1 else 0.0
    if lasted < PHASES.least_descent_s:
        return ""
    gain = float(np.max(h - np.minimum.accumulate(h)))
    if gain > PHASES.gains_m:
        return f"it climbs by {gain:.0f} m on the way down: no flight under a sport canopy"
    standing = _stands(s, start, stop)
    if standing > 0.0:
        return f"it hardly moves for {standing:.0f} s on the way down: a track on the ground"
    held = _held_up_m(t, h)
    if held < PHASES.loiters_m:
        return f"it goes down by only {held:.0f} m in {PHASES.loiters_s:.0f} s on the way: no sport canopy, and no exit is seen"
    sink = float(h[0] - h[-1]) / lasted
    glide = float(np.median(s.speed[start:stop])) / max(sink, 0.01)
    if sink < PHASES.least_sink_mps or (glide > PHASES.flattest and sink < 2.0 * PHASES.least_sink_mps):
        return f"it goes down by {sink:.1f} m/s, {glide:.1f} m along for each: no sport canopy, and no exit is seen"
    return ""


def why_on_rails(s: Signals, start: int, stop: int) -> str:
    """Why the descent ``start:stop`` is one on a rope or a rail; "" where it may be flown."""
    lasted = float(s.t[stop - 1] - s.t[start]) if stop > start else 0.0
    if lasted > PHASES.rail_s and _off_the_line(s, start, stop) < PHASES.rail_mps * min(lasted, 130.0):
        return "the way down keeps to one straight line over the ground, with no exit: a rope or a rail"
    if lasted > PHASES.never_s and _sharpest_deg(s, start, stop) < PHASES.turns_deg:
        return f"no turn in {lasted:.0f} s of the way down, and no exit: a rope or a rail"
    return ""


def _held_up_m(t: Vector, h: Vector) -> float:
    """The least height [m] lost within ``PHASES.loiters_s`` on the way from ``h[0]`` to ``h[-1]``, the ends left out."""
    since = np.arange(float(t[0]) + 5.0, float(t[-1]) - PHASES.loiters_s - 5.0)
    if since.size == 0:
        return float("inf")
    lost = np.interp(since, t, h) - np.interp(since + PHASES.loiters_s, t, h)
    return max(float(lost.min()), 0.0)


def _stands(s: Signals, start: int, stop: int) -> float:
    """The longest time [s] at rest with height still to lose, over the fixes ``start:stop``; 0 where it never rests."""
    level = np.abs(moving_slope(s.t, s.h, 2.0)) < PHASES.stands_sink_mps
    rests = (s.speed < PHASES.stands_mps) & level
    rests[: start + 1] = rests[stop:] = False
    rests &= s.h - s.h[min(stop, s.h.shape[0] - 1)] > PHASES.left_m
    longest = max((float(s.t[b - 1] - s.t[a]) for a, b in runs(rests)), default=0.0)
    return longest if longest >= PHASES.stands_s else 0.0


def _sharpest_deg(s: Signals, start: int, stop: int) -> float:
    """The largest change of direction over the ground [deg] within ten seconds; infinite where it hardly moves."""
    t = np.arange(float(s.t[start]) + PHASES.turns_s, float(s.t[stop - 1]) - 2.0 * PHASES.turns_s, 1.0)
    e, n = (
        np.interp([t - 0.5 * PHASES.turns_s, t, t + 0.5 * PHASES.turns_s, t + PHASES.turns_s], s.t, y)
        for y in (s.e, s.n)
    )
    before, after = (e[1] - e[0] + 1j * (n[1] - n[0])), (e[3] - e[2] + 1j * (n[3] - n[2]))
    if t.size == 0 or float(np.min(np.abs(before))) < 5.0:
        return float("inf")
    return float(np.degrees(np.max(np.abs(np.angle(after / before)))))


def _off_the_line(s: Signals, start: int, stop: int) -> float:
    """Distance [m] from the straight line between both ends that a tenth of the fixes exceed."""
    e, n = s.e[start:stop] - s.e[start], s.n[start:stop] - s.n[start]
    length = float(np.hypot(e[-1], n[-1]))
    if length < PHASES.least_line_m:
        return float("inf")
    return float(np.percentile(np.abs(e * n[-1] - n * e[-1]) / length, 90))
