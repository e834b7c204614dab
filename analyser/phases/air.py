"""Wind and airspeed of the first part of a canopy flight as the later flight tells them, for finding phases only: many draws."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.atmosphere import true_airspeed_factor
from analyser.phases.thresholds import PHASES

__all__ = ["AirDraws", "draw_air"]

Vector = NDArray[np.float64]

_FIRST, _DRAWS, _STEPS = 500, 200, 90
_WIDER, _RING_MPS = 1.4, 0.5


@dataclass(frozen=True, slots=True, eq=False)
class AirDraws:
    """Draws (k,) of wind at ``middle_m`` [m/s], its change with height [1/s] and airspeed at sea level [m/s]; fields of the air's density."""

    wind: Vector
    shear: Vector
    airspeed: Vector
    middle_m: float
    elevation_m: float

    def shares(self, h: Vector, v: Vector) -> Vector:
        """Airspeed over trim airspeed (k, n) at heights ``h`` (n,) and ground velocities ``v`` (2, n)."""
        wind = self.wind[:, :, None] + self.shear[:, :, None] * (h - self.middle_m)
        speed = np.hypot(v[0] - wind[:, 0], v[1] - wind[:, 1])
        factor = true_airspeed_factor(h + self.elevation_m)
        return np.asarray(speed / (self.airspeed[:, None] * factor))


def draw_air(t: Vector, h: Vector, v: Vector, elevation_m: float, *, later_s: float) -> AirDraws:
    """Draws of wind and airspeed from the flight later than ``later_s`` after its first fix (of a short flight, its later part).

    Airspeed constant but for robust errors, wind linear in height, weak priors. Two kinds of first draws, about the best fit and
    (for a flight on one heading, which leaves the wind on a ring) on the ring, are weighed by the likelihood and drawn again.
    """
    begin = t[0] + min(later_s, 0.4 * float(t[-1] - t[0]))
    later = np.flatnonzero((t >= begin) & (t <= begin + PHASES.looks_s))
    later = later[:: max(later.size // _STEPS, 1)]
    middle = float(h[later].mean()) if later.size else float(h[0])
    spacing = float(np.median(np.diff(t[later]))) if later.size > 1 else 1.0
    factor = true_airspeed_factor(h[later] + elevation_m)
    problem = _Problem(v[:, later], h[later] - middle, factor, min(spacing / 6.0, 1.0))
    sample, log_density = _proposed(problem, np.random.default_rng(20))
    weight = problem.log_posterior(sample) - log_density
    chance = np.exp(weight - weight.max())
    even = (np.arange(_DRAWS) + 0.5) / _DRAWS
    pick = np.searchsorted(np.cumsum(chance / chance.sum()), even)
    drawn = sample[np.minimum(pick, sample.shape[0] - 1)]
    return AirDraws(drawn[:, :2], drawn[:, 2:4], drawn[:, 4], middle, elevation_m)


def _proposed(problem: _Problem, rng: np.random.Generator) -> tuple[Vector, Vector]:
    """First draws (k, 5) and the log density they were drawn with."""
    best, spread = problem.solve()
    about = best + _WIDER * rng.standard_normal((_FIRST, 5)) @ np.linalg.cholesky(spread).T
    ring = problem.mean + problem.prior * rng.standard_normal((_FIRST, 5))
    angle = rng.uniform(0.0, 2.0 * np.pi, _FIRST)
    radius = ring[:, 4] * problem.thin + _RING_MPS * rng.standard_normal(_FIRST)
    ring[:, :2] = problem.middle + radius[:, None] * np.stack([np.sin(angle), np.cos(angle)], axis=1)
    sample = np.concatenate([about, ring])
    off = sample - best
    log_about = -0.5 * np.einsum("ki,ij,kj->k", off, np.linalg.inv(spread), off) / _WIDER**2
    log_about -= 0.5 * np.linalg.slogdet(spread)[1] + 2.5 * np.log(2.0 * np.pi) + 5.0 * np.log(_WIDER)
    away = np.maximum(np.hypot(*(sample[:, :2] - problem.middle).T), 0.1)
    log_ring = -0.5 * ((away - sample[:, 4] * problem.thin) / _RING_MPS) ** 2 - np.log(away)
    log_ring -= 0.5 * np.sum(((sample - problem.mean) / problem.prior)[:, 2:] ** 2, axis=1)
    log_ring -= np.log(_RING_MPS * 2.0 * np.pi * np.prod(problem.prior[2:])) + 2.0 * np.log(2.0 * np.pi)
    return sample, np.logaddexp(log_about, log_ring)


class _Problem:
    """|v − w0 − w1·h| = V·factor, with Student errors; parameters east and north of w0 and w1, and V; ``h`` from the middle."""

    def __init__(self, v: Vector, h: Vector, factor: Vector, news: float) -> None:
        self.v, self.h, self.factor, self.news = v, h, factor, news
        self.prior = np.array(
            [PHASES.wind_sd_mps, PHASES.wind_sd_mps, PHASES.shear_sd, PHASES.shear_sd, PHASES.airspeed_sd_mps]
        )
        self.mean = np.array([0.0, 0.0, 0.0, 0.0, PHASES.airspeed_mps])
        self.middle = np.median(v, axis=1) if v.shape[1] else np.zeros(2)
        self.thin = float(factor.mean()) if factor.size else 1.0

    def residuals(self, p: Vector) -> tuple[Vector, Vector]:
        """Residuals (k, n) and the air velocity (k, 2, n) of parameters (k, 5)."""
        wind = p[:, :2, None] + p[:, 2:4, None] * self.h
        air = self.v - wind
        return np.hypot(air[:, 0], air[:, 1]) - p[:, 4:] * self.factor, air

    def log_posterior(self, p: Vector) -> Vector:
        """Log likelihood and prior of parameters (k, 5), but for a constant."""
        rest, _ = self.residuals(p)
        fit = -2.5 * self.news * np.sum(np.log1p((rest / PHASES.wanders_mps) ** 2 / 4.0), axis=1)
        log = fit - 0.5 * np.sum(((p - self.mean) / self.prior) ** 2, axis=1)
        return np.where(
            (p[:, 4] > PHASES.least_airspeed_mps) & (p[:, 4] < PHASES.most_airspeed_mps), log, -np.inf
        )

    def solve(self) -> tuple[Vector, Vector]:
        """Best parameters (5,) and their covariance, from several first guesses of the wind."""
        guesses = [np.zeros(2), self.middle, 0.5 * self.middle]
        ends = [self._descend(np.concatenate([g, [0.0, 0.0, PHASES.airspeed_mps]])) for g in guesses]
        return max(ends, key=lambda end: float(self.log_posterior(end[0][None])[0]))

    def _descend(self, p: Vector) -> tuple[Vector, Vector]:
        for _ in range(12):
            rest, air = self.residuals(p[None])
            unit = air[0] / np.maximum(np.hypot(*air[0]), 0.1)
            slope = np.stack([-unit[0], -unit[1], -unit[0] * self.h, -unit[1] * self.h, -self.factor])
            weight = 5.0 * self.news / (4.0 * PHASES.wanders_mps**2 + rest[0] ** 2)
            matrix = (slope * weight) @ slope.T + np.diag(self.prior**-2.0)
            right = (slope * weight) @ rest[0] + (p - self.mean) / self.prior**2
            p = p - np.clip(np.linalg.solve(matrix, right), -4.0, 4.0)
            p[4] = min(max(p[4], PHASES.least_airspeed_mps + 0.1), PHASES.most_airspeed_mps - 0.1)
        return p, np.linalg.inv(matrix)
