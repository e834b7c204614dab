"""The air of one jump, stepped along the flight: mean wind with its change in time, turbulence, thermals, density."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .day import Day, draw_day
from .mean_winds import GRID_M, PROFILES, STEP_M
from .turbulence import Dryden, Thermals

__all__ = ["Change", "Sky", "draw_sky", "still_sky"]

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Change:
    """How the mean wind changes while the canopy flies: a ramp of ``ramp`` m/s a minute, and a slow swing."""

    ramp: tuple[float, float] = (0.0, 0.0)
    swing: tuple[float, float] = (0.0, 0.0)
    period_s: float = 400.0
    phase: float = 0.0

    def at(self, t_s: ArrayLike) -> tuple[Vector, Vector]:
        """What is added to the wind (east, north) [m/s] at times since line stretch."""
        t = np.asarray(t_s, dtype=np.float64)
        wave = np.sin(2.0 * math.pi * t / self.period_s + self.phase)
        return self.ramp[0] * t / 60.0 + self.swing[0] * wave, self.ramp[1] * t / 60.0 + self.swing[1] * wave


class Sky:
    """Air that is stepped along the flight; after :meth:`step` it holds the velocity of the air at the canopy.

    ``mean_e``, ``mean_n`` the mean wind, ``gust_e``, ``gust_n``, ``up`` what turbulence and thermals add, ``rho`` the density.
    """

    def __init__(
        self,
        name: str,
        profile: tuple[Vector, Vector],
        day: Day,
        change: Change,
        dryden: Dryden | None,
        thermals: Thermals | None,
    ) -> None:
        self.name, self.profile, self.day, self.change = name, profile, day, change
        self.dryden, self.thermals = dryden, thermals
        self._east, self._north = profile[0].tolist(), profile[1].tolist()
        self._rho = day.density(GRID_M).tolist()
        self.mean_e = self.mean_n = self.gust_e = self.gust_n = self.up = 0.0
        self.rho = self._rho[0]
        self.air_e = self.air_n = 0.0
        self._added = [c.tolist() for c in change.at(np.arange(0.0, 3600.0))]

    def mean(self, agl_m: ArrayLike, t_s: ArrayLike) -> tuple[Vector, Vector]:
        """Mean wind (east, north) [m/s] at heights and times since line stretch, vectorised; the change fades out below 10 m."""
        h = np.asarray(agl_m, dtype=np.float64)
        grow = np.clip(h / 10.0, 0.2, 1.0)
        added = self.change.at(t_s)
        return (
            np.interp(h, GRID_M, self.profile[0]) + grow * added[0],
            np.interp(h, GRID_M, self.profile[1]) + grow * added[1],
        )

    def step(self, dt: float, t: float, agl: float, v_east: float, v_north: float, speed: float) -> None:
        """Go on by ``dt`` at height ``agl`` with the horizontal air velocity (east, north) and the whole airspeed."""
        x = max(agl, 0.0) / STEP_M
        i = min(int(x), len(self._east) - 2)
        f = x - i
        grow = min(max(agl / 10.0, 0.2), 1.0)
        k = min(int(t), 3598)
        g = t - k
        add_e, add_n = self._added[0], self._added[1]
        self.mean_e = (
            self._east[i] * (1.0 - f)
            + self._east[i + 1] * f
            + grow * (add_e[k] * (1.0 - g) + add_e[k + 1] * g)
        )
        self.mean_n = (
            self._north[i] * (1.0 - f)
            + self._north[i + 1] * f
            + grow * (add_n[k] * (1.0 - g) + add_n[k + 1] * g)
        )
        self.rho = self._rho[i]
        self.up = 0.0
        if self.dryden is not None:
            along, across, self.up = self.dryden.step(speed * dt, agl)
            level = max(math.hypot(v_east, v_north), 0.1)
            s, c = v_east / level, v_north / level
            self.gust_e, self.gust_n = along * s + across * c, along * c - across * s
        if self.thermals is not None:
            self.air_e += v_east * dt
            self.air_n += v_north * dt
            self.up += self.thermals.up(self.air_e, self.air_n, agl)


def still_sky(elevation_m: float = 0.0, warmer_k: float = 0.0) -> Sky:
    """Air without wind, gusts or thermals, for checks of the wings."""
    zero = np.zeros_like(GRID_M)
    return Sky("still", (zero, zero), Day(elevation_m, warmer_k), Change(), None, None)


def draw_sky(rng: np.random.Generator) -> Sky:
    """One sky: a kind of profile turned to any direction, a day, a change, turbulence from calm to lively, at times thermals."""
    day = draw_day(rng)
    name = str(rng.choice(list(PROFILES)))
    u, v = PROFILES[name](rng)
    angle = rng.uniform(0.0, 2.0 * math.pi)
    east, north = u * math.sin(angle) - v * math.cos(angle), u * math.cos(angle) + v * math.sin(angle)
    change = _draw_change(rng)
    w20 = float(np.hypot(np.interp(6.1, GRID_M, east), np.interp(6.1, GRID_M, north)))
    dryden = Dryden(rng, w20, float(rng.uniform(0.2, 1.1)))
    convective = rng.random() < 0.35
    thermals = (
        Thermals(rng, float(rng.uniform(0.4, 1.8)), float(rng.uniform(800.0, 2200.0))) if convective else None
    )
    return Sky(name, (east, north), day, change, dryden, thermals)


def _draw_change(rng: np.random.Generator) -> Change:
    if rng.random() < 0.4:
        return Change()
    ramp = rng.normal(0.0, 0.15, 2)
    swing = rng.normal(0.0, 0.35, 2)
    return Change(
        (float(ramp[0]), float(ramp[1])),
        (float(swing[0]), float(swing[1])),
        float(rng.uniform(240.0, 900.0)),
        float(rng.uniform(0.0, 2.0 * math.pi)),
    )
