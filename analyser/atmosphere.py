"""Density of the standard atmosphere, ISO 2533:1975 (troposphere)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["G_MPS2", "density_altitude", "density_factor", "density_ratio", "true_airspeed_factor"]

G_MPS2 = 9.80665
"""Standard acceleration of gravity (ISO 80000-3; ISO 2533 takes it too)."""
_T0, _LAPSE, _R = 288.15, 0.0065, 287.05287


def density_ratio(altitude_m: ArrayLike) -> NDArray[np.float64]:
    """Air density over its sea-level value at ``altitude_m`` above sea level (-5,000 to 11,000 m).

    ISO 2533:1975: T = 288.15 − 0.0065 H, σ = (T/288.15)^(g/(R·L) − 1). Geopotential and geometric
    height are not told apart (less than 3e-4 at 4 km).

    >>> round(float(density_ratio(1000.0)), 6)
    0.907463
    """
    temperature_ratio = (
        1.0 - _LAPSE * np.clip(np.asarray(altitude_m, dtype=np.float64), -5000.0, 11000.0) / _T0
    )
    return np.asarray(temperature_ratio ** (G_MPS2 / (_R * _LAPSE) - 1.0))


def true_airspeed_factor(altitude_m: ArrayLike) -> NDArray[np.float64]:
    """1/√σ: true airspeed (and sink) over its value at sea-level density, ``altitude_m`` above sea level, any shape.

    >>> round(float(true_airspeed_factor(1000.0)), 4)
    1.0497
    """
    return np.asarray(1.0 / np.sqrt(density_ratio(altitude_m)))


def density_factor(temperature_c: float, qnh_hpa: float, elevation_m: float) -> float:
    """Density of dry air at ``elevation_m`` above sea level over that of the standard atmosphere there.

    ``qnh_hpa`` is the pressure brought to sea level in the standard atmosphere, as a METAR has it, so that the pressure of the
    place is p = (QNH^n − p0^n + p_ISA^n)^(1/n) with n = R·L/g (ISO 2533). Moist air is up to 1 % lighter: left out.

    >>> round(density_factor(30.0, 1013.25, 0.0), 4)
    0.9505
    """
    n = _R * _LAPSE / G_MPS2
    standard_k = _T0 - _LAPSE * elevation_m
    standard = (standard_k / _T0) ** (1.0 / n)
    here = max((qnh_hpa / 1013.25) ** n - 1.0 + standard**n, 0.0) ** (1.0 / n)
    return float(here / standard * standard_k / (temperature_c + 273.15))


def density_altitude(altitude_m: float, factor: float) -> float:
    """The height in the standard atmosphere [m above sea level] at which the air is ``factor`` times as dense as at ``altitude_m``.

    ISO 2533:1975, :func:`density_ratio` turned round.

    >>> round(density_altitude(0.0, density_factor(30.0, 1013.25, 0.0)), 1)
    525.5
    """
    power = G_MPS2 / (_R * _LAPSE) - 1.0
    return float((1.0 - (factor * density_ratio(altitude_m)) ** (1.0 / power)) * _T0 / _LAPSE)
