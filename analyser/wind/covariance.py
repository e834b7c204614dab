"""Error covariance of the airspeed residuals, and the whitening by it.

Three parts: white noise of positions (neighbours share a node) and their slow drift; an airspeed that wanders about its
trim; gusts, which act along the air heading, so two samples share one as far as their headings agree.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.wind.priors import Priors
from analyser.wind.samples import Samples

__all__ = [
    "Fading",
    "Parts",
    "Scales",
    "blocks",
    "error_parts",
    "exponential",
    "gust_sd",
    "node_noise",
    "whiten",
]

Vector = NDArray[np.float64]

BLOCK = 200
STRIP = 48


class Scales(NamedTuple):
    """Factor on the usual gusts and which of their lengths, the wander's size [m/s] and time [s], the error of turns [m/s]."""

    gustiness: float
    length: int
    wander: float
    wander_s: float
    turn: float


class Fading:
    """Correlations (n, n) over the times (n,) of one stretch, each found once."""

    def __init__(self, t_s: Vector) -> None:
        self.t_s = t_s
        self.over = cache(partial(exponential, t_s))
        self.wandering = cache(partial(wandering, t_s))


@dataclass(frozen=True, slots=True, eq=False)
class Parts:
    """Covariances (n, n) of one stretch: ``gust`` for gustiness 1 by the number of its length, everything ``else_``, ``turning`` the errors of turns for 1 m/s."""

    gust: Callable[[int], Vector]
    else_: Vector
    fading: Fading
    turning: Vector | None = None

    def total(self, scales: Scales, extra: Vector) -> Vector:
        """Covariance for the scales, with ``extra`` (n,) variance of outliers."""
        c = self.fading.wandering(scales.wander_s) * scales.wander**2
        c += scales.gustiness**2 * self.gust(scales.length)
        c += self.else_
        if self.turning is not None and scales.turn > 0.0:
            c += scales.turn**2 * self.turning
        c[np.diag_indices_from(c)] += extra
        return c


def gust_sd(agl_m: Vector, low_wind: float, priors: Priors) -> Vector:
    """Usual standard deviation [m/s] of one gust component by height, for a wind of ``low_wind`` near the ground."""
    fade = np.exp(-np.maximum(agl_m, 0.0) / priors.gust_decay_m)
    return np.asarray(priors.gust_floor + priors.gust_intensity * low_wind * fade)


def gust_length_m(agl_m: Vector, priors: Priors) -> Vector:
    """Over how many metres of air gusts hold together, by height."""
    return np.asarray(
        np.clip(
            priors.gust_length_m + 0.26 * np.maximum(agl_m, 0.0),
            priors.gust_length_m,
            priors.gust_length_top_m,
        )
    )


def mean_gust_sd(agl_m: float, way_m: float, low_wind: float, priors: Priors | None = None) -> float:
    """Standard deviation [m/s] of one component of the mean gust met on a way through the air.

    Parameters
    ----------
    agl_m : float
        Height of the middle of the way [m].
    way_m : float
        Its length through the air [m].
    low_wind : float
        Wind near the ground [m/s].
    priors : Priors, optional
        Size and length of the gusts.

    Returns
    -------
    float
        The mean of an exponentially correlated process over its length (any text on random processes).
    """
    priors, at = priors or Priors(), np.array([agl_m])
    lengths = max(way_m, 1e-3) / float(gust_length_m(at, priors)[0])
    shared = 2.0 * (lengths - 1.0 + math.exp(-lengths)) / lengths**2
    return float(gust_sd(at, low_wind, priors)[0]) * math.sqrt(shared)


def error_parts(
    samples: Samples,
    heading: Vector,
    airspeed: float,
    low_wind: float,
    priors: Priors,
    *,
    fading: Fading | None = None,
    loose: bool = False,
) -> Parts:
    """Parts of the covariance along the unit air ``heading`` (2, n), without brakes."""
    t, h = samples.t_s, samples.agl_m
    fading = fading or Fading(t)
    along = heading[0][:, None] * heading[0] + heading[1][:, None] * heading[1]
    sd = gust_sd(h, low_wind, priors)
    strength = along * (sd[:, None] * sd)

    @cache
    def gust(number: int) -> Vector:
        length = priors.gust_lengths[number] * gust_length_m(h, priors)
        rate = max(airspeed, 3.0) / length
        passed = np.concatenate([[0.0], np.cumsum(np.diff(t) * 0.5 * (rate[1:] + rate[:-1]))])
        shared = strength * np.exp(-np.abs(passed[:, None] - passed))
        if loose:
            shared += along * (priors.loose_heading * airspeed) ** 2 * fading.over(priors.loose_heading_s)
        return np.asarray(shared)

    rest = node_noise(samples, samples.node_sd_m, np.sum(heading[:, 1:] * heading[:, :-1], axis=0))
    rest[np.diag_indices_from(rest)] += samples.white_sd**2 + priors.drift**2 / samples.dt_s
    return Parts(gust, rest, fading)


def exponential(t_s: Vector, seconds: float) -> Vector:
    """Correlation (n, n) that fades over ``seconds``."""
    return np.asarray(np.exp(np.abs(t_s[:, None] - t_s) * (-1.0 / seconds)))


SLOW_SHARE = 0.4


def wandering(t_s: Vector, seconds: float) -> Vector:
    """Correlation (n, n) of an airspeed that wanders: most of it over ``seconds``, the rest over five times as long."""
    slow = exponential(t_s, 5.0 * seconds)
    fast = slow * slow
    fast *= fast
    fast *= slow
    fast *= 1.0 - SLOW_SHARE
    slow *= SLOW_SHARE
    return np.asarray(fast + slow)


def node_noise(samples: Samples, sd: float, shared: Vector) -> Vector:
    """Covariance (n, n) of differences between nodes of white error ``sd`` [m]; neighbours share a node as far as ``shared`` (n − 1,)."""
    n = len(samples)
    c = np.zeros((n, n))
    i = np.arange(n)
    c[i, i] = 2.0 * (sd / samples.dt_s) ** 2
    off = np.where(samples.linked[1:], -(sd**2) / (samples.dt_s[1:] * samples.dt_s[:-1]) * shared, 0.0)
    c[i[1:], i[:-1]] = off
    c[i[:-1], i[1:]] = off
    return c


def blocks(n: int) -> list[slice]:
    """Stretches of at most ``BLOCK`` samples; errors of different stretches count as independent, so time grows linearly."""
    parts = max(1, -(-n // BLOCK))
    edges = np.linspace(0, n, parts + 1).astype(int)
    return [slice(int(a), int(b)) for a, b in pairwise(edges)]


def whiten(c: Vector, columns: Vector) -> tuple[Vector, float]:
    """L⁻¹ · columns for C = L Lᵀ, and log det C, block by block (``c`` is used up).

    numpy has no triangular solve; eliminating small blocks with matrix products takes half the time of a general solve.
    """
    n, y, logdet = c.shape[0], columns.copy(), 0.0
    for i in range(0, n, STRIP):
        j = min(i + STRIP, n)
        lower = np.linalg.cholesky(c[i:j, i:j])
        inverse = np.linalg.inv(lower)
        logdet += 2.0 * float(np.sum(np.log(np.diagonal(lower))))
        y[i:j] = inverse @ y[i:j]
        if j < n:
            below = c[j:, i:j] @ inverse.T
            c[j:, j:] -= below @ below.T
            y[j:] -= below @ y[i:j]
    return y, logdet
