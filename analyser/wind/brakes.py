"""Brakes on final may be deeper than the sink betrays."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.wind.covariance import Parts
from analyser.wind.model import Model, Point

__all__ = ["deep_on_final"]

Vector = NDArray[np.float64]

FINAL_M = 150.0
ALONG_FINAL = 0.8
FEWEST = 5
# Ours: the sink [m/s] below that of full flight at which brakes surely are on.
SURELY_MPS = 0.4
LEAST_SHARE = 0.1


def deep_on_final(
    model: Model, plain: Point, point: Point, parts: list[Parts]
) -> tuple[Point, list[Parts]] | None:
    """Residual and errors if the brakes on final are deep: they take ``deep`` (mean, sd) [m/s] more than the sink lets expect.

    Deep brakes sink about as fast as shallow ones (the sink is least in half brakes); on one heading the airspeed
    they take looks like headwind. None where final shows no brakes. Evidence decides (:mod:`analyser.wind.average`).
    """
    if not model.brakes:
        return None
    final = _final(model, plain)
    share = np.where(final, np.clip(-plain.effect / SURELY_MPS, 0.0, 1.0), 0.0)
    if int(np.count_nonzero(final)) < FEWEST or float(share.max()) < LEAST_SHARE:
        return None
    share = share * plain.chord * model.rho
    mean, sd = model.priors.deep
    found = []
    for errors, part in zip(parts, model.parts):
        unsure = sd * share[part]
        found.append(replace(errors, else_=errors.else_ + unsure[:, None] * unsure))
    return replace(point, residual=point.residual + mean * share), found


def _final(model: Model, point: Point) -> NDArray[np.bool_]:
    """Samples (n,) of the last straight flight below 150 m: within 37° of the last heading."""
    u = point.heading
    last = u[:, -12:].mean(axis=1)
    last /= max(float(np.hypot(*last)), 1e-9)
    off = np.flatnonzero((u[0] * last[0] + u[1] * last[1] < ALONG_FINAL) | (model.samples.agl_m > FINAL_M))
    use = np.zeros(len(model.samples), dtype=bool)
    use[off[-1] + 1 if off.size else 0 :] = True
    return use
