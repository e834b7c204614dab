"""Whether winds of one load agree within their stated errors: a check that needs no truth."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.load.thresholds import LOAD

__all__ = ["Agreement", "Wind", "agreement", "total"]


class Wind(NamedTuple):
    """One jumper's wind at one height: where the air goes [m/s], its covariance (east², east·north, north²) [m²/s²], when [s]."""

    agl_m: float
    east: float
    north: float
    covariance: tuple[float, float, float]
    t_s: float


@dataclass(frozen=True, slots=True)
class Agreement:
    """``pairs`` of winds of two jumpers at one height, and how many of them agree within the 95 % error of their difference."""

    pairs: int
    within: int

    @property
    def share(self) -> float | None:
        """Share that agrees; None without a pair."""
        return self.within / self.pairs if self.pairs else None

    @property
    def sd(self) -> float | None:
        """Standard error of the share as if the pairs were independent, which they are not quite."""
        if not self.pairs:
            return None
        middle = (self.within + 2.0) / (self.pairs + 4.0)  # Agresti & Coull 1998
        return math.sqrt(middle * (1.0 - middle) / (self.pairs + 4.0))


def agreement(winds: Sequence[Sequence[Wind]]) -> Agreement:
    """The winds of a load's jumpers (one sequence each), every pair of jumpers at every height that both have."""
    heights: dict[float, list[tuple[float, ...]]] = {}
    for mine in winds:
        for agl_m, wind in {w.agl_m: w for w in mine}.items():
            heights.setdefault(agl_m, []).append((wind.east, wind.north, *wind.covariance, wind.t_s))
    found = [_apart(np.array(rows)) for rows in heights.values() if len(rows) > 1]
    return Agreement(sum(d.size for d in found), sum(int(np.sum(d <= LOAD.chi2_95)) for d in found))


def total(found: Iterable[Agreement]) -> Agreement:
    """Several loads together."""
    every = list(found)
    return Agreement(sum(a.pairs for a in every), sum(a.within for a in every))


def _apart(rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """Squared distance of every pair of winds over the covariance of their difference, the change of the wind between them included.

    ``rows`` (n, 6): east, north, covariance (east², east·north, north²), time.
    """
    i, j = np.triu_indices(len(rows), 1)
    east, north = (rows[i] - rows[j]).T[:2]
    ee, en, nn = (rows[i] + rows[j]).T[2:5]
    late = np.abs(rows[i, 5] - rows[j, 5])
    changed = 2.0 * LOAD.agree_change_mps**2 * -np.expm1(-late / LOAD.change_s)
    ee, nn = ee + changed, nn + changed
    return np.asarray((nn * east**2 - 2.0 * en * east * north + ee * north**2) / (ee * nn - en**2))
