"""replay: where the metres of a miss came from, and whether the plan would have worked in the wind that was there.

The plan is flown again in the recovered wind from one gate after the other, each time from where the jumper really was:
L0 the target; L1 the whole plan from its own entry; L2, L3, L4 the rest of the plan from where the jumper was when turned onto
downwind, base and final; L5 the real landing. Successive differences are the causes, so they add up to the miss exactly.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyser.angles import along_across
from analyser.compare import GateDifference, compare
from analyser.flight import Air, Start, Trim, fly, wind_known
from analyser.pattern import LegName, Pattern
from analyser.plan import orders_from
from analyser.replay.parts import Part, PartName, Shift, minus, shapley_pair, with_amount
from analyser.replay.stations import Again, Station, between, draw_errors, station, to_the_ground
from analyser.replay.thresholds import REPLAY
from analyser.score import Landing
from analyser.track import Track
from analyser.wind.profile import WindProfile

__all__ = [
    "CAUSES",
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
NOWHERE: Shift = (np.zeros(1), np.zeros(1))


@dataclass(frozen=True, slots=True)
class BudgetRow:
    """One cause of the miss: metres along/across (signs as the landing's) with sd; ``reason`` where nothing could be told apart.

    ``parts`` add up to the row: what one may change, each alone.
    """

    cause: Cause
    along_m: float
    across_m: float
    along_sd_m: float
    across_sd_m: float
    reason: str = ""
    parts: tuple[Part, ...] = ()

    def part(self, name: PartName) -> Part | None:
        """The part of that name, or None."""
        return next((p for p in self.parts if p.part == name), None)


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
    made_for: tuple[Trim, WindProfile] | None = None,
    draws: int = REPLAY.draws,
    seed: int = REPLAY.seed,
) -> tuple[BudgetRow, ...]:
    """The causes of the miss in metres; the rows add up to ``landing.along_m`` / ``across_m``, the parts of each to their row.

    ``plan`` and ``flown`` stand in metres from the target, ``wind`` is the wind that was there with its covariance,
    ``position_sd_m`` and ``agl_sd_m`` are the errors that all places and heights of the track share. With ``winds_from`` "track" the
    plan was drawn for the recovered wind itself, so that nothing can be put down to the wind. A plan of the other hand than flown
    compares two different patterns: hand over the plan for the flown hand. ``made_for``: the trim and the wind the plan was drawn
    with; without it the first row is all wind. Standard deviations: ``draws`` draws of winds, trim speeds, places and heights.
    Empty without a target or an axis, or where the wind is undetermined over most of the pattern.

    With ``track`` the rest of the plan is flown from where the jumper was once established on each leg, so that the turn itself
    counts with the leg before it, and a plan that begins with the downwind leg asks for a place at a height, not for a turn; without
    it from the gates, turns included, whose places are less certain.

    Parameters
    ----------
    plan, flown : Pattern
        Of the same hand, in metres from the target.
    landing : Landing
        The touchdown.
    trim : Trim
        What the wing flew with.
    wind : WindProfile
        With its covariance.
    winds_from : str
        ``"plan"`` or ``"track"``: for which wind the plan was drawn.
    position_sd_m, agl_sd_m : float
        Errors that all places and heights share [m].
    track : Track, optional
        Places [m], velocities [m/s] and heights above the landing area [m].
    made_for : tuple of (Trim, WindProfile), optional
        What the plan was drawn with.
    draws, seed : int
        Of winds and trims, for the errors.

    Returns
    -------
    tuple of BudgetRow
        Metres along (long positive) and across (right positive) with standard deviations.
    """
    if landing.landing_deg is None or landing.along_m is None or not plan.gates:
        return ()
    if not wind_known(wind, plan.gates[0].agl_m):
        return ()
    rng = np.random.default_rng(seed)
    air = Air.drawn(trim, wind, rng, draws, central=True)
    errors = draw_errors(rng, draws, position_sd_m, agl_sd_m)
    again = Again(plan, flown, air, errors, track, landing)
    end, reason = _whole_plan(plan, air, winds_from)
    rows = [
        _row(
            "wind",
            NOWHERE,
            end,
            _of_the_wind(plan, air, end, made_for if not reason else None),
            again,
            reason,
        )
    ]
    last = Station.of_plan(plan, end)
    for cause in ("entry", "downwind leg", "base leg"):
        name = GATE_AT_END[cause]
        here = station(again, name)
        if here is None:
            why = f"no {name} leg was found; what it cost stands in the next row"
            rows.append(_row(cause, last.end, last.end, {}, again, why))
            continue
        rows.append(_row(cause, last.end, here.end, between(again, last, here), again))
        last = here
    down = (landing.east_m + errors.east, landing.north_m + errors.north)
    rows.append(_row("final leg", last.end, down, to_the_ground(again, last, down), again))
    return tuple(rows)


def _of_the_wind(
    plan: Pattern, air: Air, end: Shift, made_for: tuple[Trim, WindProfile] | None
) -> dict[PartName, Shift]:
    """The first row split into the wind the plan assumed and the trim it was drawn with."""
    if made_for is None:
        return {"wind": end}
    typed, assumed = made_for
    there_as_typed = _from_entry(plan, air.with_speeds(typed.airspeed_mps, typed.sink_mps))
    assumed_as_flown = _from_entry(plan, air.with_wind(assumed))
    wind, speed = shapley_pair(NOWHERE, there_as_typed, assumed_as_flown, end)
    return {"wind": wind, "speed": speed}


def _whole_plan(plan: Pattern, air: Air, winds_from: Literal["plan", "track"]) -> tuple[Shift, str]:
    if winds_from == "track":
        nowhere = np.zeros(len(air))
        return (nowhere, nowhere), "the plan was drawn for the recovered wind"
    return _from_entry(plan, air), ""


def _from_entry(plan: Pattern, air: Air) -> Shift:
    first = plan.gates[0]
    end = fly(air, Start(first.east_m, first.north_m, first.agl_m), orders_from(plan, first.name)).landing
    return end.east_m, end.north_m


def _row(
    cause: Cause, a: Shift, b: Shift, parts: Mapping[PartName, Shift], again: Again, reason: str = ""
) -> BudgetRow:
    parts = {} if reason else parts
    deg = again.landing.landing_deg or 0.0
    amounts = again.amounts.get(cause, {})
    return BudgetRow(
        cause,
        *_figures(minus(b, a), deg),
        reason,
        tuple(
            with_amount(Part(name, *_figures(shift, deg)), amounts.get(name)) for name, shift in parts.items()
        ),
    )


def _figures(shift: Shift, landing_deg: float) -> tuple[float, float, float, float]:
    """Along, across and their standard deviations [m]: the first version, and the spread of the others."""
    east, north = np.broadcast_arrays(*shift)
    along, across = along_across(east, north, landing_deg)
    return float(along[0]), float(across[0]), float(np.std(along[1:])), float(np.std(across[1:]))


def would_the_plan_have_worked(
    plan: Pattern,
    trim: Trim,
    wind: WindProfile,
    *,
    redrawn: Pattern | None = None,
    ring_m: float = 20.0,
    draws: int = REPLAY.draws,
    seed: int = REPLAY.seed,
) -> PlanCheck | None:
    """The plan flown in the recovered wind, with its 90 % ellipse from the covariance of wind and trim; None without gates or wind.

    ``redrawn`` is the same setup planned for the recovered wind: the gates are compared with the old ones.

    Parameters
    ----------
    plan : Pattern
        What was planned.
    trim : Trim
        Speeds of full flight at sea-level density [m/s].
    wind : WindProfile
        As recovered.
    redrawn : Pattern, optional
        The same setup, planned for the recovered wind.
    ring_m : float
        Radius about the target that counts as reaching it [m].
    draws, seed : int
        Of winds and trims, for the errors.

    Returns
    -------
    PlanCheck or None
        Where it would have ended, along and across [m], and its ellipse.
    """
    if not plan.gates or plan.landing_deg is None or not wind_known(wind, plan.gates[0].agl_m):
        return None
    air = Air.drawn(trim, wind, np.random.default_rng(seed), draws, central=True)
    (east, north), _ = _whole_plan(plan, air, "plan")
    along, across = along_across(east, north, plan.landing_deg)
    values, vectors = np.linalg.eigh(np.cov(np.stack([east[1:], north[1:]])))
    major = np.sqrt(np.maximum(values, 0.0) * REPLAY.chi2_90)
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
