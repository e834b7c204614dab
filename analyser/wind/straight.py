"""Straight flight tells nothing of the wind across it: where it is, and how it is kept from pretending."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.wind.model import Frozen, Model, linearise
from analyser.wind.samples import Samples
from analyser.wind.solve import State, descend

__all__ = ["heading_spread", "hold", "spread_of", "turns_first"]

Vector = NDArray[np.float64]

NEAR_S = 25.0
STRAIGHT = 0.08
DOUBT_MPS = 4.0


def spread_of(heading: Vector) -> float:
    """How far unit headings (2, n) spread about their common line: 0 along one line, 0.5 all round (smaller eigenvalue of the mean of u uᵀ)."""
    e, n = heading
    return float(0.5 * (1.0 - np.hypot(np.mean(e * e - n * n), 2.0 * np.mean(e * n))))


def heading_spread(samples: Samples, heading: Vector) -> Vector:
    """:func:`spread_of` the headings within 25 s of each sample (n,)."""
    t, (e, n) = samples.t_s, heading
    first, last = np.searchsorted(t, t - NEAR_S), np.searchsorted(t, t + NEAR_S, side="right")

    def mean(values: Vector) -> Vector:
        total = np.concatenate([[0.0], np.cumsum(values)])
        return np.asarray((total[last] - total[first]) / (last - first))

    return np.asarray(0.5 * (1.0 - np.hypot(mean(e * e - n * n), 2.0 * mean(e * n))))


def turns_first(model: Model, start: State) -> tuple[Model, State]:
    """Descend on the stretches with many headings; then the model with the straight stretches held as they are seen from there.

    A long straight stretch says nothing of the wind across it, but whatever error is there at first would be believed.
    """
    point = linearise(model, start.theta)
    straight = heading_spread(model.samples, point.heading) < STRAIGHT
    if not straight.any():
        return model, start
    state = descend(model, start, rounds=4, doubt=np.where(straight, DOUBT_MPS**2, 0.0))
    return hold(model, state), state


def hold(model: Model, state: State) -> Model:
    """The model with its straight stretches linearised at the state, once and for all."""
    point = linearise(replace(model, frozen=None), state.theta)
    straight = heading_spread(model.samples, point.heading) < STRAIGHT
    wind = state.theta[: 2 * model.size].copy()
    return replace(model, frozen=Frozen(straight, wind, point.heading, point.speed, state.covariance))
