"""advise: the one thing to do on the next jump, chosen by what it would gain in other winds with the same habits."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyser.flight import Trim, wind_known, wind_over_airspeed
from analyser.frame import LocalFrame
from analyser.pattern import LegName, Pattern
from analyser.plan.areas import crossed
from analyser.plan.jump import Plan
from analyser.replay.budget import GATE_AT_END, BudgetRow
from analyser.replay.next_jump import Gain, Habit, gains, height_in_other_winds, other_winds
from analyser.replay.parts import Part
from analyser.replay.sink import Brakes
from analyser.replay.standing import standing
from analyser.replay.steps import Step, Values, in_full_flight, step_for
from analyser.score import Landing
from analyser.sentences import fill
from analyser.settings import Settings
from analyser.wind.profile import WindProfile

__all__ = ["Advice", "Kind", "advise"]

Vector = NDArray[np.float64]
Earlier = Mapping[tuple[str, str], Sequence[tuple[float, float]]]
Kind = Literal["plan the wind", "turn height", "turn place", "crab", "brakes", "other side", "nothing"]
PATTERN_M = 300.0
LEAST_GAIN_M = 6.0
STRONG = (
    "The wind came to {share:percent} of the canopy's airspeed at pattern height. No gate moves that away: in such a wind the "
    "answer is to stay on the ground."
)
SMALL = "The miss of {offset_m:distance} is not larger than its error: nothing to change."
GUSTY = "The miss of {offset_m:distance} is no larger than what gusts alone move a landing by from flight to flight: nothing to change."
NOTHING = "No single change would gain more than its error on other jumps: nothing to change."
CHANCE = "Earlier jumps of this jumper do not show it, so it was chance: nothing to change."


@dataclass(frozen=True, slots=True)
class Advice:
    """One thing to do on the next jump, or why there is nothing.

    ``kind`` says what; ``gate`` the turn or the leg, None where it is about neither. Height [m, positive higher]; place [m]
    along/across the direction of landing, as distance and bearing [deg true], and as latitude/longitude of where to be.
    ``gain_m``: metres by which the mean miss of other jumps would become smaller, with standard deviation. A blocked change carries
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


def advise(
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
    earlier: Earlier | None = None,
) -> tuple[Advice, ...]:
    """What to do on the next jump, the best first; empty without a target, a flown gate or a known wind.

    Every candidate takes back one part of the budget that lies beyond its error, in steps that can be flown. They are ranked by
    how much smaller the mean miss would be in other winds with the same habits (:func:`analyser.replay.next_jump.gains`), so nothing
    is advised that only this landing asks for. ``earlier`` holds the same parts of earlier jumps [(along, across) m] by (row, part): habit
    and chance are told apart by them. Never a turn below the site's minimum, never a plan over a keep-out area; nothing where the miss
    is within its error or within what gusts alone make; in a wind near the airspeed only the advice to stay on the ground.
    """
    if landing.along_m is None or landing.offset_m is None or not flown.gates:
        return ()
    method, top = settings.method, max(g.agl_m for g in flown.gates)
    share, share_sd = wind_over_airspeed(trim, wind, top)
    if share >= method.strong_wind_ratio.value:
        return (_nothing(STRONG, {"share": share, "share_sd": share_sd}, blocked="wind near the airspeed"),)
    if not wind_known(wind, min(top, PATTERN_M)) or not rows:
        return ()
    offset: Values = {"offset_m": landing.offset_m, "offset_sd_m": landing.offset_sd_m or 0.0}
    if landing.offset_m <= method.certainty.value * (landing.offset_sd_m or 0.0):
        return (_nothing(SMALL, offset),)
    if landing.offset_m <= method.advice_least.value:
        return (_nothing(GUSTY, offset),)
    parts = standing(rows, method)
    found = _ranked(parts, plan, flown, landing, trim, wind, settings, frame, brakes, earlier or {})
    return found or (_nothing(CHANCE if earlier and parts else NOTHING, {}),)


def _ranked(
    parts: Sequence[tuple[BudgetRow, Part]],
    plan: Plan,
    flown: Pattern,
    landing: Landing,
    trim: Trim,
    wind: WindProfile,
    settings: Settings,
    frame: LocalFrame,
    brakes: Brakes | None,
    earlier: Earlier,
) -> tuple[Advice, ...]:
    """An advice for every part that one can do something about and that gains beyond its error; open before blocked."""
    habits = [_habit(row, part, plan, trim, wind, earlier, brakes) for row, part in parts]
    advice = []
    for (row, part), gain in zip(parts, gains(habits), strict=True):
        if gain.metres < max(LEAST_GAIN_M, gain.sd):
            continue
        step = step_for(row.cause, part, plan, flown, landing, wind, settings, frame, brakes)
        if step is not None:
            advice.append(_advice(step, gain, plan, settings, frame))
    return tuple(sorted(advice, key=lambda a: (a.blocked_by is not None, -(a.gain_m or 0.0))))


def _habit(
    row: BudgetRow,
    part: Part,
    plan: Plan,
    trim: Trim,
    wind: WindProfile,
    earlier: Earlier,
    brakes: Brakes | None,
) -> Habit:
    rows = earlier.get((row.cause, part.part))
    past = None if not rows else np.asarray(rows, dtype=np.float64).reshape(-1, 2)
    meant = part.part == "speed" and in_full_flight(row.cause, part, brakes) is False
    habit = Habit(
        part.part, (part.along_m, part.across_m), (part.along_sd_m, part.across_sd_m), None, past, meant
    )
    gate = plan.pattern.gate(GATE_AT_END[row.cause]) if row.cause in GATE_AT_END else None
    if part.part == "height" and part.amount is not None and gate is not None:
        changed = height_in_other_winds(plan.pattern, trim, wind, gate.name, part.amount)
        return habit._replace(in_wind=changed)
    if part.part in ("wind", "direction"):
        factors = np.array([[f, 0.0] for f, _ in other_winds()])
        return habit._replace(in_wind=factors * float(np.hypot(*habit.metres)))
    return habit


def _advice(step: Step, gain: Gain, plan: Plan, settings: Settings, frame: LocalFrame) -> Advice:
    why = step.blocked or _over_an_area(plan, settings, frame)
    if why is not None:
        text = "{what:text} is not advised: {why:text}."
        said = replace(
            _nothing(text, {"what": step.what, "why": why}, blocked=why), kind=step.kind, gate=step.gate
        )
        return replace(said, gain_m=gain.metres, gain_sd_m=gain.sd)
    evidence = {**step.evidence, "gain_m": gain.metres, "gain_sd_m": gain.sd}
    lat, lon = step.place or (None, None)
    return Advice(
        gate=step.gate,
        change_agl_m=step.change_agl_m,
        change_along_m=step.moved[0] if step.moved else None,
        change_across_m=step.moved[1] if step.moved else None,
        text=fill(step.template, evidence),
        template=step.template,
        evidence=evidence,
        kind=step.kind,
        bearing_deg=step.bearing_deg,
        distance_m=math.hypot(*step.moved) if step.moved else None,
        lat=lat,
        lon=lon,
        gain_m=gain.metres,
        gain_sd_m=gain.sd,
    )


def _over_an_area(plan: Plan, settings: Settings, frame: LocalFrame) -> str | None:
    """Why the planned path may not be flown: every advice leads back to it."""
    path = [(e, n, h) for _, e, n, h in plan.pattern.path]
    over = crossed(settings.site.keep_outs, frame, path)
    return f"the planned path leads over {', '.join(sorted(over))}" if over else None


def _nothing(template: str, evidence: Values, *, blocked: str | None = None) -> Advice:
    text = fill(template, evidence)
    return Advice(None, None, None, None, text, blocked, template, evidence)
