"""A day's recording: where to cut between two flights."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

__all__ = ["flights"]

Vector = NDArray[np.float64]

_LEAST_M = 150.0  # ours: a flight climbs and comes down by more than this


def flights(t: Vector, h: Vector) -> tuple[tuple[int, int], ...]:
    """Index ranges, tiling the fixes, of the flights of a recording; ``t`` [s], ``h`` [m], all finite.

    The cut lies at the longest hole between landing and next take-off where there is one of a minute, else in the middle of that time.
    """
    cuts = [_cut_between(t, h, low) for low in _valleys(h, _LEAST_M)]
    return tuple(pairwise([0, *cuts, t.shape[0]]))


def _valleys(h: Vector, least_m: float) -> list[int]:
    """Lowest fixes between two flights: fallen by ``least_m`` before, risen by as much after."""
    found: list[int] = []
    i, n = 0, h.shape[0]
    while True:
        rest = h[i:]
        fallen = np.flatnonzero(np.maximum.accumulate(rest) - rest > least_m)
        if fallen.size == 0:
            return found
        j = i + int(fallen[0])
        risen = np.flatnonzero(h[j:] - np.minimum.accumulate(h[j:]) > least_m)
        if risen.size == 0:
            return found
        k = j + int(risen[0])
        found.append(j + int(np.argmin(h[j : k + 1])))
        i = min(k, n - 1)


def _cut_between(t: Vector, h: Vector, low: int) -> int:
    """Where to cut around a valley: at the longest hole of the time on the ground, else in its middle."""
    on_ground = h < h[low] + 25.0
    before, after = np.flatnonzero(~on_ground[:low]), np.flatnonzero(~on_ground[low:])
    a = int(before[-1]) + 1 if before.size else 0
    b = low + int(after[0]) if after.size else t.shape[0]
    gaps = np.diff(t[a:b])
    if gaps.size and gaps.max() > 60.0:
        return int(a + np.argmax(gaps) + 1)
    return int(min(np.searchsorted(t, 0.5 * (t[a] + t[b - 1])), t.shape[0] - 1))
