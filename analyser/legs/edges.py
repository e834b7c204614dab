"""When a turn begins or ends: the model of a wing that rolls in, fitted to the air heading, finer than the sampling."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.legs.heading import AirHeading
from analyser.legs.thresholds import LEGS

__all__ = ["edge_of_turn"]

Vector = NDArray[np.float64]


def edge_of_turn(
    heading: AirHeading, level_from_s: float, edge_s: float, turn_to_s: float
) -> tuple[float, float]:
    """Where the turn begins after (or, with ``turn_to_s`` < ``edge_s`` < ``level_from_s``, ends before) a straight stretch: time, sd [s].

    A level and a turn of steady rate into which the bank lags by the first order, each averaged over the heading's ``box_s``,
    fitted by generalised least squares to the heading between ``level_from_s`` and ``turn_to_s``: white noise plus a sway
    of exponential correlation. Mean and standard deviation over the likelihood of begin and lag; the error's scale is taken out as
    in Student's t. Fewer than four headings there: ``edge_s`` and the length of the box.
    """
    low, high = min(level_from_s, turn_to_s), max(level_from_s, turn_to_s)
    use = (heading.t >= low - 1e-6) & (heading.t <= high + 1e-6)
    t, y = heading.t[use], heading.deg[use]
    if t.shape[0] < 4:
        return edge_s, heading.box_s
    sign = 1.0 if turn_to_s > level_from_s else -1.0
    reach = min(3.0, 0.9 * abs(turn_to_s - edge_s), 0.9 * abs(level_from_s - edge_s) + 1.5)
    begin = np.arange(edge_s - 3.0, edge_s + reach, LEGS.step_s)
    above = np.asarray(y - y[0], dtype=np.float64)
    root = np.asarray(np.linalg.cholesky(_covariance(t)), dtype=np.float64)
    since = sign * (t[None, :] - begin[:, None])
    turned = np.concatenate([_turned(since, lag, heading.box_s) for lag in LEGS.lags_s])
    rest = _rest(root, above, turned).reshape(len(LEGS.lags_s), -1)
    m = max(3.0, 0.7 * t.shape[0])
    weight = np.array(LEGS.lag_share)[:, None] * np.exp(-0.5 * m * np.log((rest + m) / (rest.min() + m)))
    likelihood = weight.sum(axis=0) / weight.sum()
    mean = float(likelihood @ begin)
    return mean, float(np.sqrt(likelihood @ (begin - mean) ** 2))


def _covariance(t: Vector) -> Vector:
    apart = np.abs(t[:, None] - t[None, :])
    cov: Vector = LEGS.white_deg**2 * np.eye(t.shape[0]) + LEGS.wander_deg**2 * np.exp(-apart / LEGS.wander_s)
    return cov


def _turned(since: Vector, lag_s: float, box_s: float) -> Vector:
    """Heading turned per unit of rate, averaged over the box, from the time since the toggles were moved [s]."""
    parts = np.maximum(since[..., None] + box_s * (np.arange(5) - 2.0) / 5.0, 0.0)
    turned: Vector = np.mean(parts - lag_s * (1.0 - np.exp(-parts / lag_s)), axis=-1)
    return turned


def _rest(root: Vector, y: Vector, turned: Vector) -> Vector:
    """Weighted squares left over by level and turn, for each begin (k,)."""
    columns = np.concatenate([np.ones((y.shape[0], 1)), y[:, None], turned.T], axis=1)
    white = np.linalg.solve(root, columns)
    one, seen, model = white[:, 0], white[:, 1], white[:, 2:]
    one = one / np.linalg.norm(one)
    seen = seen - one * (one @ seen)
    model = model - np.outer(one, one @ model)
    along = seen @ model
    left: Vector = seen @ seen - along**2 / np.maximum(np.sum(model**2, axis=0), 1e-9)
    return np.maximum(left, 0.0)
