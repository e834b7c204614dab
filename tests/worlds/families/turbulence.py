"""Turbulence met along the flight: Dryden's spectra with the scales of MIL-F-8785C, and thermals.

Low altitude (below 1,000 ft): Lw = h, Lu = Lv = h/(0.177 + 0.000823 h)^1.2, σw = 0.1 W20, σu = σv = σw/(0.177 + 0.000823 h)^0.4
(h in ft, W20 the wind at 20 ft). Above 2,000 ft: L = 1,750 ft and one σ for all three, from the exceedance curves; linear between.
The column of exceedance 0.2: 2.2 ft/s at 1,750 ft, 1.5 at 3,750, 0 at 7,500 (from memory of the table that flight simulators quote).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["Dryden", "Thermals", "dryden_scales", "thermal_profile"]

Vector = NDArray[np.float64]

FT = 0.3048
ROOT3 = math.sqrt(3.0)
HALF = math.sqrt(0.5)
STEP_M = 10.0
TOP_M = 6000.0


def dryden_scales(h_m: float, w20_mps: float, aloft: float) -> tuple[float, float, float, float]:
    """(σ horizontal, σ vertical [m/s], L horizontal, L vertical [m]) at a height; ``aloft`` times the curve of exceedance 0.2."""
    low, high = 1000.0, 2000.0
    h = max(h_m / FT, 10.0)
    below = min(h, low)
    ratio = 0.177 + 0.000823 * below
    sw = 0.1 * w20_mps
    su, lu, lw = sw / ratio**0.4, below / ratio**1.2 * FT, below * FT
    above = aloft * FT * float(np.interp(max(h, high), [1750.0, 3750.0, 7500.0], [2.2, 1.5, 0.0]))
    part = min(max((h - low) / (high - low), 0.0), 1.0)
    length = 1750.0 * FT
    return (
        su + (above - su) * part,
        sw + (above - sw) * part,
        lu + (length - lu) * part,
        lw + (length - lw) * part,
    )


class Dryden:
    """The three gust components along the flight path, one step at a time: along, to the right, up.

    Along: first order. Across and up: (1 + √3 τs)/(1 + τs)², realised as √½(√3 y1 + (1 − √3) y2) of two lags in a row.
    """

    __slots__ = ("along", "noise", "tables", "up1", "up2", "v1", "v2")

    def __init__(self, rng: np.random.Generator, w20_mps: float, aloft: float) -> None:
        heights = np.arange(0.0, TOP_M, STEP_M)
        self.tables = [dryden_scales(float(h), w20_mps, aloft) for h in heights]
        self.noise = _normals(rng)
        self.along, self.v1, self.v2, self.up1, self.up2 = rng.standard_normal(5).tolist()
        self.v2, self.up2 = (HALF * HALF * a + 0.5 * b for a, b in ((self.v1, self.v2), (self.up1, self.up2)))

    def step(self, way_m: float, agl: float) -> tuple[float, float, float]:
        """Gusts [m/s] after ``way_m`` more metres through the air."""
        su, sw, lu, lw = self.tables[min(max(int(agl / STEP_M), 0), len(self.tables) - 1)]
        noise = self.noise
        keep = math.exp(-way_m / lu)
        kick = math.sqrt(1.0 - keep * keep)
        self.along = keep * self.along + kick * next(noise)
        before = self.v1
        self.v1 = keep * before + kick * next(noise)
        self.v2 = keep * self.v2 + (1.0 - keep) * 0.5 * (before + self.v1)
        keep = math.exp(-way_m / lw)
        before = self.up1
        self.up1 = keep * before + math.sqrt(1.0 - keep * keep) * next(noise)
        self.up2 = keep * self.up2 + (1.0 - keep) * 0.5 * (before + self.up1)
        across = su * HALF * (ROOT3 * self.v1 + (1.0 - ROOT3) * self.v2)
        return su * self.along, across, sw * HALF * (ROOT3 * self.up1 + (1.0 - ROOT3) * self.up2)


def _normals(rng: np.random.Generator):  # type: ignore[no-untyped-def]
    while True:
        yield from rng.standard_normal(8192).tolist()


def thermal_profile(r_m: float | Vector, core_m: float) -> float | Vector:
    """Rise over its peak at a distance from the axis: exp(−q)(1 − q), q = (r/R)² (Gedeon 1973, Technical Soaring; from memory)."""
    q = np.square(np.asarray(r_m) / core_m)
    return np.exp(-q) * (1.0 - q)


class Thermals:
    """A field of thermals that drifts with the air, so that it stands still in the coordinates of the air mass.

    Peak over height as in Allen (2006, NASA/TM-2006-213672; from memory): w*·(z/zi)^⅓·(1 − 1.1 z/zi), none above zi/1.1.
    """

    SIDE_M = 3000.0
    CELL_M = 15.0

    def __init__(self, rng: np.random.Generator, w_star: float, zi_m: float) -> None:
        n = int(self.SIDE_M / self.CELL_M)
        count = int(rng.poisson(0.6 * (self.SIDE_M / zi_m) ** 2)) if w_star > 0.0 else 0
        self.w_star, self.zi = w_star, zi_m
        axis = (np.arange(n) + 0.5) * self.CELL_M
        field = np.zeros((n, n))
        for x, y in rng.uniform(0.0, self.SIDE_M, (count, 2)):
            core = float(rng.uniform(0.05, 0.12)) * zi_m
            dx = np.abs(axis - x)
            dy = np.abs(axis - y)
            dx, dy = np.minimum(dx, self.SIDE_M - dx), np.minimum(dy, self.SIDE_M - dy)
            field += float(rng.uniform(0.6, 1.4)) * np.asarray(
                thermal_profile(np.hypot(dx[:, None], dy[None, :]), core)
            )
        self.field: list[list[float]] | None = (field - field.mean()).tolist() if count else None
        self.n = n

    def up(self, air_east_m: float, air_north_m: float, agl: float) -> float:
        """Vertical velocity of the air [m/s] at a place in the air mass."""
        z = agl / self.zi
        if self.field is None or z >= 0.909 or z <= 0.0:
            return 0.0
        x, y = air_east_m / self.CELL_M, air_north_m / self.CELL_M
        i, j = math.floor(x), math.floor(y)
        f, g, n = x - i, y - j, self.n
        a, b = self.field[i % n], self.field[(i + 1) % n]
        j0, j1 = j % n, (j + 1) % n
        here = (a[j0] * (1.0 - g) + a[j1] * g) * (1.0 - f) + (b[j0] * (1.0 - g) + b[j1] * g) * f
        return float(self.w_star * z ** (1.0 / 3.0) * (1.0 - 1.1 * z) * here)
