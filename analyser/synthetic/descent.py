"""From the door to the open canopy: free fall, opening, static line, wingsuit flight. Pieces relative to the exit."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.synthetic.air import Air
from analyser.synthetic.timeline import DT_S, Piece, ticks

__all__ = ["Exit", "exit_height", "free_fall", "static_line", "wingsuit"]

Vector = NDArray[np.float64]

G = 9.80665
THROW_S = 4.0
THINNER = 5e-5


@dataclass(frozen=True, slots=True)
class Exit:
    """How the door is left: height, ground speed and direction of the aeroplane, rate of descent; how the opening ends,
    and with what velocity through the air (``out_mps``: east, north)."""

    agl_m: float
    open_agl_m: float
    run_in_deg: float
    speed_mps: float = 45.0
    opening_s: float = 4.0
    open_sink_mps: float = 5.0
    down_mps: float = 0.0
    out_mps: tuple[float, float] = (0.0, 0.0)


def exit_height(
    open_agl_m: float, fall_s: float, *, opening_s: float = 4.0, open_sink_mps: float = 5.0
) -> float:
    """Height of an exit whose fall of ``fall_s`` and opening end at ``open_agl_m`` (drag neglected: a few seconds only)."""
    speed = 53.0 * math.tanh(G * fall_s / 53.0)
    fallen = 53.0**2 / G * math.log(math.cosh(G * fall_s / 53.0))
    return open_agl_m + fallen + 0.5 * (speed + open_sink_mps) * opening_s


def _opening_speeds(fast: float, slow: float, seconds: float) -> list[float]:
    steps = max(round(seconds / DT_S), 1)
    return [slow + (fast - slow) * 0.5 * (1.0 + math.cos(math.pi * i / steps)) for i in range(steps)]


def _heights(bottom: float, speeds: list[float]) -> Vector:
    """Heights of a descent at those speeds that ends at ``bottom``."""
    fallen = np.concatenate([[0.0], np.cumsum(np.array(speeds) * DT_S)])
    heights: Vector = bottom + fallen[-1] - fallen
    return heights


def _pieces(agl: Vector, split: int, v_east: Vector, v_north: Vector) -> list[Piece]:
    """Free fall up to index ``split`` (left out where 0) and the opening after it."""
    clock = ticks(agl.shape[0])
    east = np.concatenate([[0.0], np.cumsum(v_east[:-1] * DT_S)])
    north = np.concatenate([[0.0], np.cumsum(v_north[:-1] * DT_S)])
    pieces = []
    if split > 0:
        cut = slice(0, split + 1)
        pieces.append(Piece("free fall", clock[cut], east[cut], north[cut], agl[cut]))
    cut = slice(split, None)
    pieces.append(Piece("opening", clock[cut] - clock[split], east[cut], north[cut], agl[cut]))
    return pieces


def _carried(air: Air, door: Exit, agl: Vector, split: int) -> tuple[Vector, Vector, Vector]:
    """Time, and the velocity of a body that the wind carries: its throw from the aeroplane dies away in 4 s, and during the
    opening (from index ``split`` on) it takes up the velocity of the canopy."""
    clock = ticks(agl.shape[0])
    wind_e, wind_n = air.mean(agl)
    exit_e, exit_n = air.mean(door.agl_m)
    fade, run = np.exp(-clock / THROW_S), math.radians(door.run_in_deg)
    opened = np.clip((clock - clock[split]) / max(float(clock[-1] - clock[split]), DT_S), 0.0, 1.0)
    fade = fade * (1.0 - opened)
    v_e = wind_e + fade * (door.speed_mps * math.sin(run) - float(exit_e)) + opened * door.out_mps[0]
    v_n = wind_n + fade * (door.speed_mps * math.cos(run) - float(exit_n)) + opened * door.out_mps[1]
    return clock, v_e, v_n


def free_fall(
    air: Air, door: Exit, *, terminal_mps: float = 53.0, own_mps: float = 2.0, own_deg: float = 0.0
) -> list[Piece]:
    """Fall with quadratic drag towards ``terminal_mps`` (5 % more per 1,000 m above the opening), then a smooth opening.

    ``own_mps`` towards ``own_deg`` is what the body flies by itself.
    """
    speed, agl = door.down_mps, door.agl_m
    speeds: list[float] = []
    while agl - 0.5 * (speed + door.open_sink_mps) * door.opening_s > door.open_agl_m:
        limit = terminal_mps * (1.0 + THINNER * max(agl - door.open_agl_m, 0.0))
        speeds.append(speed)
        agl -= speed * DT_S
        speed += G * (1.0 - (speed / limit) ** 2) * DT_S
    split = len(speeds)
    speeds += _opening_speeds(speed, door.open_sink_mps, door.opening_s)
    heights = _heights(door.open_agl_m, speeds)
    clock, v_e, v_n = _carried(air, door, heights, split)
    own = own_mps * (1.0 - np.exp(-clock / 6.0)) * np.clip((split * DT_S + 2.0 - clock) / 4.0, 0.0, 1.0)
    a = math.radians(own_deg)
    return _pieces(heights, split, v_e + own * math.sin(a), v_n + own * math.cos(a))


def static_line(air: Air, door: Exit) -> list[Piece]:
    """The line pulls the canopy out at once: a short drop that the opening ends; there is no free-fall phase."""
    drop = [G * i * DT_S for i in range(15)]
    speeds = drop + _opening_speeds(drop[-1], door.open_sink_mps, door.opening_s)
    heights = _heights(door.open_agl_m, speeds)
    _, v_e, v_n = _carried(air, door, heights, 0)
    return _pieces(heights, 0, v_e, v_n)


def wingsuit(
    air: Air, door: Exit, *, down_mps: float = 24.0, forward_mps: float = 40.0, side: int = -1
) -> list[Piece]:
    """Away from the line of flight, back towards the field in a wide arc: ``down_mps`` and ``forward_mps`` through the air."""
    speed, agl = 0.0, door.agl_m
    speeds: list[float] = []
    while agl - 0.5 * (speed + door.open_sink_mps) * door.opening_s > door.open_agl_m:
        t = len(speeds) * DT_S
        limit = down_mps * (1.0 + 0.25 * math.exp(-t / 8.0) + 0.05 * math.sin(t / 7.0))
        speeds.append(speed)
        agl -= speed * DT_S
        speed += (G * (1.0 - (speed / limit) ** 2)) * DT_S
    split = len(speeds)
    speeds += _opening_speeds(speed, door.open_sink_mps, door.opening_s)
    heights = _heights(door.open_agl_m, speeds)
    clock = ticks(heights.shape[0])
    turned = np.clip((clock - 8.0) / 25.0, 0.0, 1.0)
    heading = math.radians(door.run_in_deg) + side * (math.pi * turned)
    level = np.minimum(clock / 6.0, 1.0)
    opened = np.clip((clock - split * DT_S) / door.opening_s, 0.0, 1.0)
    wind_e, wind_n = air.mean(heights)
    exit_e, exit_n = air.mean(door.agl_m)
    ahead = (door.speed_mps + (forward_mps - door.speed_mps) * level) * (1.0 - opened)
    early = 1.0 - level
    v_e = wind_e - early * float(exit_e) + ahead * np.sin(heading) + opened * door.out_mps[0]
    v_n = wind_n - early * float(exit_n) + ahead * np.cos(heading) + opened * door.out_mps[1]
    return _pieces(heights, split, v_e, v_n)
