"""Knots of the piecewise linear wind and the prior on how it may change with height."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["hat_functions", "knot_heights", "prior_covariance"]

Vector = NDArray[np.float64]

LEVEL_SD = 9.0
WARP_M = 30.0


def knot_heights(low_m: float, high_m: float, spacing_m: float = 50.0, most: int = 30) -> Vector:
    """Heights of the knots from ``low_m`` to ``high_m``: every ``spacing_m``, closer below 100 m, at most ``most``."""
    first, last = spacing_m * np.floor(low_m / spacing_m), spacing_m * np.ceil(high_m / spacing_m)
    count = int(min(most, max(1, round((last - first) / spacing_m)))) + 1
    knots = np.linspace(first, max(last, first + spacing_m), count)
    near_ground = np.array([20.0])
    if first <= 0.0:
        knots = np.union1d(knots, near_ground)
    return np.asarray(knots)


def hat_functions(knots: Vector, at: Vector) -> Vector:
    """Weights (n, k) of linear interpolation on the knots; constant beyond them."""
    h = np.clip(at, knots[0], knots[-1])
    i = np.clip(np.searchsorted(knots, h, side="right") - 1, 0, knots.size - 2)
    f = (h - knots[i]) / (knots[i + 1] - knots[i])
    weights = np.zeros((h.size, knots.size))
    rows = np.arange(h.size)
    weights[rows, i] = 1.0 - f
    weights[rows, i + 1] = f
    return weights


def warped(agl_m: Vector) -> Vector:
    """Height on the scale in which shear is equally likely everywhere: log(1 + h / 30 m), a log law above 30 m."""
    return np.asarray(np.log1p(np.maximum(agl_m, 0.0) / WARP_M))


def prior_covariance(knots: Vector, shear_sd: float) -> Vector:
    """Covariance (k, k) of one wind component at the knots: a free level plus a random walk in warped height."""
    z = warped(knots)
    middle = z[z.size // 2]
    left, right = np.minimum(z - middle, 0.0), np.maximum(z - middle, 0.0)
    walk = np.minimum.outer(right, right) + np.minimum.outer(-left, -left)
    return np.asarray(LEVEL_SD**2 + shear_sd**2 * walk)
