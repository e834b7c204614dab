"""A pilot who follows a given plan: gates as plain tuples, flown at their heights along their tracks, with one error injected or none."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from analyser.synthetic import pilot as fly
from analyser.synthetic.air import Air, Column, airspeed_factor
from analyser.synthetic.canopy import CanopyModel, CanopyPath, Flight, Pilot, integrate
from analyser.synthetic.holding import hold
from analyser.synthetic.navigation import crab_heading_deg
from analyser.synthetic.pilot import Habits
from analyser.synthetic.receiver import Receiver
from analyser.synthetic.scenario import Flown, jump_of
from analyser.synthetic.setup import Setup, draw_setup, into_wind_deg
from analyser.synthetic.truth import PlanGate, SyntheticJump

__all__ = ["PlanErrors", "PlannedGate", "fly_plan"]


class PlannedGate(NamedTuple):
    """A gate to follow: name of the leg, height and place (metres from the target) where the turn onto it begins, its track."""

    name: str
    agl_m: float
    east_m: float
    north_m: float
    track_deg: float


@dataclass(frozen=True, slots=True)
class PlanErrors:
    """Single errors of an otherwise faultless pilot: the turn onto final late by so many metres of height; the whole flight
    displaced at the entry; brakes all along final; the base leg longer by so many seconds; the turn onto base late by metres;
    the legs flown with the nose along the planned track instead of crabbing into the wind."""

    final_late_m: float = 0.0
    entry_m: tuple[float, float] = (0.0, 0.0)
    final_brake: float = 0.0
    base_long_s: float = 0.0
    base_late_m: float = 0.0
    crab_missing: tuple[str, ...] = ()

    def names(self) -> tuple[str, ...]:
        """What is wrong, in words."""
        rows = (
            (self.final_late_m, "final turned late"),
            (math.hypot(*self.entry_m), "entry displaced"),
            (self.final_brake, "brakes on final"),
            (self.base_long_s, "base too long"),
            (self.base_late_m, "base turned late"),
            (len(self.crab_missing), "crab missing"),
        )
        return tuple(text for value, text in rows if value)


NO_ERRORS = PlanErrors()


def fly_plan(
    gates: Sequence[tuple[str, float, float, float, float]],
    *,
    landing_deg: float,
    airspeed_mps: float,
    sink_mps: float,
    air: Air,
    seed: int = 0,
    bank_deg: float = 30.0,
    errors: PlanErrors = NO_ERRORS,
    gusts: bool = False,
    receiver: Receiver | None = None,
    canopy: CanopyModel | None = None,
    turn_at_first: bool = False,
    flares: bool = True,
    **overrides: Any,
) -> SyntheticJump:
    """A whole jump whose pilot flies the plan: straight along each track (knowing the mean wind), turning at each height.

    ``gates`` rows (name, agl_m, east_m, north_m, track_deg) in the order flown, metres from the target; ``landing_deg`` the track
    of final. A turn's toggles go down at the height of its gate; the bank follows with the canopy's lag.
    The first gate is met at its place and height, already on the track of its leg, or turning there (``turn_at_first``).
    ``flares`` False: no flare, as plans on paper reckon (a flare carries a canopy several metres further).
    ``overrides`` replace fields of the jump's setup.
    """
    rows = tuple(PlannedGate(*g) for g in gates)
    setup = replace(
        draw_setup(seed),
        air=air,
        assumed=air.still(),
        canopy=canopy or CanopyModel(airspeed_mps, sink_mps, bank_deg=bank_deg),
        habits=Habits(wander_deg=1.0 if gusts else 0.0, brake_share=0.0, final_brake_share=0.0, final_brake=errors.final_brake, flares=flares),
        turn_bank_deg=bank_deg,
        landing_deg=landing_deg,
        side=_side(rows),
        legs=tuple(g.name for g in rows),
        style="figures of eight",
        entry_error_m=errors.entry_m,
        errors=errors.names(),
        open_agl_m=max(900.0, rows[0].agl_m + 350.0),
    )  # fmt: skip
    setup = replace(setup, receiver=receiver or setup.receiver, **overrides)
    return jump_of(_followed(setup, rows, errors, gusts, turn_at_first))


def _side(gates: tuple[PlannedGate, ...]) -> int:
    if len(gates) < 2:
        return -1
    return 1 if fly.wrap(math.radians(gates[-1].track_deg - gates[-2].track_deg)) > 0.0 else -1


def _followed(
    setup: Setup, gates: tuple[PlannedGate, ...], errors: PlanErrors, gusts: bool, turn_at_first: bool
) -> Flown:
    chance, rng = (np.random.default_rng(s) for s in np.random.SeedSequence([setup.seed, 53]).spawn(2))
    flight = Flight(setup.canopy, setup.open_agl_m, float(rng.uniform(0.0, 2.0 * math.pi)))
    pilot = _Follower(flight, setup, gates, errors, rng)
    path = integrate(
        flight, setup.air, pilot.fly(turn_at_first), chance if gusts else None, elevation_m=setup.elevation_m
    )
    first = path.mark(f"at {gates[0].name}")
    if first is None:
        raise ValueError(f"seed {setup.seed}: the first gate was never reached")
    east, north = _place_at(path, first.t_s, gates[0].agl_m)
    shift = (
        gates[0].east_m + setup.entry_error_m[0] - east,
        gates[0].north_m + setup.entry_error_m[1] - north,
    )
    return Flown(setup, path, shift, _plan(setup, gates), tuple(g.name for g in gates), rng)


def _place_at(path: CanopyPath, t_s: float, agl_m: float) -> tuple[float, float]:
    """Where the flight came through a height in the step that ended at ``t_s``."""
    i = max(int(np.searchsorted(path.t_s, t_s - 1e-6)), 1)
    step, down = slice(i - 1, i + 1), -path.agl_m[i - 1 : i + 1]
    east, north = (float(np.interp(-agl_m, down, v[step])) for v in (path.east_m, path.north_m))
    return east, north


def _plan(setup: Setup, gates: tuple[PlannedGate, ...]) -> tuple[PlanGate, ...]:
    heights = (*(g.agl_m for g in gates), 0.0)
    rows = []
    for i, g in enumerate(gates):
        east, north = setup.air.mean(0.5 * (heights[i] + heights[i + 1]))
        heading = crab_heading_deg(g.track_deg, float(east), float(north), setup.canopy.airspeed_mps)
        rows.append(PlanGate(g.name, g.agl_m, g.east_m, g.north_m, heading, g.track_deg))
    return tuple(rows)


class _Follower:
    """The pilot who follows: knows the mean wind at every height and crabs accordingly."""

    __slots__ = ("column", "errors", "flight", "gates", "rng", "setup")

    def __init__(
        self,
        flight: Flight,
        setup: Setup,
        gates: tuple[PlannedGate, ...],
        errors: PlanErrors,
        rng: np.random.Generator,
    ) -> None:
        self.flight, self.setup, self.gates, self.errors, self.rng = flight, setup, gates, errors, rng
        self.column = Column(setup.air)

    def crab(self, track_deg: float, below_m: float = 0.0) -> float:
        """Heading [rad] that keeps a track in the mean wind here (or ``below_m`` lower)."""
        agl = max(self.flight.agl - below_m, 0.0)
        east, north = self.column.mean(agl, self.flight.t)
        speed = self.setup.canopy.airspeed_mps * airspeed_factor(agl + self.setup.elevation_m)
        return math.radians(crab_heading_deg(track_deg, east, north, speed))

    def keeping(self, track_deg: float, name: str) -> Callable[[Flight], float]:
        """The heading to steer for: the crab as it will be once the nose has come round to it, or none on a leg without."""
        if name in self.errors.crab_missing:
            return lambda f: math.radians(track_deg)
        late_s = fly.QUICKNESS_S + self.setup.canopy.roll_lag_s
        return lambda f: self.crab(track_deg, late_s * f.sink)

    def fly(self, turn_at_first: bool) -> Pilot:
        flight, setup, habits = self.flight, self.setup, self.setup.habits
        first = self.gates[0]
        above = first.agl_m + 110.0
        yield from hold(flight, setup.style, into_wind_deg(setup.air, 600.0), above, self.rng, habits)
        flight.brake = 0.0
        track = first.track_deg - setup.side * 80.0 if turn_at_first else first.track_deg
        name = "approach" if turn_at_first else first.name
        flight.mark(name)
        yield from fly.turn(flight, self.crab(track, 15.0), 0, setup.turn_bank_deg, floor=first.agl_m + 30.0)
        flight.mark(f"{name} end")
        if not turn_at_first:
            yield from self.along(track, first.agl_m, first.name)
            flight.mark(f"at {first.name}")
        for gate in self.gates if turn_at_first else self.gates[1:]:
            yield from self.leg(gate, track, name)
            track, name = gate.track_deg, gate.name
        yield from fly.final(flight, self.keeping(setup.landing_deg, "final"), self.rng, habits)

    def along(self, track_deg: float, agl_m: float, name: str) -> Pilot:
        """Along the track of a leg down to a height."""
        heading = self.keeping(track_deg, name)
        return fly.straight(self.flight, heading, lambda f: f.agl <= agl_m, self.rng, self.setup.habits)

    def leg(self, gate: PlannedGate, track_deg: float, name: str) -> Pilot:
        """Along the track of the leg ``name``, then the turn onto the next."""
        flight, wanted = self.flight, gate.agl_m - self.late(gate)
        yield from self.along(track_deg, wanted, name)
        flight.mark(gate.name)
        marked = False
        missing = gate.name in self.errors.crab_missing
        heading = math.radians(gate.track_deg) if missing else self.crab(gate.track_deg, 12.0)
        for _ in fly.turn(flight, heading, 0, self.setup.turn_bank_deg, lead=fly.turned_in_roll_out):
            if not marked and flight.agl <= wanted:
                flight.mark(f"at {gate.name}")
                marked = True
            yield
        if not marked:
            flight.mark(f"at {gate.name}")
        flight.mark(f"{gate.name} end")

    def late(self, gate: PlannedGate) -> float:
        """By how many metres the turn at a gate comes late."""
        if gate.name == "final":
            sink = self.setup.canopy.sink_mps * airspeed_factor(gate.agl_m + self.setup.elevation_m)
            return self.errors.final_late_m + self.errors.base_long_s * sink
        return self.errors.base_late_m if gate.name == "base" else 0.0
