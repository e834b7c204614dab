"""The residuals of a flight once wind and canopy are integrated out: what every second says of the others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.wind.covariance import whiten
from analyser.wind.model import Model, Point
from analyser.wind.solve import Scales, State, curved, error_covariance, prior, prior_mean

__all__ = ["TURN_S", "Marginal", "marginal"]

Vector = NDArray[np.float64]

TURN_S = 6.0  # ours: how long the errors of turns last


@dataclass(frozen=True, slots=True, eq=False)
class Marginal:
    """Of one stretch ``part`` of the samples: inverse covariance ``p`` (n, n) of its residuals and ``u`` = (P r) there (n,);
    ``gain`` (2k + CANOPY, n) by how much the parameters move for what is taken off each residual."""

    part: slice
    p: Vector
    u: Vector
    gain: Vector


def marginal(
    model: Model,
    state: State,
    plain: Point,
    scales: Scales,
    wiggle: float,
    extra: Vector,
    doubt: Vector | None = None,
) -> list[Marginal]:
    """The residuals under the prior of wind and canopy, at the prior mean, linearised at the state (``plain``), stretch by stretch.

    ``extra`` (n,) further variance; ``doubt`` (n,) the standard deviation of what turns add [m/s]. Time grows linearly with the flight.
    """
    theta = state.theta
    point, parts = curved(model, plain, error_covariance(model, plain, theta), state.covariance)
    jacobian = point.jacobian
    residual = point.residual + jacobian @ (prior_mean(model) - theta)
    information, _ = prior(model, theta, wiggle)
    pull = np.zeros(theta.size)
    blocks = []
    for errors, part in zip(parts, model.parts):
        total = errors.total(scales, extra[part])
        if doubt is not None:
            total += doubt[part, None] * doubt[part] * errors.fading.over(TURN_S)
        white, _ = whiten(total, np.eye(part.stop - part.start))
        inverse = white.T @ white
        weighed = inverse @ jacobian[part]
        information = information + jacobian[part].T @ weighed
        pull += weighed.T @ residual[part]
        blocks.append((part, inverse, weighed))
    covariance = np.linalg.inv(information)
    return [
        Marginal(
            part,
            inverse - w @ covariance @ w.T,
            inverse @ residual[part] - w @ (covariance @ pull),
            covariance @ w.T,
        )
        for part, inverse, w in blocks
    ]
