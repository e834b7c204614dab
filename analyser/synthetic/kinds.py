"""Kinds of jump, as a segmenter of phases must know them: each from the setup of an ordinary one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from analyser.importers.recording import Recording
from analyser.synthetic.aeroplane import climb, ride
from analyser.synthetic.canopy import CanopyModel
from analyser.synthetic.cut import cut
from analyser.synthetic.descent import exit_height
from analyser.synthetic.facts import no_jump, truth_of
from analyser.synthetic.recorder import recorded
from analyser.synthetic.scenario import build, flown, in_utc, pieces_of
from analyser.synthetic.setup import Setup, draw_setup
from analyser.synthetic.timeline import Piece, join, rest, take_off_roll
from analyser.synthetic.truth import Fixes, SyntheticJump, Truth

__all__ = ["KINDS", "SyntheticDay", "day_of", "kind_jump"]


@dataclass(frozen=True, slots=True, eq=False)
class SyntheticDay:
    """A recording that holds several jumps, with the truth of each in the order flown."""

    recording: Recording
    truths: tuple[Truth, ...]
    fixes: Fixes
    name: str
    setups: tuple[Setup, ...]


def kind_jump(seed: int, kind: str, **overrides: Any) -> SyntheticJump:
    """One jump of a kind out of :data:`KINDS`; ``overrides`` replace fields of the setup at the end."""
    rng = np.random.default_rng(np.random.SeedSequence([seed, 61]))
    setup = replace(_KINDS[kind](replace(draw_setup(seed), jump=kind), rng), **overrides)
    if kind in ("ride down", "low circuit"):
        return _nobody_left(setup, rng)
    jump = build(setup)
    if kind == "starts under canopy":
        return cut(jump, start_utc_s=_height_passed(jump, float(rng.uniform(450.0, 800.0))))
    if kind == "starts in free fall":
        fall = next(p for p in jump.truth.phases if p.name == "free fall")
        return cut(jump, start_utc_s=fall.start_utc_s + float(rng.uniform(10.0, 25.0)))
    if kind == "stops before landing":
        return cut(jump, end_utc_s=_height_passed(jump, float(rng.uniform(40.0, 250.0))))
    return jump


def _height_passed(jump: SyntheticJump, agl_m: float) -> float:
    truth = jump.truth
    return float(truth.t_utc_s[int(np.argmax(truth.agl_m <= agl_m))])


def _ordinary(setup: Setup, rng: np.random.Generator) -> Setup:
    return setup


def _hop_and_pop(setup: Setup, rng: np.random.Generator) -> Setup:
    open_agl = float(rng.uniform(1000.0, 1400.0))
    top = exit_height(open_agl, float(rng.uniform(3.0, 6.0)), open_sink_mps=setup.canopy.sink_mps + 1.0)
    return replace(setup, open_agl_m=open_agl, exit_agl_m=top, climb_s=420.0)


def _high_opening(setup: Setup, rng: np.random.Generator) -> Setup:
    open_agl = float(rng.uniform(3000.0, 3600.0))
    top = exit_height(open_agl, float(rng.uniform(4.0, 7.0)), open_sink_mps=setup.canopy.sink_mps + 1.0)
    return replace(setup, open_agl_m=open_agl, exit_agl_m=top)


def _static_line(setup: Setup, rng: np.random.Generator) -> Setup:
    open_agl = float(rng.uniform(850.0, 1000.0))
    return replace(setup, open_agl_m=open_agl, exit_agl_m=open_agl + 40.0, climb_s=330.0)


def _wingsuit(setup: Setup, rng: np.random.Generator) -> Setup:
    return replace(setup, open_agl_m=float(rng.uniform(1000.0, 1300.0)))


def _tandem(setup: Setup, rng: np.random.Generator) -> Setup:
    speed = float(rng.uniform(9.5, 11.5))
    wing = CanopyModel(
        airspeed_mps=speed, sink_mps=speed / float(rng.uniform(2.2, 2.6)), bank_deg=26.0, roll_lag_s=0.9
    )
    return replace(
        setup,
        canopy=wing,
        turn_bank_deg=20.0,
        open_agl_m=float(rng.uniform(1450.0, 1700.0)),
        terminal_mps=54.0,
    )


def _cutaway(setup: Setup, rng: np.random.Generator) -> Setup:
    reserve = CanopyModel(airspeed_mps=9.5, sink_mps=4.2, bank_deg=28.0)
    return replace(setup, canopy=reserve, turn_bank_deg=24.0, open_agl_m=float(rng.uniform(650.0, 800.0)))


def _ride_down(setup: Setup, rng: np.random.Generator) -> Setup:
    return replace(setup, exit_agl_m=float(rng.uniform(1500.0, 3800.0)))


def _low_circuit(setup: Setup, rng: np.random.Generator) -> Setup:
    return replace(setup, exit_agl_m=float(rng.uniform(300.0, 700.0)), climb_s=240.0)


def _other_elevation(setup: Setup, rng: np.random.Generator) -> Setup:
    higher = float(rng.uniform(60.0, 180.0)) * (1.0 if rng.random() < 0.5 else -1.0)
    return replace(
        setup, takeoff_agl_m=higher, elevation_m=setup.elevation_m + 200.0, hangar_m=(4000.0, -2500.0)
    )


_KINDS: dict[str, Callable[[Setup, np.random.Generator], Setup]] = {
    "ordinary": _ordinary,
    "hop-and-pop": _hop_and_pop,
    "high opening": _high_opening,
    "static line": _static_line,
    "wingsuit": _wingsuit,
    "tandem": _tandem,
    "cutaway": _cutaway,
    "ride down": _ride_down,
    "low circuit": _low_circuit,
    "starts under canopy": _ordinary,
    "starts in free fall": _ordinary,
    "stops before landing": _ordinary,
    "other elevation": _other_elevation,
}
KINDS = tuple(_KINDS)


def _nobody_left(setup: Setup, rng: np.random.Generator) -> SyntheticJump:
    """Up and down in the aeroplane."""
    roll = take_off_roll(*setup.hangar_m, setup.runway_deg, setup.takeoff_agl_m, wait_s=setup.wait_s)
    run_in = float(rng.uniform(0.0, 360.0))
    spread = 800.0 if setup.jump == "ride down" else 200.0
    door = (float(rng.normal(0.0, spread)), float(rng.normal(0.0, spread)))
    lifted = (float(roll.east_m[-1]), float(roll.north_m[-1]))
    up = climb(
        lifted,
        setup.runway_deg,
        door,
        run_in,
        start_agl_m=setup.takeoff_agl_m,
        exit_agl_m=setup.exit_agl_m,
        seconds=setup.climb_s,
    )
    sink = float(rng.uniform(5.0, 10.0)) if setup.jump == "ride down" else 3.5
    down = ride(up, run_in, setup.hangar_m, setup.runway_deg, agl_m=setup.takeoff_agl_m, sink_mps=sink)
    joined = join([roll, up, *down])
    name = f"{setup.jump}-{setup.seed}".replace(" ", "-")
    fixes, recording = recorded(setup, joined, name)
    return SyntheticJump(recording, no_jump(setup, in_utc(setup, joined.spans)), fixes, name, setup)


def day_of(setups: tuple[Setup, ...], name: str, between_s: float = 900.0) -> SyntheticDay:
    """A day's recording: the jumps one after the other, on the ground between them for ``between_s`` (walk, packing, waiting).

    The receiver, the place and the beginning are those of the first setup.
    """
    first = setups[0]
    pieces: list[Piece] = []
    truths: list[Truth] = []
    clock = 0.0
    for i, setup in enumerate(setups):
        if pieces:
            walked = (float(pieces[-1].east_m[-1]), float(pieces[-1].north_m[-1]))
            pieces.append(rest("ground after", walked, setup.hangar_m, between_s))
            clock += float(pieces[-1].t_s[-1])
        setup = replace(
            setup, start_utc_s=first.start_utc_s + clock, lat_deg=first.lat_deg, lon_deg=first.lon_deg,
            elevation_m=first.elevation_m, receiver=first.receiver,
        )  # fmt: skip
        done = flown(setup)
        own = pieces_of(done)
        truths.append(
            truth_of(setup, done.path, done.shift, in_utc(setup, join(own).spans), done.names, done.plan)
        )
        pieces += own
        clock += sum(float(p.t_s[-1]) for p in own)
        setups = (*setups[:i], setup, *setups[i + 1 :])
    fixes, recording = recorded(first, join(pieces), name)
    return SyntheticDay(recording, tuple(truths), fixes, name, setups)
