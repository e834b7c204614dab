"""Error covariance of the airspeed residuals and the whitening by it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analyser.wind.samples import Samples

__all__ = ["Noise", "blocks", "covariance", "whiten"]

Vector = NDArray[np.float64]

BLOCK = 400


@dataclass(frozen=True, slots=True)
class Noise:
    """Scales of the three parts of the error.

    ``gust_sd`` [m/s] far aloft per component, ``gust_ground`` its growth toward the ground (added · exp(−h / 600 m)),
    ``gust_s`` correlation time; ``wander_sd`` [m/s] and ``wander_s`` of the airspeed about its trim; ``white_sd`` [m/s].
    """

    gust_sd: float = 0.2
    gust_ground: float = 0.5
    gust_m: float = 150.0
    wander_sd: float = 0.35
    wander_s: float = 4.0
    white_sd: float = 0.15


def gust_scale(agl_m: Vector, noise: Noise) -> Vector:
    """Standard deviation [m/s] of one gust component by height."""
    return np.asarray(noise.gust_sd + noise.gust_ground * np.exp(-np.maximum(agl_m, 0.0) / 600.0))


def covariance(
    samples: Samples, heading_e: Vector, heading_n: Vector, airspeed: float, noise: Noise
) -> Vector:
    """Covariance (n, n) of airspeed residuals along the unit air headings.

    Gusts act along the heading: two samples share them as far as their headings agree. Differences of noisy node
    positions are negatively correlated with their neighbours.
    """
    lag = np.abs(samples.t_s[:, None] - samples.t_s[None, :])
    along = np.outer(heading_e, heading_e) + np.outer(heading_n, heading_n)
    scale = gust_scale(samples.agl_m, noise)
    gust_s = np.clip(noise.gust_m * (0.3 + samples.agl_m / 900.0), 30.0, 300.0) / max(airspeed, 3.0)
    c = along * np.outer(scale, scale) * np.exp(-lag / np.sqrt(np.outer(gust_s, gust_s)))
    c += noise.wander_sd**2 * np.exp(-lag / noise.wander_s)
    i = np.arange(len(samples))
    node = (samples.node_sd_m / samples.dt_s) ** 2
    c[i, i] += 2.0 * node + noise.white_sd**2 + samples.white_sd**2
    shared = np.where(
        samples.linked[1:],
        -(samples.node_sd_m**2) / (samples.dt_s[1:] * samples.dt_s[:-1]) * np.diagonal(along, 1),
        0.0,
    )
    c[i[1:], i[:-1]] += shared
    c[i[:-1], i[1:]] += shared
    return np.asarray(c)


def blocks(n: int) -> list[slice]:
    """Stretches of at most ``BLOCK`` samples; errors of different stretches count as independent."""
    parts = max(1, -(-n // BLOCK))
    edges = np.linspace(0, n, parts + 1).astype(int)
    return [slice(int(a), int(b)) for a, b in pairwise(edges)]


def whiten(c: Vector, columns: Vector) -> tuple[Vector, float]:
    """L⁻¹ · columns for C = L Lᵀ, and log det C."""
    lower = np.linalg.cholesky(c)
    return np.linalg.solve(lower, columns), 2.0 * float(np.sum(np.log(np.diagonal(lower))))
