"""Local east/north/up metres about a point of the WGS 84 ellipsoid."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["LocalFrame", "apart_m", "great_circle_m"]

_A = 6378137.0
_F = 1.0 / 298.257223563
_E2 = _F * (2.0 - _F)
_DEGREE_M = 111_195.0  # on a sphere
_SPHERE_M = 6.371e6

Vector = NDArray[np.float64]


def apart_m(lat_a: ArrayLike, lon_a: ArrayLike, lat_b: ArrayLike, lon_b: ArrayLike) -> Vector:
    """Distances [m] of places a and b [deg], by broadcasting: on a sphere, for short ways, across ±180° too.

    Good to 0.6 %, which tells one place from another; what is measured goes through :class:`LocalFrame`.
    """
    a, b = np.asarray(lat_a, float), np.asarray(lat_b, float)
    turn = np.mod(np.asarray(lon_b, float) - np.asarray(lon_a, float) + 180.0, 360.0) - 180.0
    return np.asarray(_DEGREE_M * np.hypot(turn * np.cos(np.radians(a)), b - a))


def great_circle_m(lat_a: ArrayLike, lon_a: ArrayLike, lat_b: ArrayLike, lon_b: ArrayLike) -> Vector:
    """Distances of places a and b, however far apart, by broadcasting.

    Parameters
    ----------
    lat_a, lon_a, lat_b, lon_b : array_like
        Latitudes and longitudes [deg, WGS 84].

    Returns
    -------
    ndarray
        Along the great circle of a sphere (haversine), good to 0.5 % [m].
    """
    lat, lon = np.radians(lat_a), np.radians(lon_a)
    lat0, lon0 = np.radians(lat_b), np.radians(lon_b)
    half = np.sin((lat - lat0) / 2.0) ** 2 + np.cos(lat) * np.cos(lat0) * np.sin((lon - lon0) / 2.0) ** 2
    return np.asarray(2.0 * _SPHERE_M * np.arcsin(np.sqrt(np.clip(half, 0.0, 1.0))))


def _ecef(lat_deg: ArrayLike, lon_deg: ArrayLike, height_m: ArrayLike) -> tuple[Vector, Vector, Vector]:
    lat, lon = np.radians(np.asarray(lat_deg, float)), np.radians(np.asarray(lon_deg, float))
    h = np.asarray(height_m, float)
    n = _A / np.sqrt(1.0 - _E2 * np.sin(lat) ** 2)
    return (
        (n + h) * np.cos(lat) * np.cos(lon),
        (n + h) * np.cos(lat) * np.sin(lon),
        (n * (1.0 - _E2) + h) * np.sin(lat),
    )


@dataclass(frozen=True, slots=True)
class LocalFrame:
    """East/north metres about (``lat_deg``, ``lon_deg``), degrees of WGS 84. Raises ValueError for a place not on the globe.

    A degree of longitude on the equator is a·π/180 = 111,319.49 m:

    >>> east, north = LocalFrame(0.0, 0.0).to_local(0.0, 0.001)
    >>> round(float(east), 3), round(float(north), 3)
    (111.319, 0.0)
    >>> lat, lon = LocalFrame(49.7215, -107.9342).to_geodetic(100.0, -50.0)
    >>> round(float(lat), 5), round(float(lon), 5)
    (49.72105, -107.93281)
    """

    lat_deg: float
    lon_deg: float

    def __post_init__(self) -> None:
        if not (abs(self.lat_deg) <= 90.0 and abs(self.lon_deg) <= 180.0):
            raise ValueError(
                f"origin {self.lat_deg}, {self.lon_deg} is not a latitude within ±90 and a longitude within ±180"
            )

    def _axes(self) -> tuple[float, float, float, float]:
        lat, lon = math.radians(self.lat_deg), math.radians(self.lon_deg)
        return math.sin(lat), math.cos(lat), math.sin(lon), math.cos(lon)

    def enu(
        self, lat_deg: ArrayLike, lon_deg: ArrayLike, height_m: ArrayLike = 0.0, origin_height_m: float = 0.0
    ) -> tuple[Vector, Vector, Vector]:
        """East, north, up [m] in the tangent plane, through earth-centred coordinates (exact)."""
        x, y, z = _ecef(lat_deg, lon_deg, height_m)
        x0, y0, z0 = _ecef(self.lat_deg, self.lon_deg, origin_height_m)
        dx, dy, dz = x - x0, y - y0, z - z0
        s, c, sl, cl = self._axes()
        return -sl * dx + cl * dy, -s * cl * dx - s * sl * dy + c * dz, c * cl * dx + c * sl * dy + s * dz

    def to_local(self, lat_deg: ArrayLike, lon_deg: ArrayLike) -> tuple[Vector, Vector]:
        """East, north [m] of points on the ellipsoid; better than 1 cm within 10 km."""
        east, north, _ = self.enu(lat_deg, lon_deg)
        return east, north

    def to_geodetic(self, east_m: ArrayLike, north_m: ArrayLike) -> tuple[Vector, Vector]:
        """Latitude and longitude [deg] of points given in local metres (inverse of :meth:`to_local`)."""
        east, north = np.asarray(east_m, float), np.asarray(north_m, float)
        s2 = 1.0 - _E2 * math.sin(math.radians(self.lat_deg)) ** 2
        radius_m, radius_n = _A * (1.0 - _E2) / s2**1.5, _A / math.sqrt(s2)
        lat = self.lat_deg + np.degrees(north / radius_m)
        lon = self.lon_deg + np.degrees(east / (radius_n * max(math.cos(math.radians(self.lat_deg)), 1e-6)))
        for _ in range(6):
            e, n = self.to_local(lat, lon)
            lat = np.clip(lat + np.degrees((north - n) / radius_m), -90.0, 90.0)
            cos = np.maximum(np.cos(np.radians(lat)), 1e-6)
            lon = lon + np.degrees((east - e) / (radius_n * cos))
        return lat, np.mod(lon + 180.0, 360.0) - 180.0
