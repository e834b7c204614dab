"""replay: where the metres of a miss came from, and whether the plan would have worked in the wind that was there.

The plan is flown again in the recovered wind from one gate after the other, each time from where the jumper really was:
L0 the target; L1 the whole plan from its own entry; L2, L3, L4 the rest of the plan from where the jumper was when turned onto
downwind, base and final; L5 the real landing. Successive differences are the causes, so they add up to the miss exactly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.compare import GateDifference, compare
from analyser.flight import Air, Start, Trim, fly, wind_known
from analyser.pattern import Gate, LegName, Pattern
from analyser.plan import orders_from
from analyser.replay.places import established, heading_before
from analyser.score import Landing
from analyser.track import Track
from analyser.wind.profile import WindProfile

__all__ = [
    "CAUSES",
    "Advice",
    "BudgetRow",
    "Cause",
    "PlanCheck",
    "budget",
    "would_the_plan_have_worked",
]

Vector = NDArray[np.float64]
Cause = Literal["wind", "entry", "downwind leg", "base leg", "final leg"]
CAUSES: tuple[Cause, ...] = ("wind", "entry", "downwind leg", "base leg", "final leg")
GATE_AT_END: dict[Cause, LegName] = {"entry": "downwind", "downwind leg": "base", "base leg": "final"}
DRAWS = 400
SEED = 2025
CHI2_90 = -2.0 * math.log(0.1)


@dataclass(frozen=True, slots=True)
class BudgetRow:
    """One cause of the miss: metres along/across (signs as the landing's) with sd; ``reason`` where nothing could be told apart."""

    cause: Cause
    along_m: float
    across_m: float
    along_sd_m: float
    across_sd_m: float
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Advice:
    """The change of one gate that would have put the landing on the target, everything else as flown.

    Height [m, positive higher]; place [m] along/across the direction of landing. ``gate`` None: nothing to move, and ``text``
    says why. A blocked change carries no numbers. ``text`` is metric; ``template`` with ``evidence`` says it in other units
    (:func:`analyser.sentences.fill`).
    """

    gate: LegName | None
    change_agl_m: float | None
    change_along_m: float | None
    change_across_m: float | None
    text: str
    blocked_by: str | None = None
    template: str = ""
    evidence: dict[str, float | str | None] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class PlanCheck:
    """The plan flown in the recovered wind: its landing from the target, along/across its own landing direction [m].

    ``semi_major_m``, ``semi_minor_m``, ``major_deg`` (axis, deg true): the 90 % ellipse about it; ``inside_m`` how far the
    landing lies from the target and ``hit_share`` the share of the draws that land within ``ring_m`` of it. ``redrawn`` is the plan for
    the recovered wind, ``differences`` its gates minus the old ones; both empty without a setup to draw from.
    """

    east_m: float
    north_m: float
    along_m: float
    across_m: float
    along_sd_m: float
    across_sd_m: float
    semi_major_m: float
    semi_minor_m: float
    major_deg: float
    ring_m: float
    hit_share: float
    redrawn: Pattern | None = None
    differences: tuple[GateDifference, ...] = field(default=())


class _Errors(NamedTuple):
    """Drawn errors of places and heights, first row zero: common (n,) and a generator for each gate's own."""

    east: Vector
    north: Vector
    agl: Vector
    position_sd: float
    agl_sd: float
    rng: np.random.Generator


def budget(
    plan: Pattern,
    flown: Pattern,
    landing: Landing,
    trim: Trim,
    wind: WindProfile,
    *,
    winds_from: Literal["plan", "track"] = "plan",
    position_sd_m: float = 0.0,
    agl_sd_m: float = 0.0,
    track: Track | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
) -> tuple[BudgetRow, ...]:
    """The causes of the miss in metres; the rows add up to ``landing.along_m`` / ``across_m``. Empty without a target or an
    axis, or where the wind is undetermined over most of the pattern.

    ``plan`` and ``flown`` stand in metres from the target, ``wind`` is the wind that was there with its covariance,
    ``position_sd_m`` and ``agl_sd_m`` are the errors that all places and heights of the track share. With ``winds_from`` "track" the
    plan was drawn for the recovered wind itself, so that nothing can be put down to the wind. A plan of the other hand than flown
    compares two different patterns: hand over the plan for the flown hand. Standard deviations: ``draws`` draws of winds, trim
    speeds, places and heights.

    With ``track`` the rest of the plan is flown from where the jumper was once established on each leg, so that the turn itself
    counts with the leg before it, and a plan that begins with the downwind leg asks for a place at a height, not for a turn; without
    it from the gates, turns included, whose places are less certain.
    """
    if landing.landing_deg is None or landing.along_m is None or not plan.gates:
        return ()
    if not wind_known(wind, plan.gates[0].agl_m):
        return ()
    rng = np.random.default_rng(seed)
    air = Air.drawn(trim, wind, rng, draws, central=True)
    errors = _draw_errors(rng, draws, position_sd_m, agl_sd_m)
    end, reason = _whole_plan(plan, air, winds_from)
    places = [(np.zeros(draws + 1), np.zeros(draws + 1)), end]
    reasons = [reason]
    for cause in ("entry", "downwind leg", "base leg"):
        found = _from_gate(plan, flown, air, GATE_AT_END[cause], errors, track)
        name = GATE_AT_END[cause]
        reasons.append("" if found else f"no turn onto {name} was found; what it cost stands in the next row")
        places.append(found or places[-1])
    places.append((landing.east_m + errors.east, landing.north_m + errors.north))
    reasons.append("")
    return tuple(
        _row(cause, a, b, landing.landing_deg, why)
        for cause, a, b, why in zip(CAUSES, places[:-1], places[1:], reasons, strict=True)
    )


def _draw_errors(rng: np.random.Generator, n: int, position_sd: float, agl_sd: float) -> _Errors:
    def column(sd: float) -> Vector:
        return np.concatenate([[0.0], sd * rng.standard_normal(n)])

    return _Errors(column(position_sd), column(position_sd), column(agl_sd), position_sd, agl_sd, rng)


def _whole_plan(
    plan: Pattern, air: Air, winds_from: Literal["plan", "track"]
) -> tuple[tuple[Vector, Vector], str]:
    if winds_from == "track":
        nowhere = np.zeros(len(air))
        return (nowhere, nowhere), "the plan was drawn for the recovered wind"
    first = plan.gates[0]
    end = fly(air, Start(first.east_m, first.north_m, first.agl_m), orders_from(plan, first.name)).landing
    return (end.east_m, end.north_m), ""


def _from_gate(
    plan: Pattern, flown: Pattern, air: Air, name: LegName, errors: _Errors, track: Track | None
) -> tuple[Vector, Vector] | None:
    """Where the rest of the plan ends when flown from the flown gate, or None where that gate was not flown."""
    gate = flown.gate(name)
    if gate is None or plan.gate(name) is None:
        return None
    heading = heading_before(flown, name)
    if track is not None:
        first = plan.gates[0]
        on_leg = established(flown, name, track, first.agl_m if first.name == name else None)
        gate, heading = (on_leg, on_leg.heading_deg) if on_leg is not None else (gate, heading)
    end = fly(air, _start(gate, heading, errors), orders_from(plan, name)).landing
    return end.east_m, end.north_m


def _start(gate: Gate, heading: float | None, errors: _Errors) -> Start:
    """The gate with its errors: the part it shares with the whole track, and the rest of its own."""
    n = errors.east.shape[0] - 1
    side = math.sqrt(max(gate.lateral_sd_m**2 - errors.position_sd**2, 0.0))
    up = math.sqrt(max(gate.agl_sd_m**2 - errors.agl_sd**2, 0.0))
    own = np.concatenate([np.zeros((3, 1)), errors.rng.standard_normal((3, n))], axis=1)
    return Start(
        gate.east_m + errors.east + side * own[0],
        gate.north_m + errors.north + side * own[1],
        gate.agl_m + errors.agl + up * own[2],
        heading,
    )


def _row(
    cause: Cause, a: tuple[Vector, Vector], b: tuple[Vector, Vector], landing_deg: float, reason: str
) -> BudgetRow:
    along, across = _axes(b[0] - a[0], b[1] - a[1], landing_deg)
    return BudgetRow(
        cause, float(along[0]), float(across[0]), float(np.std(along[1:])), float(np.std(across[1:])), reason
    )


def _axes(east: Vector, north: Vector, landing_deg: float) -> tuple[Vector, Vector]:
    angle = math.radians(landing_deg)
    return (
        east * math.sin(angle) + north * math.cos(angle),
        east * math.cos(angle) - north * math.sin(angle),
    )


def would_the_plan_have_worked(
    plan: Pattern,
    trim: Trim,
    wind: WindProfile,
    *,
    redrawn: Pattern | None = None,
    ring_m: float = 20.0,
    draws: int = DRAWS,
    seed: int = SEED,
) -> PlanCheck | None:
    """The plan flown in the recovered wind, with its 90 % ellipse from the covariance of wind and trim; None without gates or wind.

    ``redrawn`` is the same setup planned for the recovered wind: the gates are compared with the old ones.
    """
    if not plan.gates or plan.landing_deg is None or not wind_known(wind, plan.gates[0].agl_m):
        return None
    air = Air.drawn(trim, wind, np.random.default_rng(seed), draws, central=True)
    (east, north), _ = _whole_plan(plan, air, "plan")
    along, across = _axes(east, north, plan.landing_deg)
    values, vectors = np.linalg.eigh(np.cov(np.stack([east[1:], north[1:]])))
    major = np.sqrt(np.maximum(values, 0.0) * CHI2_90)
    return PlanCheck(
        east_m=float(east[0]),
        north_m=float(north[0]),
        along_m=float(along[0]),
        across_m=float(across[0]),
        along_sd_m=float(np.std(along[1:])),
        across_sd_m=float(np.std(across[1:])),
        semi_major_m=float(major[1]),
        semi_minor_m=float(major[0]),
        major_deg=float(np.degrees(np.arctan2(vectors[0, 1], vectors[1, 1])) % 180.0),
        ring_m=ring_m,
        hit_share=float(np.mean(np.hypot(east[1:], north[1:]) <= ring_m)),
        redrawn=redrawn,
        differences=compare(redrawn, plan) if redrawn else (),
    )
