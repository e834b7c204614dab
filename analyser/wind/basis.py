"""Knots of the piecewise linear wind and the prior on how it changes with height."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.wind.priors import Priors

__all__ = ["LOWEST_M", "hat_functions", "knot_heights", "prior_covariance"]

Vector = NDArray[np.float64]

# The wind at the height 0 of a profile stands for the air two metres up, the lowest height at which winds are observed.
LOWEST_M = 2.0
REFERENCE_M = 300.0
MOST_KNOTS = 32


def knot_heights(low_m: float, high_m: float, spacing_m: float = 50.0) -> Vector:
    """Heights of the knots from ``low_m`` to ``high_m``: every ``spacing_m`` (wider where there were too many), closer near the ground."""
    first, last = spacing_m * np.floor(low_m / spacing_m), spacing_m * np.ceil(high_m / spacing_m)
    count = int(min(MOST_KNOTS, max(1, round((last - first) / spacing_m)))) + 1
    knots = np.linspace(first, max(last, first + spacing_m), count)
    if first <= 0.0 <= last:
        knots = np.union1d(knots, [10.0, 25.0])
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


def prior_covariance(knots: Vector, speed_mps: float, wiggle: float, priors: Priors) -> Vector:
    """Covariance (k, k) of one wind component at the knots.

    A free level with the shape of a power law, an uncertain exponent and an even veer, both in proportion to the size
    ``speed_mps`` of the wind, and smooth departures of ``wiggle`` [m/s]; the first two grow with ``wiggle`` as well.
    """
    ratio = np.clip(knots, LOWEST_M, None) / REFERENCE_M
    shape = ratio**priors.exponent
    bend = shape * np.log(ratio) * priors.exponent_sd * speed_mps
    veer = shape * (np.clip(knots, 0.0, None) - REFERENCE_M) / 1000.0 * priors.turn * speed_mps
    far = (knots[:, None] - knots) / priors.wiggle_m
    scale = (wiggle / priors.wiggles[len(priors.wiggles) // 2]) ** 2
    cov = priors.level**2 * np.outer(shape, shape) + scale * (np.outer(bend, bend) + np.outer(veer, veer))
    cov += wiggle**2 * np.exp(-0.5 * far * far)
    cov[np.diag_indices_from(cov)] += 1e-4
    return np.asarray(cov)
