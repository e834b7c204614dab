"""From the exit to the canopy that lands, by kind of jump."""

from __future__ import annotations

import numpy as np

from analyser.synthetic.canopy import CanopyModel, Flight, Pilot, integrate
from analyser.synthetic.descent import Exit, free_fall, static_line, wingsuit
from analyser.synthetic.setup import Setup
from analyser.synthetic.timeline import Piece, chain

__all__ = ["drop_of"]

MALFUNCTION = CanopyModel(airspeed_mps=6.0, sink_mps=8.0, built_in_turn_dps=55.0, roll_lag_s=1.0)
BELOW_CUTAWAY_M = 125.0


def drop_of(setup: Setup, run_in_deg: float, rng: np.random.Generator) -> list[Piece]:
    """Free fall, opening and what else comes before the canopy flight, from the exit (0, 0) on."""
    door = Exit(
        setup.exit_agl_m,
        setup.open_agl_m,
        run_in_deg,
        opening_s=float(rng.uniform(3.0, 5.0)),
        open_sink_mps=setup.canopy.sink_mps + 1.0,
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
    spinning_m = float(rng.uniform(140.0, 220.0))
    first = Exit(
        door.agl_m, released + spinning_m, door.run_in_deg, opening_s=door.opening_s, open_sink_mps=8.0
    )
    flight = Flight(MALFUNCTION, first.open_agl_m, float(rng.uniform(0.0, 6.28)))
    path = integrate(flight, setup.air, _hanging(), rng, elevation_m=setup.elevation_m, floor_agl_m=released)
    spin = Piece("canopy", path.t_s, path.east_m, path.north_m, path.agl_m)
    last = float(path.agl_m[-1])
    second = Exit(
        last,
        setup.open_agl_m,
        0.0,
        speed_mps=0.0,
        opening_s=2.5,
        open_sink_mps=door.open_sink_mps,
        down_mps=8.0,
    )
    return chain(
        [*free_fall(setup.air, first, terminal_mps=setup.terminal_mps), spin, *free_fall(setup.air, second)]
    )


def _hanging() -> Pilot:
    while True:
        yield
