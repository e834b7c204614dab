"""The aeroplane of a made-up jump: the climb to the exit, and a ride down with nobody leaving."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from analyser.synthetic.timeline import DT_S, Piece, ticks

__all__ = ["climb", "ride"]

Vector = NDArray[np.float64]

RADIUS_M = 1400.0
RUN_IN_S = 45.0


def climb(
    start_m: tuple[float, float],
    start_deg: float,
    exit_m: tuple[float, float],
    run_in_deg: float,
    *,
    start_agl_m: float,
    exit_agl_m: float,
    seconds: float,
    speed_mps: float = 45.0,
    side: int = 1,
) -> Piece:
    """From the end of the take-off roll to the door: circles about a slowly moving centre, then the level run-in.

    Joins the runway's direction at the start and the run-in at the end; the turning radius (near 1,400 m) follows from time and speed.
    """
    up_s = max(seconds - RUN_IN_S, 60.0)
    heading0, heading1 = math.radians(start_deg), math.radians(run_in_deg)
    change = ((heading1 - heading0) * side) % (2.0 * math.pi)
    turns = max(round((speed_mps * up_s / RADIUS_M - change) / (2.0 * math.pi)), 1)
    total = change + 2.0 * math.pi * turns
    radius = speed_mps * up_s / total
    n = round(up_s / DT_S)
    clock = ticks(n + round(RUN_IN_S / DT_S) + 1)
    u = np.arange(n + 1) / n
    psi = heading0 + side * total * u
    turn_e = exit_m[0] - speed_mps * RUN_IN_S * math.sin(heading1)
    turn_n = exit_m[1] - speed_mps * RUN_IN_S * math.cos(heading1)
    first = (start_m[0] + side * radius * math.cos(heading0), start_m[1] - side * radius * math.sin(heading0))
    last = (turn_e + side * radius * math.cos(heading1), turn_n - side * radius * math.sin(heading1))
    ease = u * u * (3.0 - 2.0 * u)
    along = speed_mps * (clock[n + 1 :] - n * DT_S)
    east = first[0] + (last[0] - first[0]) * ease - side * radius * np.cos(psi)
    north = first[1] + (last[1] - first[1]) * ease + side * radius * np.sin(psi)
    return Piece(
        "climb",
        clock,
        np.concatenate([east, turn_e + math.sin(heading1) * along]),
        np.concatenate([north, turn_n + math.cos(heading1) * along]),
        start_agl_m + (exit_agl_m - start_agl_m) * _rise(clock, n * DT_S),
    )


def _rise(clock: Vector, up_s: float) -> Vector:
    """Share of the climb done: the rate grows over ten seconds, falls off towards the top."""
    u = np.minimum(clock / up_s, 1.0)
    rate = np.minimum(clock / 10.0, 1.0) * (1.0 - u**4)
    done = np.cumsum(rate)
    share: Vector = done / done[-1]
    return share


def ride(
    up: Piece,
    run_in_deg: float,
    runway_m: tuple[float, float],
    runway_deg: float,
    *,
    agl_m: float,
    sink_mps: float,
) -> list[Piece]:
    """Down again in the aeroplane from where ``up`` ended: the way up backwards, ``sink_mps`` on the mean, and the landing roll."""
    back = climb(
        runway_m,
        (runway_deg + 180.0) % 360.0,
        (float(up.east_m[-1]), float(up.north_m[-1])),
        (run_in_deg + 180.0) % 360.0,
        start_agl_m=agl_m,
        exit_agl_m=float(up.agl_m[-1]),
        seconds=(float(up.agl_m[-1]) - agl_m) / sink_mps + RUN_IN_S,
        speed_mps=48.0,
    )
    down = Piece(
        "climb", back.t_s, back.east_m[::-1].copy(), back.north_m[::-1].copy(), back.agl_m[::-1].copy()
    )
    roll_s = 22.0
    clock = np.arange(0.0, roll_s + 60.0 + 1e-9, DT_S)
    t = np.minimum(clock, roll_s)
    along = 45.0 * (t - t * t / (2.0 * roll_s))
    a = math.radians(runway_deg)
    roll = Piece(
        "ground after",
        clock,
        runway_m[0] + along * math.sin(a),
        runway_m[1] + along * math.cos(a),
        np.full(clock.shape, agl_m),
    )
    return [down, roll]
