"""What a document says of the way to the pattern: reach, named stretches, what the plan would have done, brakes on final."""

from __future__ import annotations

import numpy as np

from analyser.holding import Stretch
from analyser.jump import Debrief
from analyser.reach import GoalReach
from analyser.report.documents.values import ANGLE, AS_IT_IS, Fields, Json, angle, number, span, take, utc

__all__ = ["brakes_row", "outcome_row", "reach_row", "stretch_row"]

EVERY_S = 5
OUTCOME: Fields = dict.fromkeys(("east_m", "north_m", "along_m", "across_m", "along_sd_m", "across_sd_m"), 2)
ELLIPSE: Fields = {"semi_major_m": 2, "semi_minor_m": 2, "major_deg": ANGLE}
DIFFERENCE: Fields = {"gate": AS_IT_IS, "along_m": 2, "across_m": 2}
STRETCH: Fields = {
    "start_agl_m": 1,
    "end_agl_m": 1,
    "heading_deg": ANGLE,
    "ground_speed_mps": 2,
    "drift_east_m": 1,
    "drift_north_m": 1,
    "turned_deg": 0,
}
CHECK: Fields = {
    "told_speed_mps": 2,
    "told_speed_sd_mps": 2,
    "told_from_deg": ANGLE,
    "wind_speed_mps": 2,
    "wind_speed_sd_mps": 2,
    "wind_from_deg": ANGLE,
}


def outcome_row(jump: Debrief) -> Json | None:
    """What the plan as made would have done in the wind that was there."""
    check = jump.plan_outcome
    if check is None:
        return None
    return {
        **take(check, OUTCOME),
        "ellipse_90": take(check, ELLIPSE),
        "gate_differences": [take(d, DIFFERENCE) for d in check.differences],
    }


def reach_row(jump: Debrief) -> Json | None:
    """What was within reach in full flight, every five seconds."""
    reach, at = jump.reach, jump.track.start_utc_s
    if reach is None:
        return None
    columns = {"agl_m": reach.agl_m, "upwind_m": reach.upwind_m, "right_m": reach.right_m}
    columns |= {"target_margin_m": reach.target.margin_m, "target_margin_sd_m": reach.target.margin_sd_m}
    if reach.entry is not None:
        columns |= {"entry_margin_m": reach.entry.margin_m, "entry_margin_sd_m": reach.entry.margin_sd_m}
    return {
        "wind_line_from_deg": angle(reach.from_deg),
        "target": _goal(reach.target, at),
        "entry": reach.entry and _goal(reach.entry, at),
        "crossed_downwind_utc": _moment(at, reach.crossed_t_s),
        "crossed_downwind_agl_m": number(reach.crossed_agl_m, 1),
        "start_utc": utc(at + float(reach.t_s[0])),
        "step_s": EVERY_S,
        "samples": {
            name: [number(v, 1) for v in np.asarray(values)[::EVERY_S].tolist()]
            for name, values in columns.items()
        },
    }


def _goal(goal: GoalReach, at: float) -> Json:
    return {
        "in_reach": goal.in_reach,
        "worst_utc": _moment(at, goal.worst_t_s),
        **take(goal, dict.fromkeys(("worst_agl_m", "worst_margin_m", "worst_margin_sd_m"), 1)),
        "lost_utc": _moment(at, goal.lost_t_s),
        "lost_agl_m": number(goal.lost_agl_m, 1),
    }


def _moment(at: float, t_s: float | None) -> str | None:
    return None if t_s is None else utc(at + t_s)


def stretch_row(stretch: Stretch, at: float) -> Json:
    """One named stretch between opening and pattern entry."""
    check = stretch.wind_check
    row = {"name": stretch.name, **span(at, stretch), **take(stretch, STRETCH)}
    return row | {"wind_check": check and take(check, CHECK)}


def brakes_row(jump: Debrief) -> Json | None:
    """What the sink on final says about brakes."""
    brakes = jump.brakes
    if brakes is None:
        return None
    return {
        **take(brakes, {"along_m": 2, "along_sd_m": 2}),
        "sink_over_trim": number(brakes.share, 3),
        "sink_over_trim_sd": number(brakes.share_sd, 3),
        "extra_s": number(brakes.extra_s, 1),
    }
