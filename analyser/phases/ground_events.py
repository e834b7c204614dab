"""The events on the ground: take-off, landing, the touchdown of an aeroplane."""

from __future__ import annotations

import math

import numpy as np

from analyser.phases.signals import Mask, Signals, runs, window_mean
from analyser.phases.thresholds import PHASES
from analyser.phases.touchdown import Touchdown, find_touchdown

__all__ = ["find_landing", "find_takeoff", "rolls_out", "touchdown_of_aeroplane"]


def _quiet(s: Signals, seconds: float) -> Mask:
    """Fixes from which on the track neither sinks nor travels for ``seconds`` (shorter only at the end of the file)."""
    end = np.minimum(s.t + seconds, s.t[-1])
    dh = np.interp(end, s.t, s.h) - s.h
    de, dn = np.interp(end, s.t, s.e) - s.e, np.interp(end, s.t, s.n) - s.n
    length = np.maximum(end - s.t, 1e-6)
    enough = end - s.t >= 2.0
    still: Mask = enough & (np.abs(dh) < 0.7 * length) & (np.hypot(de, dn) < 3.5 * length)
    hole = np.diff(s.t, append=s.t[-1]) > seconds
    flying = (s.speed > PHASES.walks_mps) | (np.abs(s.sink) > 2.0)
    moved = np.hypot(np.diff(s.e, append=s.e[-1]), np.diff(s.n, append=s.n[-1])) > PHASES.hole_moved_m
    fell = np.abs(np.diff(s.h, append=s.h[-1])) > PHASES.hole_fell_m
    before_hole = hole & (moved | fell | flying)
    blocked = (
        np.searchsorted(np.flatnonzero(before_hole), np.arange(s.t.shape[0])),
        np.searchsorted(np.flatnonzero(before_hole), np.searchsorted(s.t, end)),
    )
    quiet: Mask = still & (blocked[0] == blocked[1])
    return quiet


def find_landing(s: Signals, start: int) -> Touchdown | None:
    """Touchdown after the fix ``start``, or None where the recording stops before.

    A landing that falls into a hole of the recording is given its end, with the error of the hole.
    """
    quiet = _quiet(s, 8.0)
    quiet[:start] = False
    for a, b in runs(quiet):
        later = s.span(float(s.t[b - 1]), float(s.t[b - 1]) + 900.0)
        lost = float(s.h[a] - np.min(s.h[later])) if later.stop > later.start else 0.0
        if (
            lost > PHASES.climbs_out_m
            and float(np.max(s.slow_sink[later])) > 2.0
            and float(s.t[b - 1] - s.t[a]) < PHASES.rests_s
        ):
            continue
        if a > 0 and s.t[a] - s.t[a - 1] > PHASES.ground_hole_s and s.h[a - 1] - s.h[a] > PHASES.hole_lost_m:
            return Touchdown(float(s.t[a]), float(s.t[a] - s.t[a - 1]) / math.sqrt(12.0), 0.0, float(s.t[a]))
        around = s.span(float(s.t[a]) - 17.0, float(s.t[a]) + 12.0)
        found = find_touchdown(s.t[around], s.e[around], s.n[around], s.h[around], float(s.t[a]))
        return found._replace(rest_s=float(s.t[a]))
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
    if below.size == 0 or (below[-1] < 3 and s.slow_speed[0] > PHASES.moving_mps):
        return 0
    last = int(below[-1])
    waiting = h[s.span(float(s.t[last]) - 40.0, float(s.t[last]) - 12.0)]
    ground = float(np.median(waiting)) if waiting.shape[0] > 3 else low
    level = ground + 0.25 * max(float(h[last]) - ground, 4.0)
    quarter = np.flatnonzero(h[: last + 1] < level)
    if quarter.size == 0:
        return 0
    i = int(quarter[-1])
    rising = i + 1 < exit_ and h[i + 1] > h[i]
    passed = float(np.interp(level, h[i : i + 2], s.t[i : i + 2])) if rising else float(s.t[i])
    gone = s.speed[s.span(float(s.t[last]) + 15.0, float(s.t[last]) + 45.0)]
    taxiing = np.flatnonzero(
        s.speed[:last] < 0.75 * (float(np.median(gone)) if gone.shape[0] else PHASES.plane_mps)
    )
    rolling = float(s.t[taxiing[-1]]) if taxiing.size else float(s.t[0])
    lifted = max(2.0 * passed - float(s.t[last]), rolling)
    return max(s.near(lifted), 1)


def touchdown_of_aeroplane(s: Signals, rest_s: float) -> float:
    """When an aeroplane that stands or taxies at ``rest_s`` came down to that level [s]."""
    level = s.h[s.span(rest_s, rest_s + 15.0)]
    if level.shape[0] == 0:
        return rest_s
    high = np.flatnonzero(window_mean(s.t, s.h, 2.0)[: s.near(rest_s)] > float(np.median(level)) + 4.0)
    if high.size == 0:
        return rest_s
    return min(float(s.t[high[-1]]) + 4.0 / max(float(s.slow_sink[high[-1]]), 1.0), rest_s)


def rolls_out(s: Signals, rest_s: float) -> bool:
    """Whether what came to rest at ``rest_s`` rolled there: eight seconds at the level of the ground, from a speed no foot runs at."""
    level = s.h[s.span(rest_s, rest_s + 15.0)]
    if level.shape[0] == 0:
        return False
    slow = np.flatnonzero(s.speed[s.near(rest_s) :] < 5.0)
    rest_s = float(s.t[s.near(rest_s) + int(slow[0])]) if slow.size else rest_s
    low = s.span(rest_s - 40.0, rest_s)
    above = np.flatnonzero(window_mean(s.t, s.h, 1.5)[low] > float(np.median(level)) + 5.0)
    down = low.start + (int(above[-1]) + 1 if above.size else 0)
    return (
        down < low.stop
        and rest_s - float(s.t[down]) > PHASES.rolls_s
        and float(np.max(s.speed[down : low.stop])) > PHASES.rolls_mps
    )
