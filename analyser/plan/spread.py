"""What the errors of wind and canopy do to a plan: the pattern drawn again for many winds and trims that could have been meant."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyser.angles import along_across, compass_deg, signed_difference_deg
from analyser.flight import Air, LegFlown, Start, Trim, fly
from analyser.pattern import Hand
from analyser.plan.draw import orders_of
from analyser.plan.thresholds import PLAN
from analyser.settings import PatternSetup
from analyser.wind.profile import WindProfile

__all__ = ["ErrorsOf", "GateSpread", "LegSpread", "PlanSpread", "errors_of", "spread_of_plan"]

Vector = NDArray[np.float64]
Source = Literal["wind", "canopy"]


@dataclass(frozen=True, slots=True)
class ErrorsOf:
    """Which inputs of a plan carry an error, and why the others do not (empty where both do)."""

    known: tuple[Source, ...]
    reason: str


@dataclass(frozen=True, slots=True)
class GateSpread:
    """Standard deviations [m] of a gate's place, over the ground and along/across the landing direction."""

    east_sd_m: float
    north_sd_m: float
    along_sd_m: float
    across_sd_m: float


@dataclass(frozen=True, slots=True)
class LegSpread:
    """Standard deviations of a leg: heading (and crab) [deg], ground speed [m/s], time [s], length from gate to gate [m]."""

    heading_sd_deg: float
    ground_speed_sd_mps: float
    seconds_sd: float
    length_sd_m: float


@dataclass(frozen=True, slots=True)
class PlanSpread:
    """Per gate and leg, in the order of the plan; where the plan as drawn ends, flown by its heights and tracks alone [m, 1 sigma]."""

    gates: tuple[GateSpread, ...]
    legs: tuple[LegSpread, ...]
    landing_along_sd_m: float
    landing_across_sd_m: float


def errors_of(wind: WindProfile, trim: Trim) -> ErrorsOf:
    """Which of the inputs carry an error, and what part of them does not. An error of nought is one that nobody gave."""
    k = wind.agl_m.shape[0]
    variance = np.diagonal(wind.covariance)
    windless = int(np.sum((variance[:k] <= 0.0) & (variance[k:] <= 0.0)))
    speeds = [
        name for name, sd in (("airspeed", trim.airspeed_sd_mps), ("sink", trim.sink_sd_mps)) if sd <= 0.0
    ]
    known: list[Source] = []
    known += ["wind"] if windless < k else []
    known += ["canopy"] if len(speeds) < 2 else []
    where = "the wind" if windless == k else f"the wind at {windless} of {k} heights"
    what = "speeds" if len(speeds) == 2 else "".join(speeds)
    missing = [f"no error is given for {where}"] if windless else []
    missing += [f"no error is given for the canopy's {what}"] if speeds else []
    return ErrorsOf(tuple(known), "; ".join(missing))


def spread_of_plan(
    setup: PatternSetup,
    trim: Trim,
    wind: WindProfile,
    *,
    hand: Hand,
    landing_deg: float,
    instant_turns: bool = False,
    draws: int = PLAN.draws,
    seed: int = PLAN.seed,
) -> PlanSpread | None:
    """Standard deviations over ``draws`` plans, each drawn for a wind and a trim within their errors; None where neither has any.

    Landing direction, heights and target stay. That the air changes until it is flown through is not in it.
    """
    if not errors_of(wind, trim).known:
        return None
    orders = orders_of(setup, hand, landing_deg)
    air = Air.drawn(trim, wind, np.random.default_rng(seed), draws)
    flight = fly(air, Start(0.0, 0.0, orders[0].turn_agl_m), orders, instant_turns=instant_turns)
    end = flight.landing
    gates = tuple(
        _gate(leg.begin.east_m - end.east_m, leg.begin.north_m - end.north_m, landing_deg)
        for leg in flight.legs
    )
    return PlanSpread(
        gates, tuple(_leg(leg) for leg in flight.legs), gates[0].along_sd_m, gates[0].across_sd_m
    )


def _gate(east: Vector, north: Vector, landing_deg: float) -> GateSpread:
    parts = (east, north, *along_across(east, north, landing_deg))
    return GateSpread(*(float(np.std(v)) for v in parts))


def _leg(leg: LegFlown) -> LegSpread:
    """Ground speed from the roll-out on, time and length with the turn, as in the table of the legs."""
    straight = np.hypot(leg.end.east_m - leg.turned.east_m, leg.end.north_m - leg.turned.north_m)
    seconds = np.maximum(leg.end.t_s - leg.turned.t_s, 1e-9)
    length = np.hypot(leg.end.east_m - leg.begin.east_m, leg.end.north_m - leg.begin.north_m)
    first, last = leg.turned.heading_deg, leg.end.heading_deg
    heading = first + 0.5 * signed_difference_deg(last, first)
    middle = compass_deg(np.mean(np.sin(np.radians(heading))), np.mean(np.cos(np.radians(heading))))
    return LegSpread(
        float(np.std(signed_difference_deg(heading, middle))),
        float(np.std(straight / seconds)),
        float(np.std(leg.end.t_s - leg.begin.t_s)),
        float(np.std(length)),
    )
