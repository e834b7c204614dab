"""Keys of the debrief's JSON beyond the published ones: reach, holding, what the plan would have done, winds at the turns."""

from __future__ import annotations

from typing import Any

import numpy as np

from analyser.debrief import Debrief
from analyser.holding import Stretch
from analyser.reach import GoalReach
from analyser.report.values import angle, number, utc

__all__ = ["more"]

Json = dict[str, Any]


def more(debrief: Debrief) -> Json:
    """The additional keys, each null or empty where the debrief has nothing there."""
    at = debrief.track.start_utc_s
    return {
        "phases_more": _settled(debrief),
        "wind_layer": _layer(debrief),
        "wind_at_turns": _at_turns(debrief),
        "plan_outcome": _outcome(debrief),
        "reach": _reach(debrief, at),
        "holding": [_stretch(s, at) for s in debrief.holding],
        "brakes_on_final": _brakes(debrief),
        "method": _method(debrief),
    }


def _settled(debrief: Debrief) -> Json | None:
    settled = debrief.wind.settled if debrief.wind else None
    if settled is None:
        return None
    at = debrief.track.start_utc_s
    return {
        "settled_utc": utc(at + settled.settled_s),
        "settled_sd_s": number(settled.settled_sd_s, 1),
        "uncounted": [
            {"start_utc": utc(at + s.start_s), "end_utc": utc(at + s.end_s), "reason": s.reason}
            for s in settled.stretches
        ],
    }


def _layer(debrief: Debrief) -> Json | None:
    mean = debrief.layer_mean
    if mean is None:
        return None
    return {
        "from_agl_m": 0.0,
        "to_agl_m": number(mean.top_m, 1),
        "speed_mps": number(mean.speed_mps, 3),
        "speed_sd_mps": number(mean.speed_sd_mps, 3),
        "from_deg": angle(mean.from_deg),
        "drift_100s_m": number(mean.drift_m, 1),
        "drift_100s_sd_m": number(mean.drift_sd_m, 1),
        "covered": number(mean.covered, 3),
    }


def _at_turns(debrief: Debrief) -> list[Json]:
    if debrief.wind is None or debrief.flown is None:
        return []
    rows = []
    for gate in debrief.flown.gates:
        there = debrief.wind.profile.at(gate.agl_m)
        known = there.status != "undetermined"
        rows.append(
            {
                "gate": gate.name,
                "agl_m": number(gate.agl_m, 1),
                "speed_mps": number(there.speed, 3) if known else None,
                "sd_mps": number(there.worst_sd, 3) if known else None,
                "from_deg": angle(there.from_deg) if known else None,
                "status": there.status,
            }
        )
    return rows


def _outcome(debrief: Debrief) -> Json | None:
    check = debrief.plan_outcome
    if check is None:
        return None
    return {
        "east_m": number(check.east_m),
        "north_m": number(check.north_m),
        "along_m": number(check.along_m),
        "across_m": number(check.across_m),
        "along_sd_m": number(check.along_sd_m),
        "across_sd_m": number(check.across_sd_m),
        "ellipse_90": {
            "semi_major_m": number(check.semi_major_m),
            "semi_minor_m": number(check.semi_minor_m),
            "major_deg": angle(check.major_deg),
        },
        "gate_differences": [
            {"gate": d.gate, "along_m": number(d.along_m), "across_m": number(d.across_m)}
            for d in check.differences
        ],
    }


def _goal(goal: GoalReach, at: float) -> Json:
    return {
        "in_reach": goal.in_reach,
        "worst_utc": None if goal.worst_t_s is None else utc(at + goal.worst_t_s),
        "worst_agl_m": number(goal.worst_agl_m, 1),
        "worst_margin_m": number(goal.worst_margin_m, 1),
        "worst_margin_sd_m": number(goal.worst_margin_sd_m, 1),
        "lost_utc": None if goal.lost_t_s is None else utc(at + goal.lost_t_s),
        "lost_agl_m": number(goal.lost_agl_m, 1),
    }


def _reach(debrief: Debrief, at: float) -> Json | None:
    reach = debrief.reach
    if reach is None:
        return None
    every = slice(None, None, 5)
    columns = {"agl_m": reach.agl_m, "upwind_m": reach.upwind_m, "right_m": reach.right_m}
    columns |= {"target_margin_m": reach.target.margin_m, "target_margin_sd_m": reach.target.margin_sd_m}
    if reach.entry is not None:
        columns |= {"entry_margin_m": reach.entry.margin_m, "entry_margin_sd_m": reach.entry.margin_sd_m}
    return {
        "wind_line_from_deg": angle(reach.from_deg),
        "target": _goal(reach.target, at),
        "entry": None if reach.entry is None else _goal(reach.entry, at),
        "crossed_downwind_utc": None if reach.crossed_t_s is None else utc(at + reach.crossed_t_s),
        "crossed_downwind_agl_m": number(reach.crossed_agl_m, 1),
        "start_utc": utc(at + float(reach.t_s[0])),
        "step_s": 5,
        "samples": {
            name: [number(v, 1) for v in np.asarray(values)[every].tolist()]
            for name, values in columns.items()
        },
    }


def _stretch(stretch: Stretch, at: float) -> Json:
    check = stretch.wind_check
    return {
        "name": stretch.name,
        "start_utc": utc(at + stretch.start_s),
        "end_utc": utc(at + stretch.end_s),
        "start_agl_m": number(stretch.start_agl_m, 1),
        "end_agl_m": number(stretch.end_agl_m, 1),
        "heading_deg": angle(stretch.heading_deg),
        "ground_speed_mps": number(stretch.ground_speed_mps, 2),
        "drift_east_m": number(stretch.drift_east_m, 1),
        "drift_north_m": number(stretch.drift_north_m, 1),
        "turned_deg": number(stretch.turned_deg, 0),
        "wind_check": check
        and {
            "told_speed_mps": number(check.told_speed_mps),
            "told_speed_sd_mps": number(check.told_speed_sd_mps),
            "told_from_deg": angle(check.told_from_deg),
            "wind_speed_mps": number(check.wind_speed_mps),
            "wind_speed_sd_mps": number(check.wind_speed_sd_mps),
            "wind_from_deg": angle(check.wind_from_deg),
        },
    }


def _brakes(debrief: Debrief) -> Json | None:
    brakes = debrief.brakes
    if brakes is None:
        return None
    return {
        "along_m": number(brakes.along_m),
        "along_sd_m": number(brakes.along_sd_m),
        "sink_over_trim": number(brakes.share, 3),
        "sink_over_trim_sd": number(brakes.share_sd, 3),
        "extra_s": number(brakes.extra_s, 1),
    }


def _method(debrief: Debrief) -> list[Json]:
    method = debrief.settings.method
    rows = ((name, getattr(method, name)) for name in method.__dataclass_fields__)
    return [{"name": name, "value": t.value, "unit": t.unit, "source": t.source} for name, t in rows]
