"""weigh: the one thing to do on the next jump, chosen by what it would gain in other winds with the same habits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, NamedTuple

from analyser.flight import Trim, wind_known, wind_over_airspeed
from analyser.frame import LocalFrame
from analyser.pattern import LegName, Pattern
from analyser.plan.areas import crossed
from analyser.plan.jump import Plan
from analyser.replay.advised_steps import Step, Values, in_full_flight, step_for
from analyser.replay.budget import GATE_AT_END, BudgetRow
from analyser.replay.next_jump import (
    NO_JUMPS,
    Earlier,
    Habit,
    growth_of_height,
    growth_of_wind,
    worth_it,
)
from analyser.replay.parts import Part
from analyser.replay.sink import Brakes
from analyser.replay.standing import standing
from analyser.replay.thresholds import REPLAY
from analyser.score import Landing
from analyser.sentences import fill
from analyser.settings import Settings
from analyser.wind.profile import WindProfile

__all__ = [
    "Advice",
    "Choice",
    "Kind",
    "Weighed",
    "any_possible",
    "chosen",
    "nothing_to_change",
    "weigh",
]

Kind = Literal["plan the wind", "turn height", "turn place", "crab", "brakes", "other side", "nothing"]
STRONG = (
    "The wind came to {share:percent} of the canopy's airspeed at pattern height. No gate moves that away: in such a wind the "
    "answer is to stay on the ground."
)
SMALL = "The miss of {offset_m:distance} is not larger than its error: nothing to change."
GUSTY = "The miss of {offset_m:distance} is no larger than what gusts alone move a landing by from flight to flight: nothing to change."
NOTHING = "No single change would gain more than its error on other jumps: nothing to change."
NOT_FLOWN = (
    "The pattern was not flown, so no change of it can be calculated. When the entry goes out of reach, choose another clear landing "
    "area early and plan a pattern there."
)
CHANCE = (
    "The {earlier:count} earlier jumps in the logbook do not show this: it was chance. Nothing to change."
)
CHANCE_OF_ONE = "The earlier jump in the logbook does not show this: it was chance. Nothing to change."


@dataclass(frozen=True, slots=True)
class Advice:
    """One thing to do on the next jump, or why there is nothing.

    ``kind`` says what; ``gate`` the turn or the leg, None where it is about neither. Height [m, positive higher]; place [m]
    along/across the direction of landing, as distance and bearing [deg true], and as latitude/longitude of where to be.
    ``gain_m``: metres by which the mean miss of other jumps would become smaller, with standard deviation; ``habit_share`` how likely
    what it takes back is a habit and no chance. A blocked change carries
    no numbers. ``text`` is metric; ``template`` with ``evidence`` says it in other units (:func:`analyser.sentences.fill`).
    """

    gate: LegName | None
    change_agl_m: float | None
    change_along_m: float | None
    change_across_m: float | None
    text: str
    blocked_by: str | None = None
    template: str = ""
    evidence: Values = field(default_factory=dict)
    kind: Kind = "nothing"
    bearing_deg: float | None = None
    distance_m: float | None = None
    lat: float | None = None
    lon: float | None = None
    gain_m: float | None = None
    gain_sd_m: float | None = None
    habit_share: float | None = None


class Choice(NamedTuple):
    """A part of the budget one may do something about: what is known of the habit, and the advice, None where no step takes it back."""

    habit: Habit
    advice: Advice | None


class Weighed(NamedTuple):
    """The advice, the best first, and the choices it was chosen from, so that later jumps can weigh them again."""

    advice: tuple[Advice, ...] = ()
    choices: tuple[Choice, ...] = ()


def weigh(
    rows: Sequence[BudgetRow],
    plan: Plan,
    flown: Pattern,
    landing: Landing,
    trim: Trim,
    wind: WindProfile,
    *,
    settings: Settings,
    frame: LocalFrame,
    brakes: Brakes | None = None,
    there: tuple[float, float] | None = None,
    out_of_reach: bool = False,
    earlier: Earlier = NO_JUMPS,
) -> Weighed:
    """What to do on the next jump, the best first; empty without a target, a flown gate or a known wind.

    Every candidate takes back one part of the budget that lies beyond its error, in steps that can be flown. They are ranked by
    how much smaller the mean miss would be in other winds with the same habits (:func:`analyser.replay.next_jump.gains`), so nothing
    is advised that only this landing asks for. ``earlier``: the same parts on earlier jumps; habit and chance are told apart by them.
    Never a turn below the site's minimum, never a plan over a keep-out area; nothing where the miss
    is within its error or within what gusts alone make; in a wind near the airspeed only the advice to stay on the ground.

    Parameters
    ----------
    rows : sequence of BudgetRow
        Of this jump, metres along and across.
    plan : Plan
        Drawn for the flown hand.
    flown : Pattern
        The pattern found in the track.
    landing : Landing
        With offset, along and across [m].
    trim : Trim
        Speeds of full flight at sea-level density [m/s].
    wind : WindProfile
        As recovered above the brakes of the final.
    settings : Settings
        Site, units of the plan, thresholds.
    frame : LocalFrame
        Of the places [m], for their latitudes and longitudes.
    brakes : Brakes, optional
        Those of the final.
    there : tuple of float, optional
        Where the flight was at the height of the plan's entry, from the target, east and north [m].
    out_of_reach : bool
        Whether the plan's entry went out of reach in full flight.
    earlier : Earlier
        What the logbook knows.

    Returns
    -------
    Weighed
        Gains [m] with their standard deviations; blocked ones say why.
    """
    if landing.along_m is None or landing.offset_m is None or not flown.gates:
        return Weighed()
    method, top = settings.method, max(g.agl_m for g in flown.gates)
    share, share_sd = wind_over_airspeed(trim, wind, top)
    if share >= method.strong_wind_ratio.value:
        strong = _nothing(STRONG, {"share": share, "share_sd": share_sd}, blocked="wind near the airspeed")
        return Weighed((strong,))
    if not wind_known(wind, min(top, REPLAY.pattern_m)) or not rows:
        return Weighed()
    offset: Values = {"offset_m": landing.offset_m, "offset_sd_m": landing.offset_sd_m or 0.0}
    if landing.offset_m <= method.certainty.value * (landing.offset_sd_m or 0.0):
        return Weighed((_nothing(SMALL, offset),))
    if landing.offset_m <= method.advice_least.value:
        return Weighed((_nothing(GUSTY, offset),))
    parts = standing(rows, method, brakes)
    choices = tuple(
        Choice(
            _habit(row, part, plan, trim, wind, brakes),
            _taken_back(row, part, plan, flown, landing, wind, settings, frame, brakes, there),
        )
        for row, part in parts
    )
    choices += _rest(rows, parts, landing)
    advice = chosen(choices, earlier)
    if out_of_reach and flown.kind == "straight in" and len(plan.pattern.gates) > 1 and not _does(advice):
        advice = (_nothing(NOT_FLOWN, {}),)
    return Weighed(advice, choices)


def _does(advice: Sequence[Advice]) -> bool:
    """Whether any of it is something to do."""
    return any(one.kind != "nothing" and one.blocked_by is None for one in advice)


def _rest(
    rows: Sequence[BudgetRow], parts: Sequence[tuple[BudgetRow, Part]], landing: Landing
) -> tuple[Choice, ...]:
    """What no part that stands out explains, where it is too large to be left out: with it in place a change may gain nothing."""
    named = [part for _, part in parts]
    along = (landing.along_m or 0.0) - sum(p.along_m for p in named)
    across = (landing.across_m or 0.0) - sum(p.across_m for p in named)
    if not named or math.hypot(along, across) < REPLAY.least_rest_m:
        return ()
    sd = tuple(round(max(getattr(r, f"{axis}_sd_m") for r in rows), 1) for axis in ("along", "across"))
    return (Choice(Habit("rest", "place", (round(along, 1), round(across, 1)), (sd[0], sd[1])), None),)


def chosen(choices: Sequence[Choice], earlier: Earlier = NO_JUMPS) -> tuple[Advice, ...]:
    """The advice of every choice that gains beyond its error on other jumps, open before blocked; else that there is nothing.

    Parameters
    ----------
    choices : sequence of Choice
        What one may do something about.
    earlier : Earlier
        What the logbook knows.

    Returns
    -------
    tuple of Advice
        At least one.
    """
    gaining = worth_it([c.habit for c in choices], earlier)
    advice = [
        replace(one, gain_m=gain.metres, gain_sd_m=gain.sd, habit_share=gain.habit)
        for i, gain in gaining.items()
        if (one := choices[i].advice) is not None
    ]
    if not advice:
        possible = [c.advice is not None for c in choices]
        chance = earlier.jumps > 0 and any_possible([c.habit for c in choices], possible)
        return (nothing_to_change(earlier.jumps if chance else 0),)
    return tuple(sorted(advice, key=lambda a: (a.blocked_by is not None, -(a.gain_m or 0.0))))


def any_possible(habits: Sequence[Habit], possible: Sequence[bool]) -> bool:
    """Whether this jump alone would have given an advice; ``possible``: which habits a step takes back."""
    return any(possible[i] for i in worth_it(habits))


def nothing_to_change(earlier_jumps: int = 0) -> Advice:
    """That no change gains enough; with earlier jumps, that they show it to have been chance."""
    if earlier_jumps == 0:
        return _nothing(NOTHING, {})
    return _nothing(CHANCE if earlier_jumps > 1 else CHANCE_OF_ONE, {"earlier": float(earlier_jumps)})


def _habit(
    row: BudgetRow, part: Part, plan: Plan, trim: Trim, wind: WindProfile, brakes: Brakes | None
) -> Habit:
    """What is known of one part, in the figures of the JSON document, so that a logbook weighs it in the same way."""
    meant = part.part == "speed" and in_full_flight(row.cause, part, brakes) is False
    metres, growth = (round(part.along_m, 1), round(part.across_m, 1)), None
    sd = (round(part.along_sd_m, 1), round(part.across_sd_m, 1))
    gate = plan.pattern.gate(GATE_AT_END[row.cause]) if row.cause in GATE_AT_END else None
    if part.part == "height" and part.amount is not None and gate is not None:
        growth = growth_of_height(plan.pattern, trim, wind, gate.name, part.amount, math.hypot(*metres))
    elif part.part in ("wind", "direction"):
        growth = growth_of_wind()
    rounded = None if growth is None else tuple(round(g, 3) for g in growth)
    return Habit(row.cause, part.part, metres, sd, rounded, meant)


def _taken_back(
    row: BudgetRow,
    part: Part,
    plan: Plan,
    flown: Pattern,
    landing: Landing,
    wind: WindProfile,
    settings: Settings,
    frame: LocalFrame,
    brakes: Brakes | None,
    there: tuple[float, float] | None,
) -> Advice | None:
    """The advice that takes a part back, before its gain is known."""
    step = step_for(row.cause, part, plan, flown, landing, wind, settings, frame, brakes, there)
    return None if step is None else _advice(step, plan, settings, frame)


def _advice(step: Step, plan: Plan, settings: Settings, frame: LocalFrame) -> Advice:
    why = step.blocked or _over_an_area(plan, settings, frame)
    if why is not None:
        text = "{what:text} is not advised: {why:text}."
        said = _nothing(text, {"what": step.what, "why": why}, blocked=why)
        return replace(said, kind=step.kind, gate=step.gate)
    lat, lon = step.place or (None, None)
    return Advice(
        gate=step.gate,
        change_agl_m=step.change_agl_m,
        change_along_m=step.moved[0] if step.moved else None,
        change_across_m=step.moved[1] if step.moved else None,
        text=fill(step.template, step.evidence),
        template=step.template,
        evidence=step.evidence,
        kind=step.kind,
        bearing_deg=step.bearing_deg,
        distance_m=math.hypot(*step.moved) if step.moved else None,
        lat=lat,
        lon=lon,
    )


def _over_an_area(plan: Plan, settings: Settings, frame: LocalFrame) -> str | None:
    """Why the planned path may not be flown: every advice leads back to it."""
    path = [(e, n, h) for _, e, n, h in plan.pattern.path]
    over = crossed(settings.site.keep_outs, frame, path)
    return f"the planned path leads over {', '.join(sorted(over))}" if over else None


def _nothing(template: str, evidence: Values, *, blocked: str | None = None) -> Advice:
    text = fill(template, evidence)
    return Advice(None, None, None, None, text, blocked, template, evidence)
