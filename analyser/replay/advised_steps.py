"""Steps that can be flown: what takes back one part of the budget, in round heights, places and degrees."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from analyser.angles import rotate, wind_from_deg, wrap_360
from analyser.frame import LocalFrame
from analyser.pattern import Hand, LegName, Pattern
from analyser.plan import plan_pattern, tracks_of
from analyser.plan.draw import site_hand
from analyser.plan.jump import Plan
from analyser.replay.budget import GATE_AT_END, Cause
from analyser.replay.parts import Part
from analyser.replay.sink import Brakes
from analyser.replay.thresholds import REPLAY
from analyser.score import Landing
from analyser.settings import Settings
from analyser.units import FOOT_M
from analyser.wind.profile import WindProfile

__all__ = ["Step", "in_full_flight", "step_for"]

Values = dict[str, float | str | None]
StepKind = Literal["plan the wind", "turn height", "turn place", "crab", "brakes", "other side"]
LEG_OF: dict[Cause, LegName] = {"downwind leg": "downwind", "base leg": "base", "final leg": "final"}


@dataclass(frozen=True, slots=True)
class Step:
    """What to do: kind, the turn or leg, a template over its evidence, and the change in numbers where it has some.

    ``moved`` metres along/across the direction of landing; ``place`` (lat, lon) of where to be; ``blocked`` why it is not advised.
    """

    kind: StepKind
    what: str
    gate: LegName | None
    template: str
    evidence: Values = field(default_factory=dict)
    change_agl_m: float | None = None
    moved: tuple[float, float] | None = None
    bearing_deg: float | None = None
    place: tuple[float, float] | None = None
    blocked: str | None = None


def step_for(
    cause: Cause,
    part: Part,
    plan: Plan,
    flown: Pattern,
    landing: Landing,
    wind: WindProfile,
    settings: Settings,
    frame: LocalFrame,
    brakes: Brakes | None,
    there: tuple[float, float] | None = None,
) -> Step | None:
    """The step that takes a part back, or None where nothing one could do does, or only less than a step.

    ``there``: where the flight was at the height of the plan's entry, from the target [m].
    """
    if part.part == "wind":
        return _wind(plan, wind)
    if part.part == "height":
        return _height(cause, part, plan, flown, settings)
    if part.part == "place":
        if cause != "entry":
            return None
        return _other_side(part, plan, landing, settings, frame) or _place(part, plan, landing, frame, there)
    if part.part == "direction":
        return _crab(cause, part, plan, wind)
    return _brakes(cause, part, brakes)


def _wind(plan: Plan, wind: WindProfile) -> Step | None:
    """Plan with the wind as it was."""
    if plan.winds_from != "plan" or not plan.pattern.gates:
        return None
    heights = np.linspace(0.0, plan.pattern.gates[0].agl_m, 9)
    there, thought = ([float(np.mean(v)) for v in profile.vector(heights)] for profile in (wind, plan.wind))
    evidence: Values = {
        "wind_there_mps": math.hypot(*there),
        "from_there_deg": float(wind_from_deg(*there)),
        "wind_planned_mps": math.hypot(*thought),
        "from_planned_deg": float(wind_from_deg(*thought)),
        "up_to_m": plan.pattern.gates[0].agl_m,
    }
    text = (
        "Plan with the wind as it was: {wind_there_mps:speed~} from {from_there_deg:bearing~} up to {up_to_m:height~}, not "
        "{wind_planned_mps:speed~} from {from_planned_deg:bearing~}."
    )
    return Step("plan the wind", "Another wind in the plan", None, text, evidence)


def _height(cause: Cause, part: Part, plan: Plan, flown: Pattern, settings: Settings) -> Step | None:
    """Begin a turn at its planned height."""
    gate = GATE_AT_END.get(cause)
    planned = plan.pattern.gate(gate) if gate else None
    begun = flown.gate(gate) if gate else None
    if gate is None or planned is None or begun is None or part.amount is None:
        return None
    change, sd = -part.amount, math.hypot(begun.agl_sd_m, planned.agl_sd_m)  # as the cause says it
    if _rounded_height(change, planned.agl_m) == 0.0:
        return None
    way = "higher" if change > 0.0 else "lower"
    low = gate == "final" and planned.agl_m < settings.site.min_final_turn_m - 0.5
    evidence: Values = {
        "gate": gate,
        "agl_m": planned.agl_m,
        "change_m": abs(change),
        "change_sd_m": sd,
        "way": way,
    }
    text = "Begin the turn onto {gate:text} at {agl_m:height~}: {change_m:height~} {way:text} than this time."
    return Step(
        "turn height",
        f"Another height of the turn onto {gate}",
        gate,
        text,
        evidence,
        change_agl_m=change,
        blocked="its planned height lies below the site's minimum for the last turn" if low else None,
    )


def _rounded_height(change_m: float, planned_m: float) -> float:
    """To 10 ft below 100 ft and 20 ft above, where the plan is in round feet; else to 5 m."""
    feet = planned_m / FOOT_M
    if abs(feet - 10.0 * round(feet / 10.0)) < 0.5:
        step = (10.0 if abs(change_m) < 100.0 * FOOT_M else 20.0) * FOOT_M
    else:
        step = REPLAY.metric_step_m
    return step * round(change_m / step)


def _place(
    part: Part, plan: Plan, landing: Landing, frame: LocalFrame, there: tuple[float, float] | None
) -> Step | None:
    """Begin the pattern at its place in the plan.

    Where the way there from the flight is another than the one that takes the part back, as for a plan that was not the jumper's own, the
    mark lies at the end of that way: one change is advised, and the rest of the flight stays as it was.
    """
    size, gate = math.hypot(part.along_m, part.across_m), plan.pattern.gates[0]
    distance = REPLAY.place_step_m * round(size / REPLAY.place_step_m)
    if distance == 0.0 or landing.landing_deg is None:
        return None
    along, across = -part.along_m * distance / size, -part.across_m * distance / size
    bearing = float(wrap_360(landing.landing_deg + math.degrees(math.atan2(across, along))))
    lat, lon = frame.to_geodetic(*_mark((gate.east_m, gate.north_m), there, bearing, distance))
    evidence: Values = {
        "gate": gate.name,
        "distance_m": distance,
        "bearing_deg": bearing,
        "agl_m": gate.agl_m,
    }
    text = (
        "Enter the {gate:text} leg at {agl_m:height~} over the mark on the map: {distance_m:distance~} from where you were, towards "
        "{bearing_deg:bearing~}."
    )
    return Step(
        "turn place",
        "Another place of the entry",
        gate.name,
        text,
        evidence,
        moved=(along, across),
        bearing_deg=bearing,
        place=(float(lat), float(lon)),
    )


def _mark(
    planned: tuple[float, float], there: tuple[float, float] | None, bearing_deg: float, distance_m: float
) -> tuple[float, float]:
    """The planned place, or where a way from the flight ends that leads elsewhere, east and north [m]."""
    if there is None:
        return planned
    east, north = rotate(0.0, distance_m, bearing_deg)
    end = there[0] + float(east), there[1] + float(north)
    return planned if math.hypot(planned[0] - end[0], planned[1] - end[1]) <= REPLAY.mark_m else end


def _other_side(
    part: Part, plan: Plan, landing: Landing, settings: Settings, frame: LocalFrame
) -> Step | None:
    """Enter with turns by the other hand, where that entry is much nearer to where the jumper was and no rule of the site forbids."""
    old, deg = plan.pattern, plan.pattern.landing_deg
    off = math.hypot(part.along_m, part.across_m)
    if old.hand is None or deg is None or landing.landing_deg is None or off < REPLAY.other_side_m:
        return None
    if site_hand(settings, deg) is not None:
        return None
    hand: Hand = "left" if old.hand == "right" else "right"
    entry = plan_pattern(settings.pattern, plan.trim, plan.wind, hand=hand, landing_deg=deg).gates[0]
    east, north = rotate(part.across_m, part.along_m, landing.landing_deg)
    there = old.gates[0].east_m + float(east), old.gates[0].north_m + float(north)
    left = math.hypot(entry.east_m - there[0], entry.north_m - there[1])
    if left > REPLAY.other_side_share * off:
        return None
    lat, lon = frame.to_geodetic(entry.east_m, entry.north_m)
    evidence: Values = {
        "hand": hand,
        "agl_m": entry.agl_m,
        "left_m": REPLAY.place_step_m * round(left / REPLAY.place_step_m),
    }
    text = (
        "Enter the pattern from the other side, with {hand:text}-hand turns: at {agl_m:height~} its entry is {left_m:distance~} from "
        "where you were."
    )
    return Step(
        "other side",
        "The pattern of the other hand",
        entry.name,
        text,
        evidence,
        place=(float(lat), float(lon)),
    )


def _crab(cause: Cause, part: Part, plan: Plan, wind: WindProfile) -> Step | None:
    """Point the nose more into the wind on a leg, or less."""
    leg = LEG_OF.get(cause)
    if leg is None or part.amount is None or plan.pattern.hand is None or plan.pattern.landing_deg is None:
        return None
    turn = -REPLAY.crab_step_deg * round(part.amount / REPLAY.crab_step_deg)
    if turn == 0.0:
        return None
    gate = plan.pattern.gate(leg)
    east, north = wind.vector(np.linspace(0.3, 1.0, 5) * (gate.agl_m if gate else 100.0))
    track = tracks_of(plan.pattern.hand, plan.pattern.landing_deg)[leg]
    cross = float(rotate(float(np.mean(east)), float(np.mean(north)), -track)[0])
    side = "right" if turn > 0.0 else "left"
    way = f"to the {side}"
    if abs(cross) > REPLAY.no_wind_mps:
        way = "more into the wind" if turn * cross < 0.0 else "less into the wind"
    evidence: Values = {"leg": leg, "turn_deg": abs(turn), "way": way, "side": side}
    text = "On {leg:text} point the nose {turn_deg:angle~} {way:text}"
    text += "." if way.startswith("to the") else ", to the {side:text}."
    return Step("crab", f"Another crab on {leg}", leg, text, evidence)


def _brakes(cause: Cause, part: Part, brakes: Brakes | None) -> Step | None:
    """Full flight on a leg that was flown in brakes."""
    leg = LEG_OF.get(cause)
    if leg is None or in_full_flight(cause, part, brakes) is not False:
        return None
    text = "Fly {leg:text} in full flight, without brakes above the flare."
    text = text if leg == "final" else "Fly the {leg:text} leg in full flight, without brakes."
    return Step("brakes", f"Full flight on {leg}", leg, text, {"leg": leg})


def in_full_flight(cause: Cause, part: Part, brakes: Brakes | None) -> bool | None:
    """Whether the sink of a leg was that of full flight; False where it shows brakes beyond its error, None where unknown."""
    share, sd = part.amount, part.amount_sd or 0.0
    if cause == "final leg" and brakes is not None:
        share, sd = brakes.share, brakes.share_sd
    return None if share is None else share + 2.0 * sd > REPLAY.slowed
