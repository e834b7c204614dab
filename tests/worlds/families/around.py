"""What lies before and after the canopy flight: standing about, take-off, climb, free fall, run-out, the walk back."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .craft import DT_S, RHO0, G
from .sky import Sky

__all__ = ["Fall", "after_landing", "climb", "free_fall", "standing_and_roll"]

Vector = NDArray[np.float64]
Piece = tuple[Vector, Vector, Vector]

PLANE_MPS = 45.0
CIRCLE_M = 1400.0
ROLL_S = 20.0


class Fall(NamedTuple):
    """East, north from the exit, height; and the speeds at line stretch."""

    east_m: Vector
    north_m: Vector
    agl_m: Vector
    down_mps: float


def free_fall(sky: Sky, exit_agl: float, end_agl: float, run_in_rad: float, terminal_mps: float) -> Fall:
    """A body with quadratic drag in the mean wind, thrown forward by the aeroplane; ``terminal_mps`` at sea level."""
    heights = np.arange(0.0, exit_agl + 60.0, 50.0)
    wind_e, wind_n = sky.mean(heights, 0.0)
    rho = sky.day.density(heights)
    k0 = G / (terminal_mps**2 * RHO0)
    e = n = 0.0
    h = exit_agl
    top = min(int(h / 50.0), heights.shape[0] - 1)
    ve, vn, vu = (
        PLANE_MPS * math.sin(run_in_rad) + wind_e[top],
        PLANE_MPS * math.cos(run_in_rad) + wind_n[top],
        0.0,
    )
    rows = []
    while h > end_agl:
        rows.append((e, n, h))
        i = min(int(h / 50.0), heights.shape[0] - 1)
        ae, an = ve - wind_e[i], vn - wind_n[i]
        drag = k0 * rho[i] * math.sqrt(ae * ae + an * an + vu * vu)
        ve, vn, vu = ve - DT_S * drag * ae, vn - DT_S * drag * an, vu - DT_S * (G + drag * vu)
        e, n, h = e + ve * DT_S, n + vn * DT_S, h + vu * DT_S
    east, north, agl = (np.array(c) for c in zip(*rows))
    return Fall(east, north, agl, -vu)


def climb(seconds: float, exit_agl: float, run_in_rad: float, side: int) -> tuple[Piece, float]:
    """Circles under a centre that stands still, then 40 s of level run-in that ends at (0, 0); also the heading at its beginning."""
    n = int(seconds / DT_S)
    t = np.arange(n) * DT_S
    psi = run_in_rad - side * PLANE_MPS / CIRCLE_M * (seconds - t)
    level = np.arange(1, int(40.0 / DT_S) + 1) * DT_S
    run_e, run_n = PLANE_MPS * math.sin(run_in_rad), PLANE_MPS * math.cos(run_in_rad)
    back = float(level[-1])
    centre_e, centre_n = (
        -run_e * back + side * CIRCLE_M * math.cos(run_in_rad),
        -run_n * back - side * CIRCLE_M * math.sin(run_in_rad),
    )
    east = np.concatenate([centre_e - side * CIRCLE_M * np.cos(psi), run_e * (level - back)])
    north = np.concatenate([centre_n + side * CIRCLE_M * np.sin(psi), run_n * (level - back)])
    rate = np.clip(t / 10.0, 0.0, 1.0) * (1.0 - (t / seconds) ** 4)
    up = np.cumsum(rate)
    agl = np.concatenate([exit_agl * up / up[-1], np.full(level.shape[0], exit_agl)])
    return (east, north, agl), float(psi[0])


def standing_and_roll(wait_s: float, heading: float, end: tuple[float, float]) -> Piece:
    """Standing, then the take-off roll that ends at a place with the speed of the climb."""
    stand, roll = int(wait_s / DT_S), int(ROLL_S / DT_S)
    t = np.arange(1, roll + 1) * DT_S
    along = 0.5 * PLANE_MPS / ROLL_S * t * t
    s = np.concatenate([np.zeros(stand), along]) - along[-1]
    return end[0] + s * math.sin(heading), end[1] + s * math.cos(heading), np.zeros(s.shape[0])


def after_landing(
    rng: np.random.Generator, place: tuple[float, float], velocity: tuple[float, float]
) -> Piece:
    """Run or slide out with 2 to 4.5 m/s², stand for a while, walk away with 1.3 m/s."""
    speed = math.hypot(*velocity)
    slowing = float(rng.uniform(2.0, 4.5))
    t = np.arange(1, int(float(rng.uniform(100.0, 180.0)) / DT_S)) * DT_S
    running = np.minimum(t, speed / slowing)
    along = speed * running - 0.5 * slowing * running**2
    stand = speed / slowing + float(rng.uniform(8.0, 40.0))
    walked = 1.3 * np.clip(t - stand, 0.0, None)
    away = float(rng.uniform(0.0, 2.0 * math.pi))
    de, dn = (velocity[0] / speed, velocity[1] / speed) if speed > 0.1 else (0.0, 0.0)
    return (
        place[0] + de * along + walked * math.sin(away),
        place[1] + dn * along + walked * math.cos(away),
        np.zeros(t.shape[0]),
    )
