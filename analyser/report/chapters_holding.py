"""The chapter about the time between opening and pattern entry: what was flown, and what was still within reach."""

from __future__ import annotations

from analyser.debrief import Debrief
from analyser.holding import WindCheck
from analyser.reach import SURE, GoalReach
from analyser.report.markup import bullets, table
from analyser.report.wording import Words, degrees, plain_number

__all__ = ["holding"]


def holding(debrief: Debrief, words: Words) -> str:
    """Named stretches and reach; empty where neither is known (the chapter is then left out)."""
    return _reach(debrief, words) + _stretches(debrief, words)


def _reach(debrief: Debrief, words: Words) -> str:
    reach = debrief.reach
    if reach is None:
        return ""
    items = [_goal("pattern entry", reach.entry, words), _goal("target", reach.target, words)]
    if reach.crossed_agl_m is not None:
        items.append(f"Went over to the downwind side of the target at {words.height(reach.crossed_agl_m)}")
    items.append(f"The wind line comes from {degrees(reach.from_deg)}")
    return bullets(i for i in items if i)


def _goal(name: str, goal: GoalReach | None, words: Words) -> str:
    if goal is None or goal.worst_margin_m is None:
        return ""
    spare = words.distance(goal.worst_margin_m, goal.worst_margin_sd_m)
    at = words.height(goal.worst_agl_m)
    if goal.in_reach is None:
        return f"Whether the {name} stayed within reach in full flight can not be told; least to spare: {spare}, at {at}"
    if goal.in_reach:
        return f"The {name} could be reached in full flight all the way; least to spare: {spare}, at {at}"
    if abs(goal.worst_margin_m) <= SURE * (
        goal.worst_margin_sd_m or 0.0
    ):  # out of reach later, when more was known
        since = f"from {words.height(goal.lost_agl_m)} on" if goal.lost_agl_m is not None else "for a while"
        return f"The {name} was out of reach in full flight {since}"
    short = words.distance(-goal.worst_margin_m, goal.worst_margin_sd_m)
    since = f"; out of reach from {words.height(goal.lost_agl_m)} on" if goal.lost_agl_m is not None else ""
    return f"The {name} lay {short} beyond reach in full flight at {at}{since}"


def _stretches(debrief: Debrief, words: Words) -> str:
    if not debrief.holding:
        return ""
    rows = [
        (
            s.name,
            words.height(s.start_agl_m),
            words.height(s.end_agl_m),
            plain_number(s.end_s - s.start_s, 0, " s"),
            degrees(s.heading_deg),
            words.speed(s.ground_speed_mps),
            words.distance(s.drift_m),
        )
        for s in debrief.holding
    ]
    head = (
        "stretch",
        "from height",
        "to height",
        "time",
        "heading",
        "over the ground",
        "carried by the wind",
    )
    checks = bullets(_check(s.wind_check, words) for s in debrief.holding if s.wind_check is not None)
    return table("Between opening and entry", head, rows) + checks


def _check(check: WindCheck, words: Words) -> str:
    return (
        f"The wind check told {words.speed(check.told_speed_mps, check.told_speed_sd_mps)} from {degrees(check.told_from_deg)}; "
        f"there was {words.speed(check.wind_speed_mps, check.wind_speed_sd_mps)} from {degrees(check.wind_from_deg)}"
    )
