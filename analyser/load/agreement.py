"""Whether winds of one load agree within their stated errors: a check that needs no truth."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
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
    pairs = within = 0
    for one, other in combinations(winds, 2):
        theirs = {w.agl_m: w for w in other}
        for a in one:
            b = theirs.get(a.agl_m)
            if b is None:
                continue
            pairs += 1
            within += _apart(a, b) <= LOAD.chi2_95
    return Agreement(pairs, within)


def total(found: Iterable[Agreement]) -> Agreement:
    """Several loads together."""
    every = list(found)
    return Agreement(sum(a.pairs for a in every), sum(a.within for a in every))


def _apart(a: Wind, b: Wind) -> float:
    """Squared distance of two winds over the covariance of their difference, the change of the wind between them included."""
    changed = 2.0 * LOAD.agree_change_mps**2 * (1.0 - math.exp(-abs(a.t_s - b.t_s) / LOAD.change_s))
    ee, en, nn = (x + y for x, y in zip(a.covariance, b.covariance))
    matrix: NDArray[np.float64] = np.array([[ee + changed, en], [en, nn + changed]])
    gap = np.array([a.east - b.east, a.north - b.north])
    return float(gap @ np.linalg.solve(matrix, gap))
