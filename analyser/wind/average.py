"""The estimate for every gustiness, wander and shear scale; their average weighted by evidence."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.wind.covariance import Scales
from analyser.wind.model import Model, linearise
from analyser.wind.solve import (
    State,
    curved,
    error_covariance,
    outlier_variance,
    prior,
    prior_mean,
    scale_grid,
    whitened,
)

__all__ = ["Averaged", "average"]

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class _Choice:
    log_evidence: float
    theta: Vector
    covariance: Vector
    scales: Scales
    shear: float


@dataclass(frozen=True, slots=True, eq=False)
class Averaged:
    """Mean (2k + CANOPY,) and covariance of all parameters; mean gustiness, wander [m/s] and shear scale [m/s]; ``scales`` and ``shear`` of the likeliest choice."""

    theta: Vector
    covariance: Vector
    gustiness: float
    wander: float
    wiggle: float
    scales: Scales
    shear: float


def average(model: Model, state: State) -> Averaged:
    """Mean and covariance over the choices, each with the weight of its evidence (Bayesian model averaging)."""
    choices = _choices(model, state)
    logs = np.array([c.log_evidence for c in choices])
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    mean = np.sum([w * c.theta for w, c in zip(weights, choices)], axis=0)
    cov = np.zeros_like(choices[0].covariance)
    for w, c in zip(weights, choices):
        cov += w * (c.covariance + np.outer(c.theta - mean, c.theta - mean))
    gustiness, wander, wiggle = weights @ np.array(
        [(c.scales.gustiness, c.scales.wander, c.shear) for c in choices]
    )
    best = choices[int(np.argmax(weights))]
    return Averaged(mean, cov, float(gustiness), float(wander), float(wiggle), best.scales, best.shear)


def _choices(model: Model, state: State) -> list[_Choice]:
    """The linear problem at the state, solved for every choice of scales."""
    theta, priors = state.theta, model.priors
    plain = linearise(model, theta)
    extra = outlier_variance(plain.residual)
    point, parts = curved(model, plain, error_covariance(model, plain, theta), state.covariance)
    mean = prior_mean(model)
    precisions, logdets = zip(*(prior(model, theta, wiggle) for wiggle in priors.wiggles))
    shears = list(zip(priors.wiggles, precisions, logdets, [p @ mean for p in precisions]))
    found = []
    for scales in scale_grid(model, theta):
        z, r, logdet = whitened(model, point, parts, scales, extra)
        y = z @ theta - r
        zz, zy = z.T @ z, z.T @ y
        covariances = np.linalg.inv(zz + np.array(precisions))
        narrow = np.linalg.slogdet(covariances)[1]
        unusual = (np.log(scales.gustiness) / priors.gust_log_sd) ** 2
        for i, (wiggle, precision, prior_logdet, pull) in enumerate(shears):
            new = covariances[i] @ (zy + pull)
            left, d = y - z @ new, new - mean
            cost = float(left @ left + d @ precision @ d) + logdet + prior_logdet
            cost += unusual - float(narrow[i])
            found.append(_Choice(-0.5 * cost, new, covariances[i], scales, wiggle))
    return found
