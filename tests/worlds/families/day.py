"""The day: temperature and pressure at the landing area, and the density they make (ideal gas, lapse of 6.5 K per km)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["Day", "draw_day"]

R = 287.053
G = 9.80665
LAPSE = 0.0065
SEA_LEVEL_K = 288.15
SEA_LEVEL_PA = 101325.0


@dataclass(frozen=True, slots=True)
class Day:
    """``warmer_k`` the temperature over the standard one at every height; ``pressure_pa`` reduced to sea level."""

    elevation_m: float
    warmer_k: float = 0.0
    pressure_pa: float = SEA_LEVEL_PA

    def density(self, agl_m: ArrayLike) -> NDArray[np.float64]:
        """Air density [kg/m³] at heights above the landing area; hydrostatic with the warm or cold column."""
        z = self.elevation_m + np.asarray(agl_m, dtype=np.float64)
        base = SEA_LEVEL_K + self.warmer_k
        temperature = base - LAPSE * z
        pressure = self.pressure_pa * (temperature / base) ** (G / (R * LAPSE))
        return np.asarray(pressure / (R * temperature))

    def told_by_barometer(self, agl_m: ArrayLike) -> NDArray[np.float64]:
        """What an altimeter built on the standard atmosphere and zeroed at the landing area shows [m]."""
        z = self.elevation_m + np.append(np.asarray(agl_m, dtype=np.float64), 0.0)
        base = SEA_LEVEL_K + self.warmer_k
        ratio = self.pressure_pa / SEA_LEVEL_PA * ((base - LAPSE * z) / base) ** (G / (R * LAPSE))
        pressure_altitude = SEA_LEVEL_K / LAPSE * (1.0 - ratio ** (R * LAPSE / G))
        return np.asarray(pressure_altitude[:-1] - pressure_altitude[-1])


def draw_day(rng: np.random.Generator) -> Day:
    """Jumping weather: −12 to +20 K off the standard temperature, 1013 ± 8 hPa, fields up to 1,400 m."""
    return Day(
        elevation_m=float(rng.uniform(0.0, 1400.0)),
        warmer_k=float(np.clip(rng.normal(5.0, 8.0), -12.0, 20.0)),
        pressure_pa=float(SEA_LEVEL_PA + np.clip(rng.normal(300.0, 800.0), -1800.0, 2200.0)),
    )
