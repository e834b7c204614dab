"""A plan for a wind -> the JSON document of schema ``crabline.plan/1``."""

from __future__ import annotations

from typing import Final

from analyser._version import __version__
from analyser.findings import PLAN_CAUTIONS
from analyser.flight import Trim
from analyser.plan.report import GatePlace, HandPlan, PlanReport
from analyser.report.documents.given_winds import planned_winds
from analyser.report.documents.values import ANGLE, AS_IT_IS, Fields, Json, angle, number, take
from analyser.settings import Settings

__all__ = ["SCHEMA_NAME", "gate_row", "plan_document"]

SCHEMA_NAME: Final = "crabline.plan/1"

GATE: Fields = {
    **dict.fromkeys(("agl_m", "east_m", "north_m", "along_m", "across_m"), 2),
    "lat": 7,
    "lon": 7,
    "heading_deg": ANGLE,
    "track_deg": ANGLE,
}
GATE_SDS: Fields = dict.fromkeys(("east_sd_m", "north_sd_m", "along_sd_m", "across_sd_m"), 2)
LEG: Fields = {
    "turn_agl_m": 2,
    "end_agl_m": 2,
    "track_deg": ANGLE,
    "heading_deg": ANGLE,
    "crab_deg": 1,
    "ground_speed_mps": 3,
    "seconds": 1,
    "length_m": 1,
    "held": AS_IT_IS,
    "limit_wind_mps": 2,
}
LEG_SDS: Fields = dict.fromkeys(("heading_sd_deg", "ground_speed_sd_mps", "seconds_sd", "length_sd_m"), 2)
SHIFT: Fields = {
    "gate": AS_IT_IS,
    **dict.fromkeys(("per_mps_along_m", "per_mps_across_m", "per_10deg_along_m", "per_10deg_across_m"), 1),
}


def plan_document(report: PlanReport, settings: Settings, trim: Trim) -> Json:
    """Gates, legs, limits and sensitivities; ``gates`` and ``plan`` are those of the first hand."""
    first = report.plans[0]
    gates = [gate_row(g) for g in first.gates]
    return {
        "schema": SCHEMA_NAME,
        "version": __version__,
        "landing_deg": angle(report.landing_deg),
        "landing_from": report.landing_from,
        "surface_wind_mps": number(report.surface_wind_mps, 3),
        "surface_from_deg": angle(report.surface_from_deg),
        "lowest_wind_agl_m": number(report.lowest_wind_m, 1),
        "winds_given": planned_winds(report.reports),
        "wind_over_airspeed": number(report.wind_over_airspeed, 3),
        "canopy": {
            "name": settings.canopy.name,
            "airspeed_mps": number(trim.airspeed_mps, 3),
            "airspeed_sd_mps": number(trim.airspeed_sd_mps or None, 3),
            "sink_mps": number(trim.sink_mps, 3),
            "sink_sd_mps": number(trim.sink_sd_mps or None, 3),
            "glide": number(trim.glide, 3),
            "wing_loading_lb_ft2": number(settings.canopy.wing_loading_lb_ft2, 3),
        },
        "target": None if settings.site.target is None else list(settings.site.target),
        "hand": first.hand,
        "gates": gates,
        "plan": {
            "winds_from": "plan",
            "hand": first.hand,
            "landing_deg": angle(report.landing_deg),
            "gates": gates,
        },
        "plans": [_hand(p) for p in report.plans],
        "errors": {"from": list(report.errors_from), "reason": report.errors_reason or None},
        "advice": report.advice or None,
        "cautions": list(PLAN_CAUTIONS),
    }


def gate_row(gate: GatePlace) -> Json:
    """One gate with its errors."""
    return {"gate": gate.name, **take(gate, GATE), **take(gate.spread, GATE_SDS)}


def _hand(plan: HandPlan) -> Json:
    legs = []
    for leg in plan.legs:
        crab = take(leg.spread, {"heading_sd_deg": 2})["heading_sd_deg"]
        legs.append({"leg": leg.name, **take(leg, LEG), "crab_sd_deg": crab, **take(leg.spread, LEG_SDS)})
    landing = take(plan.spread, {"landing_along_sd_m": 2, "landing_across_sd_m": 2})
    return {
        "hand": plan.hand,
        "against_site": plan.against_site,
        "keep_outs_crossed": list(plan.keep_outs),
        "reason": plan.pattern.reason or None,
        "gates": [gate_row(g) for g in plan.gates],
        "legs": legs,
        "sensitivity": [take(s, SHIFT) for s in plan.shifts],
        "landing": {name.removeprefix("landing_"): value for name, value in landing.items()},
        "path": [
            {"t_s": number(t, 1), "east_m": number(e), "north_m": number(n), "agl_m": number(h, 1)}
            for t, e, n, h in plan.pattern.path
        ],
    }
