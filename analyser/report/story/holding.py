"""What is told of the flight above the field: what stayed in reach, how near the entry came, and the named stretches."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from analyser.debrief import Debrief
from analyser.holding import Stretch, WindCheck
from analyser.reach import SURE, GoalReach, Reach
from analyser.replay.places import place_at_height
from analyser.report.story.blocks import (
    Aside,
    Blocks,
    Points,
    Sentence,
    Table,
    bearing,
    distance,
    height,
    seconds,
    speed,
)
from analyser.sentences import Number

__all__ = ["Entered", "entered_at", "holding"]


class Entered(NamedTuple):
    """How near the flight came to the plan's entry: at the entry's height, and lower down once on its leg [m]; None: not known.

    ``error_m`` of both, one standard deviation; ``blamed`` where a cause of the miss is the entry; within ``near_m`` a place is worth no word.
    """

    agl_m: float
    off_m: float | None
    leg_agl_m: float | None
    leg_off_m: float | None
    error_m: float
    blamed: bool
    near_m: float = 0.0


def entered_at(debrief: Debrief) -> Entered | None:
    """How near the flight came to the entry of its plan; None without a plan or a flight through the entry's height."""
    planned, span = debrief.planned, debrief.canopy_fixes
    if planned is None or not planned.gates or span is None:
        return None
    gate, row = planned.gates[0], next(iter(debrief.comparison), None)
    there = place_at_height(debrief.track, span, gate.agl_m)
    off = None if there is None else math.hypot(there[0] - gate.east_m, there[1] - gate.north_m)
    known = row is not None and row.along_m is not None and row.across_m is not None
    leg = math.hypot(row.along_m or 0.0, row.across_m or 0.0) if row is not None and known else None
    error = (row.lateral_sd_m if row is not None else None) or debrief.track.position_sd_m
    near = debrief.settings.method.gate_place.value
    blamed = any(f.evidence.get("row") == "entry" for f in debrief.findings if f.metres > 0.0)
    return Entered(gate.agl_m, off, row.place_agl_m if row is not None else None, leg, error, blamed, near)


def holding(
    reach: Reach | None,
    stretches: Sequence[Stretch],
    entered: Entered | None = None,
    landed_m: float | None = None,
) -> Blocks:
    """Reach and named stretches; empty where neither is known (the chapter is then left out).

    ``landed_m`` how far from the target the flight came down: farther out of reach than that it was not.
    """
    items = []
    if reach is not None:
        items += _entry(reach.entry, entered)
        items += [s for s in (_goal("target", reach.target, landed_m),) if s]
        if reach.crossed_agl_m is not None:
            text = "You crossed to the downwind side of the target at {height}."
            items.append(Sentence(text, {"height": height(reach.crossed_agl_m)}))
        items.append(Sentence("The wind line comes from {deg}.", {"deg": bearing(reach.from_deg)}))
    return (*((Points(tuple(items)),) if items else ()), *_stretches(stretches))


def _entry(goal: GoalReach | None, entered: Entered | None) -> list[Sentence]:
    """How the pattern was joined where that went well, else whether its entry stayed in reach and how near the flight came to it."""
    reached = _goal("pattern entry", goal)
    if reached is None or goal is None or goal.in_reach or entered is None:
        return [reached] if reached else []
    leg: dict[str, Number | float | str | None] = {
        "agl": height(entered.leg_agl_m),
        "off": distance(entered.leg_off_m, entered.error_m),
    }
    near = max(entered.near_m, SURE * entered.error_m)
    if entered.leg_off_m is not None and entered.leg_off_m <= near and not entered.blamed:
        return [
            Sentence("You joined the pattern: at {agl}, on its first leg, you were {off} from the plan.", leg)
        ]
    if entered.off_m is None:
        return [reached]
    said = _came_near(reached, goal, entered)
    if entered.leg_off_m is not None:
        said.append(Sentence("Lower, at {agl} on the first leg, you were {off} from the plan.", leg))
    return said


def _came_near(reached: Sentence, goal: GoalReach, entered: Entered) -> list[Sentence]:
    """What reach says with how near the flight came: that is what was out of reach at most, whatever margins say before."""
    values: dict[str, Number | float | str | None] = {
        "agl": height(entered.agl_m),
        "off": distance(entered.off_m, entered.error_m),
    }
    if goal.in_reach is None or goal.lost_agl_m is None:
        return [reached, Sentence("At {agl} you were {off} from the pattern entry.", values)]
    values |= {"lost": height(goal.lost_agl_m)}
    return [
        Sentence(
            "From {lost} on the pattern entry was out of reach in full flight: at {agl} you were {off} from it.",
            values,
        )
    ]


def _goal(name: str, goal: GoalReach | None, came_m: float | None = None) -> Sentence | None:
    if goal is None or goal.worst_margin_m is None:
        return None
    left = goal.worst_margin_m >= 0.0
    values: dict[str, Number | float | str | None] = {
        "name": name,
        "margin": distance(abs(goal.worst_margin_m), goal.worst_margin_sd_m),
        "at": height(goal.worst_agl_m),
        "lost": height(goal.lost_agl_m),
    }
    if goal.in_reach is None:
        how = "at {at} you had {margin} to spare" if left else "at {at} you were {margin} short of it"
        return Sentence(f"We cannot say whether the {{name}} stayed within reach: {how}.", values)
    if goal.in_reach:
        return Sentence(
            "The {name} stayed within reach in full flight. The least to spare was {margin}, at {at}.", values
        )
    lost = goal.lost_agl_m is not None
    vague = abs(goal.worst_margin_m) <= SURE * (goal.worst_margin_sd_m or 0.0)
    if vague or (
        came_m is not None and came_m < abs(goal.worst_margin_m)
    ):  # out of reach later, when more was known
        since = "from {lost} on" if lost else "for a while"
        return Sentence(f"The {{name}} was out of reach in full flight {since}.", values)
    since = ", and out of reach from {lost} on" if lost else ""
    return Sentence(f"At {{at}} the {{name}} lay {{margin}} beyond reach in full flight{since}.", values)


def _stretches(stretches: Sequence[Stretch]) -> Blocks:
    if not stretches:
        return ()
    rows = tuple(
        (
            s.name,
            height(s.start_agl_m),
            height(s.end_agl_m),
            seconds(s.end_s - s.start_s),
            bearing(s.heading_deg),
            speed(s.ground_speed_mps),
            distance(s.drift_m),
        )
        for s in stretches
    )
    head = ("stretch", "from height", "to height", "time", "heading", "over ground", "carried by the wind")
    checks = tuple(_check(s.wind_check) for s in stretches if s.wind_check is not None)
    return (
        Aside((Table("Between opening and entry", head, rows),)),
        Points(checks) if checks else None,
    )


def _check(check: WindCheck) -> Sentence:
    return Sentence(
        "The wind check showed {seen} from {seen_from}. The track shows {there} from {there_from}.",
        {
            "seen": speed(check.told_speed_mps, check.told_speed_sd_mps),
            "seen_from": bearing(check.told_from_deg),
            "there": speed(check.wind_speed_mps, check.wind_speed_sd_mps),
            "there_from": bearing(check.wind_from_deg),
        },
    )
