"""Stretches of a canopy flight that are no steady flight: a collapse, a long stall, the flare."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.phases.signals import runs
from analyser.phases.thresholds import PHASES

__all__ = ["Stretch", "sinks_fast", "stretches_that_do_not_count"]

Vector = NDArray[np.float64]
Reason = Literal["collapse or stall", "flare"]


class Stretch(NamedTuple):
    """From when to when [track s], and what it is."""

    start_s: float
    end_s: float
    reason: Reason


def sinks_fast(t: Vector, sink: Vector, settled_s: float) -> NDArray[np.bool_]:
    """Which fixes after ``settled_s`` sink so fast that the canopy may have stalled: only their share of the airspeed is asked for."""
    flown = (t >= settled_s) & np.isfinite(sink)
    usual = float(np.median(sink[flown])) if flown.any() else 0.0
    return np.asarray(flown & (sink > PHASES.stall_sinks * usual))


def stretches_that_do_not_count(
    t: Vector, h: Vector, sink: Vector, share: Vector, settled_s: float
) -> tuple[Stretch, ...]:
    """Of the fixes of a canopy flight (t [s], h [m], sink [m/s], share of the airspeed where it sinks fast), those after ``settled_s`` that are no steady flight.

    Stalled or collapsed: less than half the airspeed and well over the usual sink, for two seconds or more, and three seconds around
    it. The flare: from where, close to the ground, it last sank as fast as it uses to.
    """
    flown = (t >= settled_s) & np.isfinite(sink)
    if int(flown.sum()) < 10:
        return ()
    usual = float(np.median(sink[flown]))
    stalled = sinks_fast(t, sink, settled_s) & np.isfinite(share) & (share < PHASES.stalled)
    found = [
        Stretch(
            float(t[a]) - PHASES.stall_around_s, float(t[b - 1]) + PHASES.stall_around_s, "collapse or stall"
        )
        for a, b in runs(stalled)
        if t[b - 1] - t[a] >= PHASES.stall_s
    ]
    return (*found, *_flare(t, h, sink, usual))


def _flare(t: Vector, h: Vector, sink: Vector, usual: float) -> tuple[Stretch, ...]:
    low = np.flatnonzero((t > t[-1] - PHASES.flare_s) & (h < PHASES.flare_m))
    if low.size < 2 or usual <= 0.0:
        return ()
    fast = np.flatnonzero(sink[low] > PHASES.flare_sinks * usual)
    first = low[0] if fast.size == 0 else low[min(fast[-1] + 1, low.size - 1)]
    return (Stretch(float(t[first]), float(t[-1]) + 1.0, "flare"),)
