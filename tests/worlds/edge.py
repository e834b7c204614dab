"""What could really have been reached: forward simulation from a moment of a made-up flight, and jumps flown to that edge."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from analyser.synthetic import pilot as fly
from analyser.synthetic.canopy import CanopyPath, Flight, Pilot, integrate
from analyser.synthetic.pilot import Habits
from analyser.synthetic.scenario import build
from analyser.synthetic.setup import draw_setup
from analyser.synthetic.truth import SyntheticJump

__all__ = ["edge_jump", "reach_margin"]

STEADY = Habits(wander_deg=0.0)


def reach_margin(
    jump: SyntheticJump, utc_s: float, point_m: tuple[float, float], agl_m: float = 0.0
) -> float:
    """Metres to spare [m] over a point at ``agl_m`` in full flight from the true place at ``utc_s``; negative: out of reach.

    The canopy is turned towards the point (allowing for the drift) and flown straight through the mean wind of that time, with
    its roll, surge and sink as everywhere; gusts are left out, as nobody can count on them. The wind depends on height and
    time alone, so a straight line through the air is the furthest one can go.
    """
    truth = jump.truth
    i = int(np.argmin(np.abs(truth.t_utc_s - utc_s)))
    away = np.array([point_m[0] - truth.east_m[i], point_m[1] - truth.north_m[i]])
    if truth.agl_m[i] <= agl_m + 1.0:
        return -float(np.hypot(*away))
    drift = _drift(jump, i, agl_m)
    wanted = away - drift
    heading = math.atan2(wanted[0], wanted[1])
    path = _glide(jump, i, agl_m, heading)
    flown = np.array([path.east_m[-1], path.north_m[-1]]) - drift
    ahead = np.array([math.sin(heading), math.cos(heading)])
    return float(flown @ ahead - np.hypot(*wanted))


def _drift(jump: SyntheticJump, i: int, agl_m: float) -> np.ndarray[Any, np.dtype[np.float64]]:
    """How far the mean wind carries the canopy down to a height: ground path less path through the air."""
    path = _glide(jump, i, agl_m, math.radians(float(jump.truth.heading_deg[i])))
    through = np.array([np.sum(path.air_east[:-1]), np.sum(path.air_north[:-1])]) * 0.1
    return np.array([path.east_m[-1], path.north_m[-1]]) - through


def _glide(jump: SyntheticJump, i: int, agl_m: float, heading: float) -> CanopyPath:
    truth, setup = jump.truth, jump.setup
    flight = Flight(setup.canopy, float(truth.agl_m[i]), math.radians(float(truth.heading_deg[i])))
    flight.air_speed = float(np.hypot(truth.air_east[i], truth.air_north[i]))
    flight.sink = setup.canopy.sink_mps
    flight.t = float(truth.t_utc_s[i] - truth.t_utc_s[0])
    air = replace(setup.air, gust_sd=0.0, gust_floor=0.0, cells=())
    return integrate(
        flight, air, _towards(flight, heading, agl_m), None, elevation_m=setup.elevation_m, floor_agl_m=agl_m
    )


def _towards(flight: Flight, heading: float, agl_m: float) -> Pilot:
    rng = np.random.default_rng(0)
    yield from fly.turn(flight, heading, 0, flight.canopy.bank_deg, floor=agl_m)
    yield from fly.straight(flight, heading, lambda f: f.agl <= agl_m, rng, STEADY)


def edge_jump(seed: int, spread_m: float = 40.0, **overrides: Any) -> tuple[SyntheticJump, float, float]:
    """A jump that at some moment above its pattern has about nothing to spare to its planned first gate.

    Returns the jump, that moment [UTC s], and the true margin there [m], normally distributed with ``spread_m``. The whole flight
    is moved so that it comes out that way.
    """
    rng = np.random.default_rng(np.random.SeedSequence([seed, 97]))
    setup = replace(draw_setup(seed), **overrides)
    jump = build(setup)
    gate = jump.truth.plan[0]
    top = float(jump.truth.agl_m[0])
    agl = float(rng.uniform(gate.agl_m + 80.0, max(top - 100.0, gate.agl_m + 120.0)))
    moment = float(jump.truth.t_utc_s[int(np.argmax(jump.truth.agl_m <= agl))])
    i = int(np.argmin(np.abs(jump.truth.t_utc_s - moment)))
    margin = reach_margin(jump, moment, (gate.east_m, gate.north_m), gate.agl_m)
    wanted = float(rng.normal(0.0, spread_m))
    drift = _drift(jump, i, gate.agl_m)
    away = np.array([gate.east_m - jump.truth.east_m[i], gate.north_m - jump.truth.north_m[i]]) - drift
    ahead = away / max(float(np.hypot(*away)), 1e-9)
    moved = (
        setup.entry_error_m[0] + (wanted - margin) * ahead[0],
        setup.entry_error_m[1] + (wanted - margin) * ahead[1],
    )
    jump = build(
        replace(setup, entry_error_m=(float(moved[0]), float(moved[1])), errors=("at the edge of reach",))
    )
    return jump, moment, reach_margin(jump, moment, (gate.east_m, gate.north_m), gate.agl_m)
