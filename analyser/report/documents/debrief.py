"""Debrief -> the JSON document of schema ``crabline.debrief/1`` (SI units, UTC, ``null`` where there is no value)."""

from __future__ import annotations

from typing import Any

import numpy as np

from analyser._version import __version__
from analyser.findings import CAUTIONS, left_open, render
from analyser.jump import Debrief
from analyser.method_rows import Entry, entries
from analyser.pattern import Leg, Pattern
from analyser.replay import BudgetRow
from analyser.replay.choose_advice import Choice
from analyser.report.documents.air import at_turns, check_row, layer_row, settled_row, shared_row, wind_rows
from analyser.report.documents.given_winds import given_winds
from analyser.report.documents.holding import brakes_row, outcome_row, reach_row, stretch_row
from analyser.report.documents.source import gap_rows, note_rows, phase_rows, source_row
from analyser.report.documents.values import ANGLE, AS_IT_IS, Fields, Json, angle, number, span, take, utc
from analyser.threads import one_thread

__all__ = ["ADVICE", "SCHEMA_NAME", "leg_row", "to_document"]

SCHEMA_NAME = "crabline.debrief/1"

CANOPY: Fields = dict.fromkeys(("airspeed_mps", "airspeed_sd_mps", "sink_mps", "sink_sd_mps", "glide"), 3)
LEG: Fields = {
    "turn_agl_m": 2,
    "turn_agl_sd_m": 2,
    "start_agl_m": 2,
    "end_agl_m": 2,
    "heading_deg": ANGLE,
    "track_deg": ANGLE,
    "crab_deg": 1,
    "ground_speed_mps": 3,
    "length_m": 1,
    "confidence": 3,
}
TURN: Fields = {"start_agl_m": 2, "end_agl_m": 2}
TURN_MORE: Fields = {"change_deg": 1, "rate_dps": 1, "bank_deg": 1}
PLACE: Fields = {"lat": 7, "lon": 7, "ground_speed_mps": 3, "sink_before_flare_mps": 3}
OFFSET: Fields = {"offset_m": 2, "offset_sd_m": 2, "along_m": 3, "across_m": 3}
SPREAD: Fields = {"along_sd_m": 2, "across_sd_m": 2}
BEARING: Fields = {"bearing_deg": ANGLE}
STANDARD: Fields = {"name": AS_IT_IS, "radius_m": 2, "source": AS_IT_IS, "met": AS_IT_IS}
GATE: Fields = {"agl_m": 2, "east_m": 2, "north_m": 2}
COURSE: Fields = {"heading_deg": ANGLE, "track_deg": ANGLE}
COMPARISON: Fields = {
    "gate": AS_IT_IS,
    **dict.fromkeys(
        (
            "planned_agl_m",
            "flown_agl_m",
            "agl_m",
            "agl_sd_m",
            "along_m",
            "across_m",
            "lateral_sd_m",
            "along_sd_m",
            "across_sd_m",
            "place_agl_m",
        ),
        2,
    ),
}
METRES: Fields = {"along_m": 3, "across_m": 3, "along_sd_m": 2, "across_sd_m": 2}
ADVICE: Fields = {
    "kind": AS_IT_IS,
    "gate": AS_IT_IS,
    **dict.fromkeys(("change_agl_m", "change_along_m", "change_across_m", "bearing_deg", "distance_m"), 1),
    "lat": 7,
    "lon": 7,
    "gain_m": 1,
    "gain_sd_m": 1,
    "habit_share": 2,
    "text": AS_IT_IS,
    "blocked_by": AS_IT_IS,
}


@one_thread
def to_document(debrief: Debrief) -> Json:
    """Every result of ``debrief`` under the names, units and signs of the published interface (docs/interface.md).

    SI units, UTC as ISO 8601 with ``Z``, angles in degrees true; None where there is no value. Plain dicts, lists, texts and
    numbers, ready for :func:`~analyser.report.documents.values.to_json`.
    """
    at, track, flown = debrief.track.start_utc_s, debrief.track, debrief.flown
    source = source_row(debrief.recording, track.quality.rate_hz)
    return {
        "schema": SCHEMA_NAME,
        "version": __version__,
        "source": {**source, "jump": debrief.jump, "jumps": debrief.jumps},
        "quality": {
            "grade": track.quality.grade,
            "altitude": track.quality.altitude,
            "gaps": gap_rows(track.quality.gaps),
            "notes": note_rows((*track.quality.notes, *debrief.phases.notes)),
        },
        "frame": {
            "origin_lat": number(track.frame.lat_deg, 7),
            "origin_lon": number(track.frame.lon_deg, 7),
            "origin": "target" if debrief.has_target else "landing",
            **take(track, {"ground_elevation_m": 2, "ground_elevation_sd_m": 2}),
            "density_altitude_m": None
            if debrief.settings.air.temperature_c is None
            else number(debrief.air_altitude_m, 0),
        },
        "kind": debrief.phases.kind,
        "phases": phase_rows(debrief.phases, at),
        "canopy": _canopy(debrief),
        "winds_given": given_winds(debrief.settings, debrief.wind.profile if debrief.wind else None),
        "winds": wind_rows(debrief.wind.profile) if debrief.wind else [],
        "legs": [leg_row(leg, at) for leg in flown.legs] if flown else [],
        "pattern": _pattern(debrief),
        "landing": _landing(debrief),
        "plan": _plan(debrief),
        "comparison": [take(row, COMPARISON) for row in debrief.comparison],
        "budget": [_budget(row) for row in debrief.budget],
        "advice": [take(a, ADVICE) for a in debrief.advice],
        "advice_choices": [_choice(c) for c in debrief.choices],
        "findings": [
            {"code": f.code, "level": f.level, "text": render(f), "evidence": _evidence(f.evidence)}
            for f in debrief.findings
        ],
        "left_open": [{"code": code, "evidence": _evidence(values)} for code, values in left_open(debrief)],
        "questions": [
            {"code": q.code, "text": render(q), "evidence": _evidence(q.evidence)} for q in debrief.questions
        ],
        "phases_more": settled_row(debrief),
        "winds_check": check_row(debrief),
        "wind_layer": layer_row(debrief),
        "wind_shared": shared_row(debrief),
        "wind_at_turns": at_turns(debrief),
        "plan_outcome": outcome_row(debrief),
        "reach": reach_row(debrief),
        "holding": [stretch_row(s, at) for s in debrief.holding],
        "brakes_on_final": brakes_row(debrief),
        "method": [_threshold(e) for e in entries(debrief.settings.method)],
        "reasons": dict(debrief.reasons),
        "cautions": list(CAUTIONS),
    }


def _evidence(values: dict[str, Any]) -> Json:
    return {k: number(float(v), 3) if isinstance(v, (float, np.floating)) else v for k, v in values.items()}


def _canopy(debrief: Debrief) -> Json:
    wing = debrief.settings.canopy
    return {
        "name": wing.name,
        **take(debrief.wind.canopy if debrief.wind else None, CANOPY),
        "wing_loading_lb_ft2": number(wing.wing_loading_lb_ft2, 3),
        "reason": debrief.reasons.get("canopy") or debrief.reasons.get("winds"),
    }


def leg_row(leg: Leg, at: float) -> Json:
    """One leg; ``at`` [s since 1970] is the first fix of the track."""
    turn = leg.turn
    lost = None if turn is None else number(turn.start_agl_m - turn.end_agl_m)
    return {
        "leg": leg.name,
        **span(at, leg),
        **take(leg, LEG),
        "turn": turn
        and {**span(at, turn), **take(turn, TURN), "height_lost_m": lost, **take(turn, TURN_MORE)},
    }


def _pattern(debrief: Debrief) -> Json:
    flown = debrief.flown
    return {
        "hand": flown.hand if flown else None,
        "kind": flown.kind if flown else "other",
        "landing_deg": angle(flown.landing_deg) if flown else None,
        **take(debrief, {"into_wind_error_deg": 1, "into_wind_error_sd_deg": 1}),
        "confidence": number(flown.confidence, 3) if flown else None,
        "reason": debrief.reasons.get("legs") or (flown.reason or None if flown else None),
    }


def _landing(debrief: Debrief) -> Json:
    landing = debrief.landing
    if landing is None:
        nothing = {**take(None, PLACE), **take(None, OFFSET), "bearing_deg": None, "score": None}
        return {"utc": None, **nothing, "status": "undetermined", "reason": debrief.reasons.get("landing")}
    standards = [take(s, STANDARD) for s in landing.standards]
    return {
        "utc": utc(debrief.track.start_utc_s + landing.t_s),
        **take(landing, {**PLACE, **OFFSET, **SPREAD, **BEARING}),
        "score": None if landing.offset_m is None else {"text": landing.score_text, "standards": standards},
        "status": "measured",
        "reason": debrief.reasons.get("target"),
    }


def _gates(pattern: Pattern, debrief: Debrief) -> list[Json]:
    rows: list[Json] = []
    for gate in pattern.gates:
        lat, lon = debrief.track.frame.to_geodetic(gate.east_m, gate.north_m)
        place = {"lat": number(float(lat), 7), "lon": number(float(lon), 7)}
        rows.append({"gate": gate.name, **take(gate, GATE), **place, **take(gate, COURSE)})
    return rows


def _plan(debrief: Debrief) -> Json:
    plan = debrief.plan
    if plan is None:
        return {"winds_from": None, "gates": [], "reason": debrief.reasons.get("plan")}
    row: Json = {
        "winds_from": plan.winds_from,
        "hand": plan.pattern.hand,
        "landing_deg": angle(plan.pattern.landing_deg),
        "gates": _gates(plan.pattern, debrief),
        "preset": debrief.settings.pattern.preset,
        "reason": plan.pattern.reason or None,
    }
    if debrief.redrawn is not None:
        row["redrawn_gates"] = _gates(debrief.redrawn.pattern, debrief)
    return row


def _budget(row: BudgetRow) -> Json:
    names = ["place" if part.part == "turn" else part.part for part in row.parts]  # a reader knows five names
    parts = [{"part": name, **take(part, METRES)} for name, part in zip(names, row.parts, strict=True)]
    return {"cause": row.cause, **take(row, METRES), "parts": parts}


def _choice(choice: Choice) -> Json:
    """One part of the budget as a habit, with the advice that takes it back (its gain stands with the advice that was chosen)."""
    habit = choice.habit
    along, across = habit.metres
    along_sd, across_sd = habit.sd
    return {
        "cause": habit.row,
        "part": habit.part,
        "along_m": along,
        "across_m": across,
        "along_sd_m": along_sd,
        "across_sd_m": across_sd,
        "growth": None if habit.growth is None else list(habit.growth),
        "meant": habit.meant,
        "advice": None if choice.advice is None else take(choice.advice, ADVICE),
    }


def _threshold(entry: Entry) -> Json:
    value = list(entry.value) if isinstance(entry.value, tuple) else entry.value
    return {
        "stage": entry.stage,
        "name": entry.name,
        "value": value,
        "unit": entry.unit,
        "source": entry.source,
    }
