"""The moment of touchdown: a hinge in height and position, to a fraction of the sampling interval."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["Touchdown", "find_touchdown"]

Vector = NDArray[np.float64]

_BEFORE_S, _AFTER_S = 6.0, 6.0
_SHAPE_SD_S = 0.35  # ours: how far the shape of a flare and of the first steps moves the hinge


class Touchdown(NamedTuple):
    """Time of touchdown [track s] and its standard deviation [s]."""

    t_s: float
    sd_s: float


def _residuals(x: Vector, y: Vector, columns: tuple[Vector, ...]) -> Vector:
    """Sum of squares left by each hinge: ``x`` (k, m) time from the k candidates, ``y`` (m,)."""
    a = np.stack([np.ones_like(x), *columns], axis=-1)
    gram = np.einsum("kmi,kmj->kij", a, a) + 1e-6 * np.eye(a.shape[-1])
    right = np.einsum("kmi,m->ki", a, y)
    beta = np.linalg.solve(gram, right[..., None])[..., 0]
    rest: Vector = np.sum((y - np.einsum("kmi,ki->km", a, beta)) ** 2, axis=1)
    return rest


def find_touchdown(t: Vector, e: Vector, n: Vector, h: Vector, guess_s: float) -> Touchdown:
    """Touchdown within a few seconds of ``guess_s`` (t, e, n, h of the fixes around it, [s] and [m]).

    Before it the height falls and the position moves (each a quadratic, so that a flare fits), after it the height
    stays and the feet walk straight on or stand; both are continuous. The time that leaves the least is taken: the
    profile likelihood of height and position together, so that a landing into a wind as fast as the canopy is timed by
    its height. The standard deviation is the width of that likelihood and what the shape of the flare adds.
    """
    use = (t >= guess_s - _BEFORE_S - 4.0) & (t <= guess_s + _AFTER_S + 4.0)
    t, e, n, h = t[use], e[use] - e[use].mean(), n[use] - n[use].mean(), h[use] - h[use].mean()
    if t.shape[0] < 7:
        return Touchdown(guess_s, 1.5)
    step = float(np.median(np.diff(t)))
    low, high = max(t[0] + 2.0 * step, guess_s - 5.0), min(t[-1] - step, guess_s + 5.0)
    if high - low < step:
        return Touchdown(guess_s, 1.5)
    tau = np.arange(low, high, 0.1)
    x = t[None, :] - tau[:, None]
    before, after = np.maximum(-x, 0.0), np.maximum(x, 0.0)
    rest_h = _residuals(x, h, (before, before**2))
    rest_e = _residuals(x, e, (before, before**2, after))
    rest_n = _residuals(x, n, (before, before**2, after))
    m = min(t.shape[0], int(4.0 * (t[-1] - t[0])))
    floor_h, floor_xy = 0.05 * m, 0.02 * m
    cost = 0.5 * m * (np.log(rest_h + floor_h) + 2.0 * np.log(rest_e + rest_n + floor_xy))
    likelihood = np.exp(cost.min() - cost)
    likelihood /= likelihood.sum()
    mean = float(likelihood @ tau)
    return Touchdown(
        mean, float(np.sqrt(likelihood @ (tau - mean) ** 2 + _SHAPE_SD_S**2 + (0.15 * step) ** 2))
    )
