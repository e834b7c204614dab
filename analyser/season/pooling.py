"""pool: one value out of many with errors of their own, allowing for real differences between them (random effects)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyser.season.robust import robust_sd

__all__ = ["Pooled", "pool", "shrunk"]


@dataclass(frozen=True, slots=True)
class Pooled:
    """Mean with standard error, and the scatter ``tau`` of the true values about it; ``n`` values went in."""

    mean: float
    se: float
    tau: float
    n: int

    @property
    def single_sd(self) -> float:
        """Standard deviation of one further true value about the mean found."""
        return math.hypot(self.se, self.tau)


def pool(values: ArrayLike, sds: ArrayLike) -> Pooled | None:
    """Random-effects mean; ``tau`` by Paule & Mandel (J. Res. NBS 87 (1982) 377). None where nothing is finite.

    Values beyond four robust standard deviations of the median are left out.
    """
    x, sd = np.asarray(values, dtype=np.float64), np.asarray(sds, dtype=np.float64)
    good = np.isfinite(x) & np.isfinite(sd) & (sd > 0)
    x, sd = x[good], sd[good]
    if x.size > 4:
        middle = np.median(x)
        scatter = robust_sd(x)
        kept = np.abs(x - middle) <= 4.0 * np.hypot(scatter, sd)
        x, sd = x[kept], sd[kept]
    if x.size == 0:
        return None
    tau2 = _tau2(x, sd)
    weights = 1.0 / (sd**2 + tau2)
    mean = float(np.sum(weights * x) / np.sum(weights))
    return Pooled(mean, float(1.0 / np.sqrt(np.sum(weights))), math.sqrt(tau2), int(x.size))


def _tau2(x: NDArray[np.float64], sd: NDArray[np.float64]) -> float:
    """The variance between true values at which the weighted scatter is what it should be, n - 1."""
    from scipy.optimize import brentq

    def excess(tau2: float) -> float:
        weights = 1.0 / (sd**2 + tau2)
        mean = np.sum(weights * x) / np.sum(weights)
        return float(np.sum(weights * (x - mean) ** 2) - (x.size - 1))

    if x.size < 2 or excess(0.0) <= 0.0:
        return 0.0
    high = float(np.var(x)) * 4.0 + 1e-12
    while excess(high) > 0.0:
        high *= 2.0
    return float(brentq(excess, 0.0, high, xtol=1e-14))


def shrunk(values: ArrayLike, sds: ArrayLike) -> list[tuple[float, float]] | None:
    """Every value drawn towards the common mean as far as its error asks for: (value, standard deviation) each.

    Empirical Bayes for the normal model (Efron & Morris, JASA 70 (1975) 311). None below three values.
    """
    x, sd = np.asarray(values, dtype=np.float64), np.asarray(sds, dtype=np.float64)
    common = pool(x, sd)
    if common is None or x.size < 3:
        return None
    found = []
    for value, error in zip(x, sd, strict=True):
        share = common.tau**2 / (common.tau**2 + error**2) if common.tau > 0 else 0.0
        deviation = math.sqrt(share * error**2 + (1.0 - share) ** 2 * common.se**2)
        found.append((float(common.mean + share * (value - common.mean)), deviation))
    return found
