"""Stretches of a canopy flight that are no steady flight: a collapse, a long stall, the flare."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.phases.signals import runs

__all__ = ["Stretch", "stretches_that_do_not_count"]

Vector = NDArray[np.float64]
Reason = Literal["collapse or stall", "flare"]

_STALLED, _DROPS, _LEAST_S, _AROUND_S = 0.5, 1.3, 2.0, 3.0
_FLARE_M, _FLARE_S, _FLARES = 10.0, 8.0, 0.6


class Stretch(NamedTuple):
    """From when to when [track s], and what it is."""

    start_s: float
    end_s: float
    reason: Reason


def stretches_that_do_not_count(
    t: Vector, h: Vector, sink: Vector, share: Vector, settled_s: float
) -> tuple[Stretch, ...]:
    """Of the fixes of a canopy flight (t [s], h [m], sink [m/s], share of the airspeed), those after ``settled_s`` that are no steady flight.

    Stalled or collapsed: less than half the airspeed and well over the usual sink, for two seconds or more, and three seconds around
    it. The flare: from where, close to the ground, it last sank as fast as it uses to.
    """
    flown = (t >= settled_s) & np.isfinite(sink)
    if int(flown.sum()) < 10:
        return ()
    usual = float(np.median(sink[flown]))
    known = np.isfinite(share) & np.isfinite(sink)
    stalled = flown & known & (share < _STALLED) & (sink > _DROPS * usual)
    found = [
        Stretch(float(t[a]) - _AROUND_S, float(t[b - 1]) + _AROUND_S, "collapse or stall")
        for a, b in runs(stalled)
        if t[b - 1] - t[a] >= _LEAST_S
    ]
    return (*found, *_flare(t, h, sink, usual))


def _flare(t: Vector, h: Vector, sink: Vector, usual: float) -> tuple[Stretch, ...]:
    low = np.flatnonzero((t > t[-1] - _FLARE_S) & (h < _FLARE_M))
    if low.size < 2 or usual <= 0.0:
        return ()
    fast = np.flatnonzero(sink[low] > _FLARES * usual)
    first = low[0] if fast.size == 0 else low[min(fast[-1] + 1, low.size - 1)]
    return (Stretch(float(t[first]), float(t[-1]) + 1.0, "flare"),)
