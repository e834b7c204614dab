"""Local metres to latitude and longitude for made-up jumps: an own series, so that the analysis' frame is checked, not shared."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["to_geodetic"]

A_M = 6378137.0
E2 = 6.69437999014e-3


def to_geodetic(
    lat0_deg: float, lon0_deg: float, east_m: ArrayLike, north_m: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Latitude and longitude [deg, WGS 84] of points in metres about (``lat0_deg``, ``lon0_deg``).

    Taylor series of the geodesic on the ellipsoid to third order (Legendre's series with the local radii of
    curvature M and N); a few centimetres within 15 km up to 60° latitude.
    """
    e, n = np.asarray(east_m, dtype=np.float64), np.asarray(north_m, dtype=np.float64)
    lat0 = math.radians(lat0_deg)
    s2 = 1.0 - E2 * math.sin(lat0) ** 2
    big_m, big_n = A_M * (1.0 - E2) / s2**1.5, A_M / math.sqrt(s2)
    t = math.tan(lat0)
    eta2 = E2 / (1.0 - E2) * math.cos(lat0) ** 2
    lat = (
        lat0
        + n / big_m
        - e * e * t / (2.0 * big_m * big_n)
        - 1.5 * n * n * t * eta2 / (big_n * big_m)
        - e * e * n * (1.0 + 3.0 * t * t) / (6.0 * big_m * big_n * big_n)
    )
    lon = math.radians(lon0_deg) + (
        e / big_n + e * n * t / big_n**2 + (e * n * n * (1.0 + 3.0 * t * t) - e**3 * t * t) / (3.0 * big_n**3)
    ) / math.cos(lat0)
    lon_deg = np.mod(np.degrees(lon) + 180.0, 360.0) - 180.0
    return np.degrees(lat), lon_deg
