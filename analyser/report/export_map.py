"""The jump for maps: GPX (waypoints for the gates, one named track per phase) and GeoJSON."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from analyser._version import __version__
from analyser.debrief import Debrief
from analyser.pattern import Pattern
from analyser.phases import Phase
from analyser.report.antimeridian import line_geometry, polygon_geometry
from analyser.report.documents.values import utc
from analyser.report.plain import plain

__all__ = ["geojson_text", "gpx_text"]

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def patterns(debrief: Debrief) -> list[tuple[str, Pattern]]:
    """Every pattern of the debrief with the word for it."""
    rows = [
        ("flown", debrief.flown),
        ("planned", debrief.plan.pattern if debrief.plan else None),
        ("redrawn", debrief.redrawn.pattern if debrief.redrawn else None),
    ]
    return [(name, pattern) for name, pattern in rows if pattern is not None]


def gpx_text(debrief: Debrief) -> str:
    """GPX 1.1: waypoints for target, touchdown and gates, one track per phase with that phase's name.

    Elevations are metres above sea level in the recording's own reference.
    """
    import gpxpy.gpx

    gpx = gpxpy.gpx.GPX()
    gpx.creator = f"crabline {__version__}"
    gpx.name = plain(debrief.recording.name or debrief.recording.file) or None
    for name, note, lat, lon, agl in _points(debrief):
        elevation = None if agl is None else round(agl + debrief.track.ground_elevation_m, 1)
        gpx.waypoints.append(
            gpxpy.gpx.GPXWaypoint(
                latitude=lat, longitude=lon, elevation=elevation, name=name, description=note
            )
        )
    for phase in debrief.phases.intervals:
        track = gpxpy.gpx.GPXTrack(name=phase.name)
        track.segments.append(_segment(debrief, phase))
        gpx.tracks.append(track)
    return str(gpx.to_xml(version="1.1"))


def _segment(debrief: Debrief, phase: Phase) -> Any:
    import gpxpy.gpx

    segment = gpxpy.gpx.GPXTrackSegment()
    track = debrief.track
    part = slice(phase.start, phase.stop)
    lat, lon = track.frame.to_geodetic(track.east_m[part], track.north_m[part])
    for la, lo, agl, t in zip(lat, lon, track.agl_m[part], track.t_s[part]):
        elevation = round(float(agl) + track.ground_elevation_m, 1) if np.isfinite(agl) else None
        moment = EPOCH + timedelta(milliseconds=round((track.start_utc_s + float(t)) * 1000.0))
        segment.points.append(
            gpxpy.gpx.GPXTrackPoint(
                round(float(la), 7), round(float(lo), 7), elevation=elevation, time=moment
            )
        )
    return segment


def _points(debrief: Debrief) -> list[tuple[str, str, float, float, float | None]]:
    """Name, note, latitude, longitude, height of every point worth a mark."""
    frame = debrief.track.frame
    rows: list[tuple[str, str, float, float, float | None]] = []
    if debrief.has_target:
        rows.append(("target", "where the landing was meant to be", frame.lat_deg, frame.lon_deg, 0.0))
    if debrief.landing is not None:
        rows.append(("touchdown", "", round(debrief.landing.lat, 7), round(debrief.landing.lon, 7), 0.0))
    for word, pattern in patterns(debrief):
        for gate in pattern.gates:
            lat, lon = frame.to_geodetic(gate.east_m, gate.north_m)
            sd = f" ± {gate.agl_sd_m:.0f}" if gate.agl_sd_m else ""
            note = f"turn onto {gate.name} begins at {gate.agl_m:.0f}{sd} m above the landing area"
            rows.append((f"{word} {gate.name}", note, round(float(lat), 7), round(float(lon), 7), gate.agl_m))
    return rows


def geojson_text(debrief: Debrief) -> str:
    """GeoJSON (RFC 7946): a line per phase, planned lines, points for gates, target and touchdown, keep-out areas.

    Coordinates are longitude, latitude and, where known, metres above sea level; heights above the landing area stand in the
    properties. Lines and areas across ±180° are cut there.
    """
    features = [
        _phase_line(debrief, phase) for phase in debrief.phases.intervals if phase.stop - phase.start > 1
    ]
    features += [_way(debrief, word, p) for word, p in patterns(debrief) if p.path]
    for name, note, lat, lon, agl in _points(debrief):
        kind = name.split(" ")[0]
        place = [lon, lat] if agl is None else [lon, lat, round(agl + debrief.track.ground_elevation_m, 1)]
        height = None if agl is None else round(agl, 1)
        features.append(
            _feature(
                {"type": "Point", "coordinates": place},
                {"kind": kind, "name": name, "agl_m": height, "note": note},
            )
        )
    for area in debrief.settings.site.keep_outs:
        shape = polygon_geometry([[lon, lat] for lat, lon in area.polygon])
        told = {"kind": "keep-out", "name": plain(area.name), "below_agl_m": area.below_m}
        features.append(_feature(shape, told))
    return (
        json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False, allow_nan=False)
        + "\n"
    )


def _feature(geometry: dict[str, Any], properties: dict[str, Any]) -> dict[str, Any]:
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def _phase_line(debrief: Debrief, phase: Phase) -> dict[str, Any]:
    track = debrief.track
    part = slice(phase.start, phase.stop)
    places = _places(debrief, track.east_m[part], track.north_m[part], track.agl_m[part])
    at = track.start_utc_s
    return _feature(
        line_geometry(places),
        {
            "kind": "phase",
            "name": phase.name,
            "start_utc": utc(at + phase.start_s),
            "end_utc": utc(at + phase.end_s),
        },
    )


def _way(debrief: Debrief, word: str, pattern: Pattern) -> dict[str, Any]:
    way = np.array(pattern.path)
    return _feature(
        line_geometry(_places(debrief, way[:, 1], way[:, 2], way[:, 3])),
        {"kind": word, "name": f"{word} pattern"},
    )


def _places(debrief: Debrief, east: Any, north: Any, agl: Any) -> list[list[float]]:
    lat, lon = debrief.track.frame.to_geodetic(east, north)
    up = np.round(np.asarray(agl) + debrief.track.ground_elevation_m, 1)
    return [
        [round(float(lo), 7), round(float(la), 7), *([float(h)] if np.isfinite(h) else [])]
        for lo, la, h in zip(np.atleast_1d(lon), np.atleast_1d(lat), np.atleast_1d(up))
    ]
