"""Mean wind profiles of textbooks: velocity of the air (east, north) on a grid of heights.

Sources (from memory unless a file is named): power law and log law (Arya, Introduction to Micrometeorology); spiral of the
Ekman layer above a surface layer (Taylor 1915, as in Blackadar, Turbulence and Diffusion in the Atmosphere); low-level jet as
the single-maximum profile h·exp(1−h); shear layer as the hyperbolic tangent of Drazin (1958); real soundings of
``shared/real`` (MetPy's static data).
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

__all__ = ["GRID_M", "PROFILES", "ekman", "log_law", "low_level_jet", "power_law", "shear_layer", "sounding"]

Vector = NDArray[np.float64]
Profile = tuple[Vector, Vector]

STEP_M = 2.0
GRID_M: Vector = np.arange(0.0, 6000.0 + STEP_M, STEP_M)
LOWEST_M = 2.0
KARMAN = 0.4
SOUNDINGS = Path(__file__).resolve().parents[3] / "shared" / "real" / "radiosonde_winds_below_6km.csv"


def power_law(u10: float, exponent: float, heights: Vector = GRID_M) -> Profile:
    """u10·(h/10)^p along the first axis up to 1,500 m, constant above."""
    u = u10 * (np.clip(heights, LOWEST_M, 1500.0) / 10.0) ** exponent
    return u, np.zeros_like(u)


def log_law(u10: float, roughness_m: float, heights: Vector = GRID_M, top_m: float = 250.0) -> Profile:
    """u*/κ·ln(h/z0) up to ``top_m``, constant above; u* so that the wind at 10 m is ``u10``."""
    friction = KARMAN * u10 / math.log(10.0 / roughness_m)
    u = friction / KARMAN * np.log(np.clip(heights, LOWEST_M, top_m) / roughness_m)
    return u, np.zeros_like(u)


def ekman(
    geostrophic: float,
    depth_m: float,
    angle_deg: float,
    heights: Vector = GRID_M,
    *,
    surface_m: float = 40.0,
    roughness_m: float = 0.05,
    south: bool = False,
) -> Profile:
    """Spiral above a surface layer, first axis along the geostrophic wind, second to its left (right in the ``south``).

    With ζ = π(z − zs)/D and the surface angle α: u = G(1 − √2 sin α e^−ζ cos(ζ + π/4 − α)), v = G √2 sin α e^−ζ sin(ζ + π/4 − α);
    below ``surface_m`` a log law in that direction.
    """
    a = math.radians(angle_deg)
    zeta = math.pi * np.maximum(heights - surface_m, 0.0) / depth_m
    fall = math.sqrt(2.0) * math.sin(a) * np.exp(-zeta)
    u = geostrophic * (1.0 - fall * np.cos(zeta + math.pi / 4.0 - a))
    v = geostrophic * fall * np.sin(zeta + math.pi / 4.0 - a)
    h = np.clip(heights, LOWEST_M, surface_m)
    low = np.log(h / roughness_m) / math.log(surface_m / roughness_m)
    return u * low, (-v if south else v) * low


def low_level_jet(u10: float, jet: float, nose_m: float, heights: Vector = GRID_M) -> Profile:
    """Log law of a smooth field plus a jet of ``jet`` m/s with its nose at ``nose_m``."""
    u, v = log_law(u10, 0.03, heights, top_m=100.0)
    x = heights / nose_m
    return u + jet * x * np.exp(1.0 - x), v


def shear_layer(
    u10: float, change: tuple[float, float], at_m: float, depth_m: float, heights: Vector = GRID_M
) -> Profile:
    """Wind of a mixed layer, and beyond an inversion at ``at_m`` another that differs by ``change``: ½(1 + tanh((h − h0)/d))."""
    u, v = log_law(u10, 0.1, heights, top_m=150.0)
    part = 0.5 * (1.0 + np.tanh((heights - at_m) / depth_m))
    return u + change[0] * part, v + change[1] * part


@cache
def _soundings() -> dict[str, tuple[Vector, Vector, Vector]]:
    if not SOUNDINGS.is_file():
        return {}
    rows: dict[str, list[tuple[float, float, float]]] = {}
    with SOUNDINGS.open(newline="") as file:
        for row in csv.DictReader(file):
            a, s = math.radians(float(row["dir_from_deg"])), float(row["speed_kt"]) * 1852.0 / 3600.0
            rows.setdefault(row["sounding"], []).append(
                (float(row["hght_m_msl"]), -s * math.sin(a), -s * math.cos(a))
            )
    found = {}
    for name, levels in rows.items():
        h, e, n = (np.array(c) for c in zip(*sorted(levels)))
        found[name] = (h - h[0], e, n)
    return found


def sounding(name: str, low_mps: float, heights: Vector = GRID_M) -> Profile | None:
    """A real sounding turned and scaled to a speed of ``low_mps`` averaged below 1,500 m, log law below its second level; None without the file."""
    levels = _soundings().get(name)
    if levels is None:
        return None
    h, e, n = levels
    anchor = max(float(h[1]), 100.0)
    use = np.concatenate([[anchor], h[h > anchor]])
    u, v = np.interp(heights, use, np.interp(use, h, e)), np.interp(heights, use, np.interp(use, h, n))
    low = np.log(np.clip(heights, LOWEST_M, anchor) / 0.05) / math.log(anchor / 0.05)
    u, v = u * low, v * low
    part = heights <= 1500.0
    scale = low_mps / max(float(np.mean(np.hypot(u[part], v[part]))), 0.1)
    return u * scale, v * scale


def _draw_power(rng: np.random.Generator) -> Profile:
    return power_law(float(rng.uniform(0.8, 7.0)), float(rng.uniform(0.08, 0.32)))


def _draw_log(rng: np.random.Generator) -> Profile:
    return log_law(float(rng.uniform(0.8, 7.0)), float(10.0 ** rng.uniform(-2.0, -0.3)))


def _draw_ekman(rng: np.random.Generator) -> Profile:
    return ekman(
        float(rng.uniform(3.0, 14.0)),
        float(rng.uniform(400.0, 1500.0)),
        float(rng.uniform(12.0, 32.0)),
        surface_m=float(rng.uniform(25.0, 80.0)),
        roughness_m=float(10.0 ** rng.uniform(-2.0, -0.5)),
        south=bool(rng.random() < 0.5),
    )


def _draw_jet(rng: np.random.Generator) -> Profile:
    return low_level_jet(
        float(rng.uniform(0.5, 4.0)), float(rng.uniform(3.0, 9.0)), float(rng.uniform(150.0, 600.0))
    )


def _draw_shear(rng: np.random.Generator) -> Profile:
    size, angle = rng.uniform(2.0, 7.0), rng.uniform(0.0, 2.0 * math.pi)
    change = (float(size * math.cos(angle)), float(size * math.sin(angle)))
    return shear_layer(
        float(rng.uniform(0.8, 5.0)),
        change,
        float(rng.uniform(200.0, 1000.0)),
        float(rng.uniform(30.0, 120.0)),
    )


def _draw_sounding(rng: np.random.Generator) -> Profile:
    name = str(rng.choice(["jan20", "may4", "nov11", "oun_2011-05-22_12Z"]))
    low = float(rng.uniform(2.0, 9.0))
    found = sounding(name, low)
    return power_law(0.7 * low, 0.14) if found is None else found


PROFILES: dict[str, Callable[[np.random.Generator], Profile]] = {
    "power law": _draw_power,
    "log law": _draw_log,
    "Ekman spiral": _draw_ekman,
    "low-level jet": _draw_jet,
    "shear layer": _draw_shear,
    "sounding": _draw_sounding,
}
