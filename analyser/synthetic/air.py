"""The air of a made-up jump: a sheared, veering, wiggly mean wind, gusts, vertical motion, change with time.

Winds are velocities of the air (east, north): where it goes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "Air",
    "Column",
    "Gusts",
    "VerticalCell",
    "air_from_points",
    "airspeed_factor",
    "gust_length",
    "power_law_air",
    "uniform_air",
]

Vector = NDArray[np.float64]

STEP_M = 10.0
TOP_M = 6000.0
LOWEST_M = 2.0


class VerticalCell(NamedTuple):
    """Air that rises (+) or sinks (−) with ``up_mps`` from ``start_s`` for ``seconds`` of canopy flight."""

    start_s: float
    seconds: float
    up_mps: float


@dataclass(frozen=True, slots=True, eq=False)
class Air:
    """Mean wind on heights ``agl_m`` every 10 m, gusts, vertical cells and a change with time.

    ``gust_sd`` [m/s] near the ground on top of 0.15 m/s, falling with exp(−height/600 m), per component;
    ``change_east``/``change_north`` [m/s] are added linearly between ``change_start_s`` and ``change_end_s`` of the
    canopy flight (and stay). ``gust_floor`` 0 and ``gust_sd`` 0 make smooth air.
    """

    agl_m: Vector
    east: Vector
    north: Vector
    gust_sd: float = 0.0
    gust_floor: float = 0.15
    cells: tuple[VerticalCell, ...] = ()
    change_east: float = 0.0
    change_north: float = 0.0
    change_start_s: float = 0.0
    change_end_s: float = 1.0

    def mean(self, agl_m: ArrayLike, t_s: ArrayLike = 0.0) -> tuple[Vector, Vector]:
        """Mean wind (east, north) [m/s] at heights and times of canopy flight that broadcast."""
        h = np.maximum(np.asarray(agl_m, dtype=np.float64), LOWEST_M)
        span = max(self.change_end_s - self.change_start_s, 1e-9)
        part = np.clip((np.asarray(t_s, dtype=np.float64) - self.change_start_s) / span, 0.0, 1.0)
        east = np.interp(h, self.agl_m, self.east) + part * self.change_east
        north = np.interp(h, self.agl_m, self.north) + part * self.change_north
        return east, north

    def still(self) -> Air:
        """The same mean wind without gusts, vertical motion or change."""
        return Air(self.agl_m, self.east, self.north, gust_sd=0.0, gust_floor=0.0)


class Column:
    """Fast scalar look-up of an :class:`Air` for the integrator (plain floats, one call a step)."""

    __slots__ = ("air", "changes", "east", "north")

    def __init__(self, air: Air) -> None:
        grid = np.arange(0.0, TOP_M + 2 * STEP_M, STEP_M)
        east, north = np.interp(grid, air.agl_m, air.east), np.interp(grid, air.agl_m, air.north)
        self.air = air
        self.east: list[float] = east.tolist()
        self.north: list[float] = north.tolist()
        self.changes = air.change_east != 0.0 or air.change_north != 0.0

    def mean(self, agl: float, t: float) -> tuple[float, float]:
        """Mean wind at a height and time of canopy flight."""
        x = (agl if agl > LOWEST_M else LOWEST_M) / STEP_M
        i = int(x)
        f = x - i
        east = self.east[i] * (1.0 - f) + self.east[i + 1] * f
        north = self.north[i] * (1.0 - f) + self.north[i + 1] * f
        if self.changes:
            air = self.air
            part = (t - air.change_start_s) / max(air.change_end_s - air.change_start_s, 1e-9)
            part = min(max(part, 0.0), 1.0)
            east += part * air.change_east
            north += part * air.change_north
        return east, north

    def up(self, t: float) -> float:
        """Vertical velocity of the air [m/s], with smooth edges of 2 s."""
        total = 0.0
        for cell in self.air.cells:
            inside = min(t - cell.start_s, cell.start_s + cell.seconds - t)
            if inside > 0.0:
                total += cell.up_mps * min(inside / 2.0, 1.0)
        return total


class Gusts:
    """Gusts met along the flight, exponentially correlated over the way through the air.

    Standard deviation of a component: ``gust_sd`` · exp(−height/600 m) + ``gust_floor``; length scale 40 m at the
    ground, growing to 300 m at 1,000 m.
    """

    __slots__ = ("air", "east", "noise", "north")

    def __init__(self, air: Air, rng: np.random.Generator | None) -> None:
        quiet = rng is None or (air.gust_sd == 0.0 and air.gust_floor == 0.0)
        self.air = air
        self.noise = None if rng is None or quiet else _normals(rng)
        self.east, self.north = next(self.noise) if self.noise else (0.0, 0.0)

    def step(self, way_m: float, agl: float) -> tuple[float, float]:
        """The gust (east, north) [m/s] after ``way_m`` more metres through the air at height ``agl``."""
        if self.noise is None:
            return 0.0, 0.0
        keep = math.exp(-way_m / gust_length(agl))
        kick = math.sqrt(1.0 - keep * keep)
        z = next(self.noise)
        self.east, self.north = keep * self.east + kick * z[0], keep * self.north + kick * z[1]
        scale = self.air.gust_sd * math.exp(-agl / 600.0) + self.air.gust_floor
        return scale * self.east, scale * self.north


def gust_length(agl: float) -> float:
    """Length scale of the gusts [m] at a height."""
    return min(40.0 + 0.26 * max(agl, 0.0), 300.0)


def _normals(rng: np.random.Generator) -> Iterator[tuple[float, float]]:
    while True:
        yield from zip(rng.standard_normal(2048).tolist(), rng.standard_normal(2048).tolist())


def airspeed_factor(altitude_m: float) -> float:
    """True airspeed over its sea-level value, 1/√σ of the standard troposphere: (1 − 2.25577e-5 H)^−2.12794."""
    return float((1.0 - 2.25577e-5 * altitude_m) ** -2.12794)


def power_law_air(
    rng: np.random.Generator,
    *,
    u10_mps: float,
    factor: float,
    extra_mps: float,
    from_deg: float,
    veer_deg: float,
    wiggle_mps: float = 0.35,
    gust_intensity: float = 0.1,
) -> Air:
    """Power law from ``u10_mps`` at 10 m to ``factor · u10 + extra`` at 1,500 m, veering linearly by ``veer_deg`` up to there.

    Above 1,500 m the speed goes on growing linearly. Wiggles: three sines per component with wavelengths of 400 to 1,600 m.
    """
    agl = np.arange(0.0, TOP_M + STEP_M, STEP_M)
    top = factor * u10_mps + extra_mps
    exponent = math.log(top / u10_mps) / math.log(150.0)
    speed = u10_mps * (np.maximum(agl, LOWEST_M) / 10.0) ** exponent
    speed = np.where(agl > 1500.0, top + (agl - 1500.0) / 1000.0 * rng.uniform(0.5, 2.5), speed)
    direction = np.radians(from_deg + veer_deg * np.minimum(agl, 2500.0) / 1500.0)
    wiggles = []
    for _ in range(2):
        wave = np.exp(rng.uniform(math.log(400.0), math.log(1600.0), 3))
        phase = rng.uniform(0.0, 2.0 * math.pi, 3)
        weight = rng.uniform(0.5, 1.0, 3)
        weight *= wiggle_mps * math.sqrt(2.0) / math.sqrt(float(np.sum(weight**2)))
        wiggles.append(np.sum(weight * np.sin(2.0 * math.pi * agl[:, None] / wave + phase), axis=1))
    east = -speed * np.sin(direction) + wiggles[0]
    north = -speed * np.cos(direction) + wiggles[1]
    return Air(agl, east, north, gust_sd=gust_intensity * u10_mps)


def air_from_points(points: Iterable[tuple[float, float, float]]) -> Air:
    """Smooth air from (height [m], speed [m/s], direction it comes from [deg]) rows, vectors linear between them, as forecasts come."""
    rows = sorted(points)
    agl, speed, angle = (np.array(column, dtype=np.float64) for column in zip(*rows))
    angle = np.radians(angle)
    return Air(agl, -speed * np.sin(angle), -speed * np.cos(angle), gust_sd=0.0, gust_floor=0.0)


def uniform_air(speed_mps: float, from_deg: float) -> Air:
    """The same wind at every height, no gusts."""
    angle = math.radians(from_deg)
    agl = np.array([0.0, TOP_M])
    east, north = np.full(2, -speed_mps * math.sin(angle)), np.full(2, -speed_mps * math.cos(angle))
    return Air(agl, east, north, gust_sd=0.0, gust_floor=0.0)
