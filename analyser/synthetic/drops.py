"""From the exit to the canopy that lands, by kind of jump."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from analyser.synthetic.canopy import CanopyModel, Flight, Pilot, integrate
from analyser.synthetic.descent import Exit, free_fall, static_line, wingsuit
from analyser.synthetic.setup import Setup
from analyser.synthetic.timeline import Piece, chain

__all__ = ["drop_of"]

MALFUNCTION = CanopyModel(airspeed_mps=6.0, sink_mps=8.0, built_in_turn_dps=55.0, roll_lag_s=1.0)
BELOW_CUTAWAY_M = 125.0


def drop_of(
    setup: Setup, run_in_deg: float, out_mps: tuple[float, float], rng: np.random.Generator
) -> list[Piece]:
    """Free fall, opening and what else comes before the canopy flight, from the exit (0, 0) on.

    ``out_mps`` velocity through the air (east, north) with which the canopy flight begins.
    """
    door = Exit(
        setup.exit_agl_m,
        setup.open_agl_m,
        run_in_deg,
        opening_s=float(rng.uniform(3.0, 5.0)),
        open_sink_mps=setup.canopy.sink_mps + 1.0,
        out_mps=out_mps,
    )
    if setup.jump == "static line":
        return static_line(setup.air, door)
    if setup.jump == "wingsuit":
        down, forward = float(rng.uniform(18.0, 31.0)), float(rng.uniform(36.0, 45.0))
        return wingsuit(setup.air, door, down_mps=down, forward_mps=forward)
    own, own_deg = float(rng.uniform(0.0, 5.0)), float(rng.uniform(0.0, 360.0))
    if setup.jump == "cutaway":
        return _cutaway(setup, door, rng)
    return free_fall(setup.air, door, terminal_mps=setup.terminal_mps, own_mps=own, own_deg=own_deg)


def _cutaway(setup: Setup, door: Exit, rng: np.random.Generator) -> list[Piece]:
    """A first canopy that spins for a quarter of a minute, is let go, and a second fall until the reserve is open."""
    released = setup.open_agl_m + BELOW_CUTAWAY_M
    second = free_fall(
        setup.air,
        replace(door, agl_m=released, run_in_deg=0.0, speed_mps=0.0, opening_s=2.5, down_mps=9.0),
    )
    released = float(second[0].agl_m[0])
    heading = float(rng.uniform(0.0, 2.0 * math.pi))
    flight = Flight(MALFUNCTION, released + float(rng.uniform(140.0, 220.0)), heading)
    flight.air_speed, flight.sink = MALFUNCTION.airspeed_mps, 9.0
    out = (MALFUNCTION.airspeed_mps * math.sin(heading), MALFUNCTION.airspeed_mps * math.cos(heading))
    first = replace(door, open_agl_m=flight.agl, open_sink_mps=9.0, out_mps=out)
    path = integrate(flight, setup.air, _hanging(), rng, elevation_m=setup.elevation_m, floor_agl_m=released)
    spin = Piece("canopy", path.t_s, path.east_m, path.north_m, path.agl_m)
    return chain([*free_fall(setup.air, first, terminal_mps=setup.terminal_mps), spin, *second])


def _hanging() -> Pilot:
    while True:
        yield
