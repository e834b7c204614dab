"""The events in the air on the signals of a flight: fast falls, exit, deployment, steady canopy."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from analyser.atmosphere import G_MPS2
from analyser.phases.no_exit import leaps
from analyser.phases.signals import Edges, Mask, Signals, Vector, bridge, moving_slope, runs, window_mean
from analyser.phases.thresholds import PHASES

__all__ = ["Fall", "Moment", "fall_times", "find_exit_without_fall", "find_falls", "top_of_flight"]


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
    """By how much [deg] the way over the ground turns in all, seen once a second."""
    t = np.arange(float(s.t[part.start]), float(s.t[max(part.stop - 1, part.start)]), 1.0)
    if t.size < 4:
        return 0.0
    east, north = (np.diff(np.interp(t, s.t, window_mean(s.t, y, 0.5))) for y in (s.e, s.n))
    return float(np.degrees(np.ptp(np.unwrap(np.arctan2(east, north)))))


def _is_fall(s: Signals, start: int, stop: int) -> bool:
    """Whether a fast run is free fall and not a spiral, a glitch of the height or an aeroplane on its way down."""
    t0, t1 = float(s.t[start]), float(s.t[stop - 1])
    drop = float(s.h[max(start - 1, 0)] - s.h[min(stop, s.t.shape[0] - 1)])
    after = s.span(t1 + 6.0, t1 + 20.0)
    if drop < PHASES.least_drop_m or (after.stop > after.start and s.h[after].mean() > s.h[stop - 1] + 30.0):
        return False
    if _is_a_leap(s, start, stop):
        return False
    before = s.span(t0 - 12.0, t0 - 3.0)
    if after.stop > after.start and float(np.median(s.slow_speed[after])) > 1.6 * PHASES.plane_mps:
        return False
    if _ends_on_the_ground(s, stop):
        return False
    minute = s.span(t0 - 60.0, t0 - 3.0)
    slow = minute.stop > minute.start and float(np.median(s.speed[minute])) < PHASES.slow_wing_mps
    if slow and _comes_back(s, start, stop, drop):
        return False
    if float(np.max(s.sink[start:stop])) >= PHASES.sure_mps or before.stop - before.start < 2:
        return True
    gained = float(np.max(_slope_of_sink(s, max(start - 3, 0), stop)))
    if slow:
        return gained > PHASES.drops_mps2 and _turned_deg(s, slice(start, stop)) < 360.0
    under_canopy = (
        float(np.median(s.sink[before])) > 2.0 and float(np.median(s.speed[before])) < PHASES.plane_mps
    )
    return not under_canopy or gained > PHASES.drops_mps2 or _turned_deg(s, slice(start, stop)) < 180.0


def _is_a_leap(s: Signals, start: int, stop: int) -> bool:
    """Whether the fast run is the height leaping or dying away after a leap: with no aircraft before it, or by its shape."""
    n = s.t.shape[0]
    leapt = leaps(s.t, s.h)[: min(stop + 1, n)]
    if not leapt[np.searchsorted(s.t, s.t[start] - PHASES.leapt_s) :].any():
        return False
    before = s.speed[s.span(float(s.t[start]) - 60.0, float(s.t[start]) - 5.0)]
    if before.shape[0] == 0 or float(np.median(before)) < PHASES.plane_mps:
        return True
    tame = float(np.max(s.sink[start:stop])) < PHASES.sure_mps
    if tame and float(np.max(_slope_of_sink(s, max(start - 3, 0), stop))) < PHASES.drops_mps2:
        return True
    begins = bool(leapt[np.searchsorted(s.t, s.t[start] - 12.0) : start + 3].any())
    third = max((stop - start) // 3, 1)
    fades = float(np.median(s.sink[start : start + third])) > 1.2 * float(
        np.median(s.sink[stop - third : stop])
    )
    falls = float(s.h[max(start - 1, 0)] - s.h[min(stop, n - 1)])
    return (begins and fades) or -float(leapt[max(start - 1, 0) :].sum()) > 0.5 * falls


def _comes_back(s: Signals, start: int, stop: int, drop: float) -> bool:
    """Whether a height that shot up just before the fast run is back where it was after it: a spike."""
    t0 = float(s.t[start])
    rise = s.span(t0 - 30.0, t0 + 1.0)
    fast = np.flatnonzero(s.sink[rise] < -PHASES.climbs_mps)
    if fast.size == 0:
        return False
    base = float(s.h[max(rise.start + int(fast[0]) - 2, 0)])
    return abs(float(s.h[min(stop, s.t.shape[0] - 1)]) - base) < 0.2 * drop


def _slope_of_sink(s: Signals, start: int, stop: int) -> Vector:
    """Downward acceleration [m/s²] at the fixes ``start:stop``, over 0.8 s to either side."""
    a = max(int(np.searchsorted(s.t, s.t[start] - 0.8 - 1e-5)) - 1, 0)
    b = int(np.searchsorted(s.t, s.t[stop - 1] + 0.8 + 1e-5)) + 1
    return moving_slope(s.t[a:b], s.sink[a:b], 0.8)[start - a : stop - a]


def _ends_on_the_ground(s: Signals, stop: int) -> bool:
    """A fast descent that goes on to the ground, at speed, is an aeroplane's."""
    last = min(stop, s.t.shape[0] - 1)
    later = s.span(float(s.t[last]), float(s.t[last]) + 120.0)
    return (
        float(s.h[last] - np.min(s.h[later])) < PHASES.climbs_out_m
        and float(s.speed[last]) > PHASES.moving_mps
    )


def _steady_canopy(s: Signals, after: int, latest_s: float) -> int:
    """First fix from ``after`` on where the descent has come down to that of the following half minute."""
    t0 = float(s.t[after])
    later = s.span(t0 + 6.0, min(t0 + 30.0, latest_s))
    usual = float(np.median(s.sink[later])) if later.stop > later.start else 6.0
    limit = max(usual, 3.0) + max(1.5, 0.3 * usual)
    part = s.span(t0, min(t0 + 30.0, latest_s))
    calm = np.flatnonzero((s.sink[part] <= limit) | (_ahead(s, part) <= limit))
    return int(after + calm[0] if calm.size else min(after, s.t.shape[0] - 1))


def _ahead(s: Signals, part: slice) -> Vector:
    """Descent over the interval that follows each fix of ``part`` where that is long; infinite elsewhere."""
    here = np.arange(part.start, part.stop)
    after = np.minimum(here + 1, s.t.shape[0] - 1)
    dt = s.t[after] - s.t[here]
    long = (dt > 2.0) & (dt < PHASES.most_hole_s)
    return np.where(long, (s.h[here] - s.h[after]) / np.where(long, dt, 1.0), np.inf)


def _deployment(s: Signals, start: int, stop: int) -> int:
    tail = s.span(float(s.t[stop - 1]) - 10.0, float(s.t[stop - 1]) + 0.01)
    first = max(tail.start, start)
    level = float(np.percentile(s.sink[first:stop], 75))
    return int(first + np.flatnonzero(s.sink[first:stop] >= 0.9 * level)[-1])


def _hidden_fall(s: Signals) -> Mask:
    """Fixes that are followed by a hole over which the height fell faster than a canopy falls."""
    dt = np.diff(s.t, append=s.t[-1] + 1.0)
    dh = -np.diff(s.h, append=s.h[-1])
    hidden: Mask = (dt > 4.0) & (dh > PHASES.fast_mps * dt)
    return hidden


def _leaves(s: Signals, fast: int, floor: int) -> int:
    """The fix from which the fall that is fast at ``fast`` began: the last one that sank no faster than before."""
    before = s.span(float(s.t[fast]) - 12.0, float(s.t[fast]) - 3.5)
    some = before.stop > max(before.start, floor)
    usual = float(np.median(s.sink[max(before.start, floor) : before.stop])) if some else 0.0
    slow = np.flatnonzero(s.sink[floor:fast] < (usual + 2.0 if usual > 2.0 else 3.0))
    return floor + (int(slow[-1]) if slow.size else 0)


def _again(s: Signals, previous: Fall, start: int, stop: int) -> bool:
    """Whether a fast run after a fall is another one: it must be far faster than the descent since."""
    if start <= previous.steady:
        return False
    thin = (start - previous.steady) // 5000 + 1  # the median of some thousands does
    since = float(np.median(s.sink[previous.steady : start : thin]))
    return float(np.median(s.sink[start:stop])) > 1.6 * since


def _slows_down(s: Signals, start: int, stop: int) -> int:
    """Where a fast descent goes over into one that is far slower for a long time, though still fast; else its end."""
    if s.t[stop - 1] - s.t[start] <= PHASES.lasts_s:
        return stop
    slow = s.slow_sink[start:stop]
    above = np.flatnonzero(slow > 0.65 * float(np.percentile(slow, 80)))
    last = start + int(above[-1]) + 1 if above.size else stop
    return last if last < stop and float(s.t[stop - 1] - s.t[last]) > PHASES.lasts_s else stop


def _deep(s: Signals, found: Edges) -> Edges:
    """The runs (k, 2) that are long or lose at least ``PHASES.least_drop_m``."""
    a, b = found[:, 0], found[:, 1]
    drop = s.h[np.maximum(a - 1, 0)] - s.h[np.minimum(b, s.t.shape[0] - 1)]
    kept: Edges = found[(drop >= PHASES.least_drop_m) | (s.t[b - 1] - s.t[a] > PHASES.lasts_s)]
    return kept


def find_falls(s: Signals, stop: int) -> tuple[Fall, ...]:
    """Every free fall before the fix ``stop``, in order; also one that a gap of the recording hides; none where there are hundreds."""
    hole = _hidden_fall(s)
    found = _deep(s, bridge(runs((s.sink[:stop] > PHASES.fast_mps) | hole[:stop]), s.t, 2.5))
    if len(found) > PHASES.most_runs:
        return ()
    falls: list[Fall] = []
    for a, end in found:
        b = _slows_down(s, a, end)
        if not _is_fall(s, a, b) or (falls and not _again(s, falls[-1], a, b)):
            continue
        floor = falls[-1].steady if falls else 0
        start = a if hole[a] and s.sink[a] < PHASES.fast_mps else _leaves(s, a, floor)
        end_s = float(s.t[stop - 1]) + 0.01
        deployment = b if hole[b - 1] else _deployment(s, a, b)
        falls.append(Fall(start, deployment, _steady_canopy(s, max(b - 1, deployment), end_s)))
    return tuple(falls)


class Moment(NamedTuple):
    """A time [s], and the height [m] where the fixes around it do not tell it."""

    t_s: float
    agl_m: float | None = None


def fall_times(s: Signals, fall: Fall) -> tuple[Moment, Moment, Moment]:
    """Exit, deployment and steady canopy; inside a hole of the recording where the heights on both sides tell.

    A hole that begins before the exit: level flight, then a fall from rest with quadratic drag, whose depth is
    (v²/g) ln cosh(g t/v) for a final speed v. One that holds the opening: the fall as fast as before, an opening of
    four seconds, the descent as after. A hole that holds the whole fall is taken to end with the opening.
    """
    exit_, deployment, steady = (Moment(float(s.t[i])) for i in fall)
    i = fall.start
    if 0 < i < s.t.shape[0] - 1 and s.t[i + 1] - s.t[i] > PHASES.moment_hole_s:
        dropped = max(float(s.h[i] - s.h[i + 1]), 0.0)
        lasted = (
            PHASES.terminal_mps
            / G_MPS2
            * math.acosh(math.exp(min(dropped * G_MPS2 / PHASES.terminal_mps**2, 50.0)))
        )
        exit_ = Moment(max(float(s.t[i]), float(s.t[i + 1]) - lasted), float(s.h[i]))
    if fall.steady == i + 1:
        lost = 0.5 * PHASES.opening_s * PHASES.terminal_mps
        return (
            exit_,
            Moment(max(exit_.t_s, steady.t_s - PHASES.opening_s), float(s.h[fall.steady]) + lost),
            steady,
        )
    return (exit_, *_opening_in_a_hole(s, fall, deployment, steady))


def _opening_in_a_hole(s: Signals, fall: Fall, deployment: Moment, steady: Moment) -> tuple[Moment, Moment]:
    i, j = fall.steady - 1, fall.steady
    hole = float(s.t[j] - s.t[i])
    if hole <= PHASES.moment_hole_s or i <= fall.start:
        return deployment, steady
    fast = float((s.h[i - 1] - s.h[i]) / (s.t[i] - s.t[i - 1]))
    slow = float(s.sink[min(j + 1, s.t.shape[0] - 1)])
    if fast <= slow + 5.0:
        return deployment, steady
    rest = max(hole - PHASES.opening_s, 0.0)
    dropped = float(s.h[i] - s.h[j]) - 0.5 * PHASES.opening_s * (fast + slow) - slow * rest
    wait = min(max(dropped / (fast - slow), 0.0), rest)
    begins = Moment(float(s.t[i]) + wait, float(s.h[i]) - fast * wait)
    ends = min(begins.t_s + PHASES.opening_s, steady.t_s)
    return begins, Moment(ends, float(s.h[j]) + slow * (steady.t_s - ends))


def _speed_at(s: Signals, t: Vector) -> Vector:
    """Ground speed over four seconds around each of the times ``t``."""
    return window_mean(s.t, s.speed, 2.0)[np.clip(np.searchsorted(s.t, t), 0, s.t.shape[0] - 1)]


def find_exit_without_fall(s: Signals, landing: int) -> tuple[int, int] | None:
    """Exit and first steady canopy fix of a jump that has no free fall (static line): the aeroplane's speed is lost at height."""
    top = float(s.t[top_of_flight(s)])
    around = s.span(top - 20.0, top + 12.0)
    lost = _speed_at(s, s.t[around] - 6.0) - _speed_at(s, s.t[around] + 4.0)
    if lost.shape[0] == 0 or float(lost.max()) < PHASES.exit_slows_mps:
        return None
    i = around.start + int(np.argmax(lost))
    if _speed_at(s, s.t[i : i + 1] - 6.0)[0] < 0.8 * PHASES.plane_mps:
        return None
    near = s.span(float(s.t[i]) - 10.0, float(s.t[i]) + 6.0)
    before = s.speed[s.span(float(s.t[i]) - 20.0, float(s.t[i]) - 6.0)]
    usual = float(np.median(before)) if before.size else PHASES.plane_mps
    still = np.flatnonzero(s.speed[near] > 0.93 * usual)
    start = near.start + int(still[-1]) if still.size else i
    later = s.span(float(s.t[start]) + 8.0, float(s.t[start]) + 30.0)
    if later.stop - later.start < 3 or s.h[start] - s.h[landing] < PHASES.exit_above_m:
        return None
    level = s.sink[s.span(float(s.t[start]) - 12.0, float(s.t[start]) - 2.0)]
    if level.shape[0] == 0 or float(np.median(level)) > PHASES.level_mps:
        return None
    if (
        float(np.median(s.sink[later])) < PHASES.level_mps
        or float(np.median(s.speed[later])) > 1.1 * PHASES.plane_mps
    ):
        return None
    ahead = s.span(float(s.t[start]) + 1.0, float(s.t[start]) + 20.0)
    limit = 1.35 * max(float(np.median(s.speed[later])), 6.0)
    slowing = -moving_slope(s.t, s.speed, 1.5)[ahead]
    quiet = (s.speed[ahead] < limit) & (s.sink[ahead] < float(np.median(s.sink[later])) + 2.0)
    quiet &= slowing < PHASES.slowing_ends_mps2
    calm = np.flatnonzero(quiet)
    return start, ahead.start + (int(calm[0]) if calm.size else 0)
