"""A plan for a wind as GPX waypoints and GeoJSON."""

from __future__ import annotations

import json

from analyser._version import __version__
from analyser.angles import bearing_text
from analyser.errors import OutputError
from analyser.findings import PLAN_CAUTIONS
from analyser.frame import LocalFrame
from analyser.plan.report import PlanReport
from analyser.report.documents.plan import gate_row
from analyser.report.documents.values import Json, number
from analyser.report.files.antimeridian import line_geometry
from analyser.report.files.maps import ABOVE, gpx_place
from analyser.report.plain import plain
from analyser.settings import Settings

__all__ = ["plan_geojson", "plan_gpx"]


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
        gpxpy.gpx.GPXWaypoint(
            *gpx_place(frame.lat_deg, frame.lon_deg), elevation=ground, name="target", symbol="Flag"
        )
    )
    for plan in report.plans:
        route = gpxpy.gpx.GPXRoute(name=f"{plan.hand} hand")
        for i, gate in enumerate(plan.gates):
            if gate.lat is None or gate.lon is None:
                continue
            height = None if ground is None else round(ground + gate.agl_m, 1)
            label = f"{gate.name} {plan.hand} {gate.agl_m:.0f} m"
            what = f"enter {gate.name} at" if i == 0 else f"turn onto {gate.name} begins"
            note = f"{what} {gate.agl_m:.0f} {ABOVE}, track {bearing_text(gate.track_deg)}"
            gpx.waypoints.append(
                gpxpy.gpx.GPXWaypoint(
                    *gpx_place(gate.lat, gate.lon), elevation=height, name=label, description=note
                )
            )
        for _, east, north, agl in plan.pattern.path:
            lat, lon = frame.to_geodetic(east, north)
            height = None if ground is None else round(ground + agl, 1)
            route.points.append(gpxpy.gpx.GPXRoutePoint(*gpx_place(float(lat), float(lon)), elevation=height))
        gpx.routes.append(route)
    return str(gpx.to_xml(version="1.1")) + "\n"


def plan_geojson(report: PlanReport, settings: Settings) -> str:
    """GeoJSON (RFC 7946): a point per gate and for the target, a line per hand, cut at ±180°. Raises ``OutputError`` without a target."""
    frame = _frame(settings)
    features = [_feature(_point(frame.lon_deg, frame.lat_deg), {"kind": "target"})]
    for plan in report.plans:
        for gate in plan.gates:
            properties = {"kind": "gate", "hand": plan.hand, **gate_row(gate)}
            features.append(_feature(_point(gate.lon, gate.lat), properties))
        line = []
        for _, east, north, _agl in plan.pattern.path:
            lat, lon = frame.to_geodetic(east, north)
            line.append([round(float(lon), 7), round(float(lat), 7)])
        if len(line) > 1:
            features.append(_feature(line_geometry(line), {"kind": "planned", "hand": plan.hand}))
    return (
        json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False, indent=1) + "\n"
    )


def _point(lon: float | None, lat: float | None) -> Json:
    return {"type": "Point", "coordinates": [number(lon, 7), number(lat, 7)]}


def _feature(geometry: Json, properties: Json) -> Json:
    return {"type": "Feature", "geometry": geometry, "properties": properties}
