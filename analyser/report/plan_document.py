"""A plan for a wind -> JSON (``crabline.plan/1``), GPX waypoints and GeoJSON."""

from __future__ import annotations

import json
from typing import Any

from analyser._version import __version__
from analyser.errors import OutputError
from analyser.findings import PLAN_CAUTIONS
from analyser.flight import Trim
from analyser.frame import LocalFrame
from analyser.plan.report import GatePlace, HandPlan, PlanReport
from analyser.plan.spread import GateSpread, LegSpread, PlanSpread
from analyser.report.antimeridian import line_geometry
from analyser.report.plain import plain
from analyser.report.values import angle, number
from analyser.settings import Settings

__all__ = ["plan_document", "plan_geojson", "plan_gpx"]

Json = dict[str, Any]
GATE_SDS = ("east_sd_m", "north_sd_m", "along_sd_m", "across_sd_m")
LEG_SDS = ("heading_sd_deg", "ground_speed_sd_mps", "seconds_sd", "length_sd_m")


def plan_document(report: PlanReport, settings: Settings, trim: Trim) -> Json:
    """Gates, legs, limits and sensitivities; ``gates`` and ``plan`` are those of the first hand."""
    first = report.plans[0]
    gates = [_gate(g) for g in first.gates]
    return {
        "schema": "crabline.plan/1",
        "version": __version__,
        "landing_deg": angle(report.landing_deg),
        "landing_from": report.landing_from,
        "surface_wind_mps": number(report.surface_wind_mps, 3),
        "surface_from_deg": angle(report.surface_from_deg),
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


def _gate(gate: GatePlace) -> Json:
    return {
        "gate": gate.name,
        "agl_m": number(gate.agl_m),
        "east_m": number(gate.east_m),
        "north_m": number(gate.north_m),
        "along_m": number(gate.along_m),
        "across_m": number(gate.across_m),
        "lat": number(gate.lat, 7),
        "lon": number(gate.lon, 7),
        "heading_deg": angle(gate.heading_deg),
        "track_deg": angle(gate.track_deg),
        **{name: _of(gate.spread, name) for name in GATE_SDS},
    }


def _of(spread: GateSpread | LegSpread | PlanSpread | None, name: str) -> float | None:
    return None if spread is None else number(getattr(spread, name))


def _hand(plan: HandPlan) -> Json:
    return {
        "hand": plan.hand,
        "against_site": plan.against_site,
        "keep_outs_crossed": list(plan.keep_outs),
        "reason": plan.pattern.reason or None,
        "gates": [_gate(g) for g in plan.gates],
        "legs": [
            {
                "leg": row.name,
                "turn_agl_m": number(row.turn_agl_m),
                "end_agl_m": number(row.end_agl_m),
                "track_deg": angle(row.track_deg),
                "heading_deg": angle(row.heading_deg),
                "crab_deg": number(row.crab_deg, 1),
                "ground_speed_mps": number(row.ground_speed_mps, 3),
                "seconds": number(row.seconds, 1),
                "length_m": number(row.length_m, 1),
                "held": row.held,
                "limit_wind_mps": number(row.limit_wind_mps, 2),
                "crab_sd_deg": _of(row.spread, "heading_sd_deg"),
                **{name: _of(row.spread, name) for name in LEG_SDS},
            }
            for row in plan.legs
        ],
        "sensitivity": [
            {
                "gate": s.gate,
                "per_mps_along_m": number(s.per_mps_along_m, 1),
                "per_mps_across_m": number(s.per_mps_across_m, 1),
                "per_10deg_along_m": number(s.per_10deg_along_m, 1),
                "per_10deg_across_m": number(s.per_10deg_across_m, 1),
            }
            for s in plan.shifts
        ],
        "landing": {
            "along_sd_m": _of(plan.spread, "landing_along_sd_m"),
            "across_sd_m": _of(plan.spread, "landing_across_sd_m"),
        },
        "path": [
            {"t_s": number(t, 1), "east_m": number(e), "north_m": number(n), "agl_m": number(h, 1)}
            for t, e, n, h in plan.pattern.path
        ],
    }


def _frame(settings: Settings) -> LocalFrame:
    if settings.site.target is None:
        raise OutputError("a map needs a target", "add --target LAT,LON or [site] target to the plan")
    return LocalFrame(*settings.site.target)


def plan_gpx(report: PlanReport, settings: Settings) -> str:
    """GPX 1.1: a waypoint per gate and for the target, a route per hand. Raises ``OutputError`` without a target."""
    import gpxpy.gpx

    frame, ground = _frame(settings), settings.site.elevation_m
    gpx = gpxpy.gpx.GPX()
    gpx.creator = f"crabline {__version__}"
    gpx.name = plain(settings.site.name) or "planned pattern"
    gpx.description = PLAN_CAUTIONS[0]
    gpx.waypoints.append(
        gpxpy.gpx.GPXWaypoint(frame.lat_deg, frame.lon_deg, elevation=ground, name="target", symbol="Flag")
    )
    for plan in report.plans:
        route = gpxpy.gpx.GPXRoute(name=f"{plan.hand} hand")
        for gate in plan.gates:
            height = None if ground is None else ground + gate.agl_m
            label = f"{gate.name} {plan.hand} {gate.agl_m:.0f} m"
            note = f"turn onto {gate.name} begins {gate.agl_m:.0f} m above the landing area, track {gate.track_deg:.0f}°"
            gpx.waypoints.append(
                gpxpy.gpx.GPXWaypoint(gate.lat, gate.lon, elevation=height, name=label, description=note)
            )
        for _, east, north, agl in plan.pattern.path:
            lat, lon = frame.to_geodetic(east, north)
            height = None if ground is None else ground + agl
            route.points.append(
                gpxpy.gpx.GPXRoutePoint(round(float(lat), 7), round(float(lon), 7), elevation=height)
            )
        gpx.routes.append(route)
    return str(gpx.to_xml(version="1.1")) + "\n"


def plan_geojson(report: PlanReport, settings: Settings) -> str:
    """GeoJSON (RFC 7946): a point per gate and for the target, a line per hand, cut at ±180°. Raises ``OutputError`` without a target."""
    frame = _frame(settings)
    features = [_feature(_point(frame.lon_deg, frame.lat_deg), {"what": "target"})]
    for plan in report.plans:
        for gate in plan.gates:
            properties = {"what": "gate", "hand": plan.hand, **_gate(gate)}
            features.append(_feature(_point(gate.lon, gate.lat), properties))
        line = []
        for _, east, north, _agl in plan.pattern.path:
            lat, lon = frame.to_geodetic(east, north)
            line.append([round(float(lon), 7), round(float(lat), 7)])
        if len(line) > 1:
            features.append(_feature(line_geometry(line), {"what": "planned path", "hand": plan.hand}))
    return (
        json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False, indent=1) + "\n"
    )


def _point(lon: float | None, lat: float | None) -> Json:
    return {"type": "Point", "coordinates": [number(lon, 7), number(lat, 7)]}


def _feature(geometry: Json, properties: Json) -> Json:
    return {"type": "Feature", "geometry": geometry, "properties": properties}
