"""Whole made-up jumps: climb, exit, fall, opening, holding, pattern, landing, walk; and the ensemble of record."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from analyser.synthetic import pilot as fly
from analyser.synthetic.aeroplane import climb
from analyser.synthetic.canopy import CanopyPath, Flight, Pilot, integrate
from analyser.synthetic.drops import drop_of
from analyser.synthetic.facts import truth_of
from analyser.synthetic.holding import control_check, hold
from analyser.synthetic.navigation import leg_track_deg, planned_gates, planned_legs
from analyser.synthetic.pilot import LegPlan
from analyser.synthetic.recorder import recorded
from analyser.synthetic.setup import Setup, draw_setup, into_wind_deg
from analyser.synthetic.timeline import Joined, PhaseSpan, Piece, chain, join, take_off_roll, walk_back
from analyser.synthetic.truth import PlanGate, SyntheticJump

__all__ = [
    "Flown",
    "Tweak",
    "build",
    "canopy_piece",
    "flown",
    "in_utc",
    "jump_of",
    "pieces_of",
    "record_jump",
    "way_up",
]

Tweak = Callable[[tuple[LegPlan, ...]], tuple[LegPlan, ...]]


@dataclass(frozen=True, slots=True, eq=False)
class Flown:
    """The canopy flight of a setup: its path, how to move it so that places count from the target, plan and leg names."""

    setup: Setup
    path: CanopyPath
    shift: tuple[float, float]
    plan: tuple[PlanGate, ...]
    names: tuple[str, ...]
    rng: np.random.Generator


def record_jump(seed: int, **overrides: Any) -> SyntheticJump:
    """One invented jump with known truth.

    Parameters
    ----------
    seed : int
        The same seed gives the same jump.
    **overrides
        Replace fields of :class:`analyser.synthetic.setup.Setup` after the draw, in SI units.

    Returns
    -------
    SyntheticJump
        ``recording`` as a receiver would have made it, ``truth`` what really happened.

    Raises
    ------
    TypeError
        For a field that a setup does not have.

    Notes
    -----
    The ensemble of record (docs/synthetic.md); shares no code with the analysis.

    Examples
    --------
    >>> made = record_jump(seed=3)
    >>> made.truth.gate("final").agl_m < made.truth.gate("base").agl_m
    True
    """
    return build(replace(draw_setup(seed), **overrides))


def build(setup: Setup, tweak: Tweak | None = None) -> SyntheticJump:
    """The jump of a setup: plan, flight, the way up and down, the receiver's recording, and the truth.

    ``tweak`` changes the legs that are flown, after heights and headings were set.
    """
    return jump_of(flown(setup, tweak))


def flown(setup: Setup, tweak: Tweak | None = None) -> Flown:
    """Plan and canopy flight. The flight begins where it must for the first gate to lie where it was planned, plus the entry error."""
    gusts, rng = (np.random.default_rng(s) for s in np.random.SeedSequence([setup.seed, 77]).spawn(2))
    legs = planned_legs(setup)
    first = leg_track_deg(setup.legs[0], setup.landing_deg, setup.side)
    drawn = (first - setup.side * _turned_before(setup, rng)) % 360.0
    approach = drawn if setup.approach_deg is None else setup.approach_deg
    plan = planned_gates(setup, legs, approach)
    done = tuple(
        replace(leg, agl_m=h, heading_deg=leg.heading_deg + d)
        for leg, h, d in zip(planned_legs(setup, setup.sees_drift), setup.flown_m, setup.heading_errors_deg)
    )
    done = done if tweak is None else tweak(done)
    flight = _under_open_canopy(setup, rng)
    path = integrate(
        flight, setup.air, _pilot(flight, setup, done, approach, rng), gusts, elevation_m=setup.elevation_m
    )
    mark = path.mark(done[0].mark)
    if mark is None:
        raise ValueError(f"seed {setup.seed}: the pattern was never entered")
    shift = (
        plan[0].east_m + setup.entry_error_m[0] - mark.east_m,
        plan[0].north_m + setup.entry_error_m[1] - mark.north_m,
    )
    return Flown(setup, path, shift, plan, tuple(leg.name for leg in done if leg.counts), rng)


def _turned_before(setup: Setup, rng: np.random.Generator) -> float:
    """How far the turn onto the first leg goes round [deg]; onto downwind by so much that what came before is no crosswind leg."""
    drawn = float(rng.uniform(45.0, 110.0))
    return 140.0 + 0.5 * (drawn - 45.0) if setup.legs[0] == "downwind" else drawn


def _under_open_canopy(setup: Setup, rng: np.random.Generator) -> Flight:
    drawn = float(rng.uniform(0.0, 2.0 * math.pi))
    heading = drawn if setup.open_heading_deg is None else math.radians(setup.open_heading_deg)
    flight = Flight(setup.canopy, setup.open_agl_m, heading)
    flight.air_speed, flight.sink, flight.brake = (
        0.6 * setup.canopy.airspeed_mps,
        setup.canopy.sink_mps + 1.0,
        0.5,
    )
    return flight


def _pilot(
    flight: Flight, setup: Setup, legs: tuple[LegPlan, ...], approach_deg: float, rng: np.random.Generator
) -> Pilot:
    floor = legs[0].agl_m + float(rng.uniform(45.0, 90.0))
    upwind = into_wind_deg(setup.assumed, 600.0)
    if setup.check:
        yield from control_check(flight, rng, setup.habits, floor)
    yield from hold(flight, setup.style, upwind, floor, rng, setup.habits)
    flight.brake = 0.0
    flight.mark("approach")
    yield from fly.turn(
        flight, math.radians(approach_deg), setup.approach_side, setup.turn_bank_deg, floor=legs[0].agl_m
    )
    flight.mark("approach end")
    yield from fly.pattern(flight, legs, rng, setup.habits)


def canopy_piece(done: Flown) -> Piece:
    """The canopy flight in metres from the target."""
    path = done.path
    return Piece("canopy", path.t_s, path.east_m + done.shift[0], path.north_m + done.shift[1], path.agl_m)


def jump_of(done: Flown) -> SyntheticJump:
    """The whole recording about a canopy flight, and its truth."""
    return finish(done, join(pieces_of(done)))


def pieces_of(done: Flown) -> list[Piece]:
    """The way up, the fall, the canopy flight and the walk, one after the other."""
    canopy = canopy_piece(done)
    return [*way_up(done, canopy), canopy, walk_back(canopy, done.setup.after_s, done.rng)]


def way_up(done: Flown, canopy: Piece) -> list[Piece]:
    """Take-off, climb and fall that end where the canopy flight begins."""
    setup, rng = done.setup, done.rng
    out = (float(done.path.air_east[0]), float(done.path.air_north[0]))
    run_in = into_wind_deg(setup.air, 2500.0) + float(rng.normal(0.0, 10.0))
    drop = drop_of(setup, run_in, out, rng)
    drop = chain([*drop, canopy])
    east, north = float(canopy.east_m[0] - drop[-1].east_m[0]), float(canopy.north_m[0] - drop[-1].north_m[0])
    drop = [p.moved(east, north) for p in drop[:-1]]
    roll = take_off_roll(*setup.hangar_m, setup.runway_deg, setup.takeoff_agl_m, wait_s=setup.wait_s)
    up = climb(
        (float(roll.east_m[-1]), float(roll.north_m[-1])),
        setup.runway_deg,
        (float(drop[0].east_m[0]), float(drop[0].north_m[0])),
        run_in,
        start_agl_m=setup.takeoff_agl_m,
        exit_agl_m=float(drop[0].agl_m[0]),
        seconds=setup.climb_s,
        side=1 if rng.random() < 0.5 else -1,
    )
    return [roll, up, *drop]


def in_utc(setup: Setup, spans: tuple[PhaseSpan, ...]) -> tuple[PhaseSpan, ...]:
    """Phases on the clock of the recording, in UTC seconds."""
    begin = setup.start_utc_s
    return tuple(PhaseSpan(s.name, begin + s.start_utc_s, begin + s.end_utc_s) for s in spans)


def finish(done: Flown, joined: Joined) -> SyntheticJump:
    """Record the joined pieces and write down the truth."""
    setup = done.setup
    name = f"{setup.jump}-{setup.seed}".replace(" ", "-")
    fixes, recording = recorded(setup, joined, name)
    truth = truth_of(setup, done.path, done.shift, in_utc(setup, joined.spans), done.names, done.plan)
    return SyntheticJump(recording, truth, fixes, name, setup)
