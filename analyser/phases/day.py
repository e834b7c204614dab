"""A day's recording: where to cut between two flights."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analyser.errors import FormatError
from analyser.phases.thresholds import PHASES

__all__ = ["flights"]

Vector = NDArray[np.float64]


def flights(t: Vector, h: Vector) -> tuple[tuple[int, int], ...]:
    """Index ranges, tiling the fixes, of the flights of a recording; ``t`` [s], ``h`` [m], all finite.

    The cut lies at the longest hole between landing and next take-off where there is one of a minute, else in the middle of that time.
    Raises FormatError for more flights than a week can hold.
    """
    lows = _valleys(h, PHASES.least_flight_m)
    bounds = [0, *lows, t.shape[0]]
    cuts = [a + _cut_between(t[a:b], h[a:b], low - a) for a, low, b in zip(bounds, lows, bounds[2:])]
    return tuple(pairwise([0, *cuts, t.shape[0]]))


def _valleys(h: Vector, least_m: float) -> list[int]:
    """Lowest fixes between two flights: fallen by ``least_m`` before, risen by as much after."""
    found: list[int] = []
    upside, i = -h, 0
    while True:
        j = _first_turn(upside, i, least_m)
        k = None if j is None else _first_turn(h, j, least_m)
        if j is None or k is None:
            return found
        found.append(j + int(np.argmin(h[j : k + 1])))
        if len(found) > PHASES.most_flights:
            raise FormatError(
                f"the heights rise and fall more than {PHASES.most_flights} times: no recording of jumps",
                "cut it into single days",
            )
        i = k


def _first_turn(h: Vector, start: int, least_m: float) -> int | None:
    """First fix after ``start`` that lies more than ``least_m`` above the lowest since; looked for in growing windows."""
    low, a, size = np.inf, start, 1024
    while a < h.shape[0]:
        part = h[a : a + size]
        lowest = np.minimum(np.minimum.accumulate(part), low)
        risen = part - lowest > least_m
        first = int(np.argmax(risen))
        if risen[first]:
            return a + first
        low, a, size = float(lowest[-1]), a + size, 2 * size
    return None


def _cut_between(t: Vector, h: Vector, low: int) -> int:
    """Where to cut around a valley: at the longest hole of the time on the ground, else in its middle."""
    on_ground = h < h[low] + 25.0
    before, after = np.flatnonzero(~on_ground[:low]), np.flatnonzero(~on_ground[low:])
    a = int(before[-1]) + 1 if before.size else 0
    b = low + int(after[0]) if after.size else t.shape[0]
    gaps = np.diff(t[a:b])
    if gaps.size and gaps.max() > PHASES.day_gap_s:
        return int(a + np.argmax(gaps) + 1)
    return int(min(np.searchsorted(t, 0.5 * (t[a] + t[b - 1])), t.shape[0] - 1))
