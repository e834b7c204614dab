"""Landing patterns that are hard to name: one function each, from the setup of an ordinary jump to the hard one."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from analyser.synthetic.air import Air, power_law_air
from analyser.synthetic.canopy import G, steady
from analyser.synthetic.pilot import LegPlan
from analyser.synthetic.receiver import Receiver
from analyser.synthetic.scenario import Tweak, build
from analyser.synthetic.setup import Setup, draw_setup, into_wind_deg, ordered_heights
from analyser.synthetic.truth import SyntheticJump
from analyser.units import FOOT_M

__all__ = ["HARD_PATTERNS", "hard_jump"]

Case = tuple[Setup, Tweak | None]


def hard_jump(seed: int, pattern: str | None = None, **overrides: Any) -> SyntheticJump:
    """A jump with one of the :data:`HARD_PATTERNS` (None takes them in turn); its name stands in ``truth.errors``."""
    pattern = HARD_PATTERNS[seed % len(HARD_PATTERNS)] if pattern is None else pattern
    rng = np.random.default_rng(np.random.SeedSequence([seed, 41]))
    setup, tweak = _CASES[pattern](_flyable(draw_setup(seed), rng), rng)
    setup = replace(setup, errors=(pattern,), **overrides)
    jump = build(setup, tweak)
    while jump.truth.gates[-1].name != "final" and setup.flown_m[-1] < 150.0:
        setup = replace(setup, flown_m=_lifted(setup.flown_m, 20.0))
        jump = build(setup, tweak)
    if pattern == "downwind and base in one arc":
        return replace(jump, truth=replace(jump.truth, optional=("downwind", "base")))
    return jump


def _lifted(heights_m: tuple[float, ...], by_m: float) -> tuple[float, ...]:
    """The last gate higher (its turn would end in the ground), those before it where they get too near."""
    return ordered_heights([h / FOOT_M for h in (*heights_m[:-1], heights_m[-1] + by_m)])


def _wind(rng: np.random.Generator, speed_150_mps: float, from_deg: float, gusts: float = 0.08) -> Air:
    """Power-law air with a given speed at 150 m."""
    u10 = speed_150_mps / 1.45
    return power_law_air(
        rng, u10_mps=u10, factor=2.0, extra_mps=0.0, from_deg=from_deg, veer_deg=10.0, wiggle_mps=0.2, gust_intensity=gusts
    )  # fmt: skip


def _flyable(setup: Setup, rng: np.random.Generator) -> Setup:
    """Other air where the drawn wind is stronger than 0.7 of the airspeed: the pattern shall be the hard thing."""
    east, north = setup.air.mean(150.0)
    most = 0.7 * setup.canopy.airspeed_mps
    if math.hypot(float(east), float(north)) <= most:
        return setup
    return _in_air(setup, _wind(rng, float(rng.uniform(0.2, 1.0)) * most, float(rng.uniform(0.0, 360.0))))


def _in_air(setup: Setup, air: Air, off_deg: float = 0.0) -> Setup:
    """The setup in other air, landing into its wind near the ground plus ``off_deg``, the plan made for that air."""
    landing = (into_wind_deg(air, 30.0) + off_deg) % 360.0
    return replace(setup, air=air, assumed=air.still(), landing_deg=landing)


def _without(setup: Setup, *names: str) -> Setup:
    """The setup without some legs."""
    keep = [i for i, leg in enumerate(setup.legs) if leg not in names]

    def some(values: tuple[Any, ...]) -> tuple[Any, ...]:
        return tuple(values[i] for i in keep)

    return replace(
        setup,
        legs=some(setup.legs),
        planned_m=some(setup.planned_m),
        flown_m=some(setup.flown_m),
        heading_errors_deg=some(setup.heading_errors_deg),
    )


def _changed(name: str, **fields: Any) -> Tweak:
    return lambda legs: tuple(replace(leg, **fields) if leg.name == name else leg for leg in legs)


def _crab_60(setup: Setup, rng: np.random.Generator) -> Case:
    strong = setup.canopy.airspeed_mps * math.sin(math.radians(float(rng.uniform(54.0, 61.0))))
    return _in_air(setup, _wind(rng, strong, float(rng.uniform(0.0, 360.0)))), None


def _cut_short(setup: Setup, rng: np.random.Generator) -> Case:
    return _without(setup, "base"), None


def _s_turns(setup: Setup, rng: np.random.Generator) -> Case:
    high = ordered_heights([*(h / FOOT_M for h in setup.flown_m[:3]), float(rng.uniform(330.0, 420.0))])
    weave, count = float(rng.uniform(40.0, 70.0)), int(rng.integers(2, 4))
    return replace(setup, flown_m=high), _changed("final", weave_deg=weave, weaves=count)


def _outside(setup: Setup, rng: np.random.Generator) -> Case:
    """Base or final is reached by three quarters of a circle over the other side, begun high enough to end well above the ground."""
    bank = max(setup.turn_bank_deg, 30.0)
    name = "base" if rng.random() < 0.5 else "final"
    feet = [h / FOOT_M for h in setup.flown_m]
    if name == "final":
        feet[3] = max(feet[3], float(rng.uniform(1.35, 1.6)) * _turn_loss_m(setup, 310.0, bank) / FOOT_M)
    setup = replace(setup, flown_m=ordered_heights(feet, apart_ft=130.0 if name == "final" else 330.0))
    return setup, _changed(name, side=-setup.side, bank_deg=bank)


def _turn_loss_m(setup: Setup, degrees: float, bank_deg: float) -> float:
    """Height that a steady turn takes [m]."""
    v, sink = steady(setup.canopy, math.radians(bank_deg), 0.0, 1.08)
    return math.radians(degrees) * math.hypot(v, sink) / (G * math.tan(math.radians(bank_deg))) * sink


def _from_other_hand(setup: Setup, rng: np.random.Generator) -> Case:
    setup = _without(replace(setup, side=-1), "crosswind")
    track = (setup.landing_deg + 180.0) % 360.0
    setup = replace(
        setup,
        approach_deg=(track - float(rng.uniform(90.0, 150.0))) % 360.0,
        approach_side=1,
        style="spirals",
    )
    return setup, _changed("downwind", side=1)


def _one_arc(setup: Setup, rng: np.random.Generator) -> Case:
    """Downwind begins, and bends at once in one long, flat turn through base; only the last turn is a turn of its own."""

    def bend(legs: tuple[LegPlan, ...]) -> tuple[LegPlan, ...]:
        down, base, last = legs[-3:]
        seconds = (down.agl_m - last.agl_m - 50.0) / (1.05 * setup.canopy.sink_mps)
        rate = math.radians(110.0) / seconds
        bank = math.degrees(math.atan(rate * setup.canopy.airspeed_mps / G))
        arc = replace(base, agl_m=down.agl_m - 25.0, bank_deg=bank, counts=False)
        return (*legs[:-3], replace(down, counts=False), arc, last)

    return setup, bend


def _aborted(setup: Setup, rng: np.random.Generator) -> Case:
    """Downwind is broken off at 650 to 800 ft by a turn straight onto a long final."""
    setup = _without(setup, "base")
    early = ordered_heights([h / FOOT_M for h in setup.flown_m[:2]] + [float(rng.uniform(620.0, 760.0))])
    return replace(setup, flown_m=early), None


def _straight_in(setup: Setup, rng: np.random.Generator) -> Case:
    setup = _without(setup, "crosswind", "downwind", "base")
    height = float(rng.uniform(900.0, 1400.0)) * FOOT_M
    start = (setup.landing_deg + float(rng.choice([-1.0, 1.0])) * float(rng.uniform(60.0, 140.0))) % 360.0
    return replace(setup, planned_m=(height,), flown_m=(height,), approach_deg=start), None


def _low_flat(setup: Setup, rng: np.random.Generator) -> Case:
    """A braked turn below 100 ft, as flat as lets it end two thirds of the way down."""
    low = float(rng.uniform(75.0, 97.0)) * FOOT_M
    setup = replace(setup, flown_m=(*setup.flown_m[:3], low))
    canopy = setup.canopy
    need = 2.0 * 0.6 * canopy.airspeed_mps * canopy.sink_mps / (0.55 * low * G)
    bank = max(float(rng.uniform(15.0, 20.0)), math.degrees(math.atan(need)))
    return setup, _changed("final", bank_deg=bank, turn_brake=0.5)


def _across(setup: Setup, rng: np.random.Generator) -> Case:
    air = _wind(rng, float(rng.uniform(2.5, 4.5)), float(rng.uniform(0.0, 360.0)))
    return _in_air(setup, air, float(rng.choice([-90.0, 90.0])) + float(rng.normal(0.0, 10.0))), None


def _downwind_landing(setup: Setup, rng: np.random.Generator) -> Case:
    air = _wind(rng, float(rng.uniform(1.5, 3.5)), float(rng.uniform(0.0, 360.0)))
    return _in_air(setup, air, 180.0 + float(rng.normal(0.0, 10.0))), None


def _other_side(setup: Setup, rng: np.random.Generator) -> Case:
    """The wind below 80 m comes from another side than that above 250 m."""
    air = _wind(rng, float(rng.uniform(3.0, 6.0)), float(rng.uniform(0.0, 360.0)))
    turned = float(rng.choice([-1.0, 1.0])) * float(rng.uniform(90.0, 170.0))
    part = np.clip((250.0 - air.agl_m) / 170.0, 0.0, 1.0)
    angle = np.radians(turned * part * part * (3.0 - 2.0 * part))
    east = air.east * np.cos(angle) + air.north * np.sin(angle)
    north = -air.east * np.sin(angle) + air.north * np.cos(angle)
    return _in_air(setup, replace(air, east=east, north=north)), None


def _nil_wind(setup: Setup, rng: np.random.Generator) -> Case:
    air = power_law_air(
        rng, u10_mps=0.15, factor=1.5, extra_mps=0.4, from_deg=float(rng.uniform(0.0, 360.0)), veer_deg=20.0,
        wiggle_mps=0.1, gust_intensity=0.1,
    )  # fmt: skip
    return replace(_in_air(setup, air), landing_deg=float(rng.choice([60.0, 240.0]))), None


def _watch(setup: Setup, rng: np.random.Generator) -> Case:
    watch = Receiver(
        name="watch", interval_s=(0.743, 1.236), white_m=0.5, drift_m=2.5, height_white_m=0.6, height_drift_m=2.0, smooth_s=0.8, lag_s=1.0
    )  # fmt: skip
    return replace(setup, receiver=watch), None


_CASES: dict[str, Callable[[Setup, np.random.Generator], Case]] = {
    "crab of 60 degrees": _crab_60,
    "base cut short to a 180": _cut_short,
    "S-turns on final": _s_turns,
    "turned to the outside": _outside,
    "entered from a right-hand turn": _from_other_hand,
    "downwind and base in one arc": _one_arc,
    "aborted": _aborted,
    "straight in": _straight_in,
    "low flat turn": _low_flat,
    "across the wind": _across,
    "down the wind": _downwind_landing,
    "other wind near the ground": _other_side,
    "nil wind": _nil_wind,
    "watch": _watch,
}
HARD_PATTERNS = tuple(_CASES)
