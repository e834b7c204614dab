"""The way up and the fall: aeroplane climb, exit, free fall and opening of a made-up jump (before the canopy flies)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.synthetic.air import Air

__all__ = ["Fall", "climb", "fall"]

Vector = NDArray[np.float64]

G = 9.80665
DT_S = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Fall:
    """The fall every 0.1 s: time from the exit, metres from the exit, height; ``deploy_s`` when the opening begins."""

    t_s: Vector
    east_m: Vector
    north_m: Vector
    agl_m: Vector
    deploy_s: float


def fall(
    air: Air,
    *,
    exit_agl_m: float,
    open_agl_m: float,
    exit_speed_mps: float,
    run_in_deg: float,
    terminal_mps: float = 53.0,
    forward_mps: float = 2.0,
    forward_deg: float = 0.0,
    opening_s: float = 4.0,
    open_sink_mps: float = 5.0,
) -> Fall:
    """Free fall and opening from ``exit_agl_m`` until the canopy flies at ``open_agl_m``.

    Vertical: quadratic drag towards ``terminal_mps`` (at the height of opening; 5 % more per 1,000 m above), then over
    ``opening_s`` a smooth slow-down to ``open_sink_mps``. Horizontal: the throw from the aeroplane dies away in 4 s
    through the air, ``forward_mps`` towards ``forward_deg`` remain, the wind carries all.
    """
    loss = _opening_loss(terminal_mps, open_sink_mps, opening_s)
    deploy_agl = min(open_agl_m + loss, exit_agl_m - 2.0)
    speed, agl, t = 0.0, exit_agl_m, 0.0
    down: list[float] = []
    heights: list[float] = []
    while agl > deploy_agl:
        limit = terminal_mps * (1.0 + 5e-5 * max(agl - open_agl_m, 0.0))
        heights.append(agl)
        down.append(speed)
        speed += G * (1.0 - (speed / limit) ** 2) * DT_S
        agl -= speed * DT_S
        t += DT_S
    deploy = t
    fastest = speed
    while agl > open_agl_m or t < deploy + opening_s:
        part = min((t - deploy) / opening_s, 1.0)
        speed = open_sink_mps + (fastest - open_sink_mps) * 0.5 * (1.0 + math.cos(math.pi * part))
        heights.append(agl)
        down.append(speed)
        agl -= speed * DT_S
        t += DT_S
    heights.append(agl)
    h = np.array(heights)
    clock = np.arange(h.shape[0]) * DT_S
    wind_e, wind_n = air.mean(h)
    throw = exit_speed_mps * np.exp(-clock / 4.0)
    own = forward_mps * (1.0 - np.exp(-clock / 6.0)) * np.clip((deploy + 2.0 - clock) / 4.0, 0.0, 1.0)
    run, ahead = math.radians(run_in_deg), math.radians(forward_deg)
    exit_e, exit_n = air.mean(exit_agl_m)
    v_e = wind_e + (throw * math.sin(run) - np.exp(-clock / 4.0) * float(exit_e)) + own * math.sin(ahead)
    v_n = wind_n + (throw * math.cos(run) - np.exp(-clock / 4.0) * float(exit_n)) + own * math.cos(ahead)
    east = np.concatenate([[0.0], np.cumsum(v_e[:-1] * DT_S)])
    north = np.concatenate([[0.0], np.cumsum(v_n[:-1] * DT_S)])
    return Fall(clock, east, north, h, deploy)


def _opening_loss(fast: float, slow: float, seconds: float) -> float:
    return 0.5 * (fast + slow) * seconds


def climb(
    *,
    start_east_m: float,
    start_north_m: float,
    start_deg: float,
    exit_east_m: float,
    exit_north_m: float,
    exit_agl_m: float,
    run_in_deg: float,
    seconds: float,
    speed_mps: float = 45.0,
    run_in_s: float = 45.0,
    side: int = 1,
    start_agl_m: float = 0.0,
) -> tuple[Vector, Vector, Vector, Vector]:
    """Time, east, north, height every 0.1 s: circles about a slowly moving centre, then the level run-in to the exit.

    Joins the runway's direction at the start and the run-in at its end; the turning radius follows from time and speed.
    """
    t1 = max(seconds - run_in_s, 60.0)
    heading0 = math.radians(start_deg)
    heading1 = math.radians(run_in_deg)
    change = ((heading1 - heading0) * side) % (2.0 * math.pi)
    wanted = speed_mps * t1 / 1400.0
    total = change + 2.0 * math.pi * max(round((wanted - change) / (2.0 * math.pi)), 1)
    radius = speed_mps * t1 / total
    clock = np.arange(0.0, t1 + run_in_s + 1e-9, DT_S)
    n1 = int(round(t1 / DT_S))
    u = clock[: n1 + 1] / t1
    psi = heading0 + side * total * u
    p1 = (
        exit_east_m - speed_mps * run_in_s * math.sin(heading1),
        exit_north_m - speed_mps * run_in_s * math.cos(heading1),
    )
    c0 = (
        start_east_m + side * radius * math.cos(heading0),
        start_north_m - side * radius * math.sin(heading0),
    )
    c1 = (p1[0] + side * radius * math.cos(heading1), p1[1] - side * radius * math.sin(heading1))
    ease = u * u * (3.0 - 2.0 * u)
    east = c0[0] + (c1[0] - c0[0]) * ease - side * radius * np.cos(psi)
    north = c0[1] + (c1[1] - c0[1]) * ease + side * radius * np.sin(psi)
    along = clock[n1 + 1 :] - t1
    east = np.concatenate([east, p1[0] + speed_mps * math.sin(heading1) * along])
    north = np.concatenate([north, p1[1] + speed_mps * math.cos(heading1) * along])
    rise = np.clip(clock / max(t1, 1.0), 0.0, 1.0)
    agl = start_agl_m + (exit_agl_m - start_agl_m) * (1.25 * rise - 0.25 * rise * rise * rise * rise * rise)
    return clock, east, north, agl
