"""The jump for maps: GPX (waypoints for the gates, one named track per phase) and GeoJSON; the marks that KML has too."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any, NamedTuple

import numpy as np

from analyser._version import __version__
from analyser.debrief import Debrief
from analyser.pattern import Pattern
from analyser.phases import Phase
from analyser.report.documents.values import utc
from analyser.report.files.antimeridian import line_geometry, polygon_geometry
from analyser.report.plain import plain

__all__ = ["ABOVE", "Mark", "geojson_text", "gpx_place", "gpx_text", "marks", "patterns", "places"]

ABOVE = "m above the landing area"

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class Mark(NamedTuple):
    """A point worth a mark: name, note, degrees (7 digits), height above the landing area [m] and time [s since 1970] or None."""

    name: str
    note: str
    lat: float
    lon: float
    agl_m: float | None
    utc_s: float | None = None


def gpx_place(lat: float, lon: float) -> tuple[float, float]:
    """Latitude and longitude to 7 digits (a centimetre); GPX's longitude goes from -180 up to, but not with, 180."""
    east = round(float(lon), 7)
    return round(float(lat), 7), -180.0 if east >= 180.0 else east


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
    for mark in marks(debrief):
        height = None if mark.agl_m is None else round(mark.agl_m + debrief.track.ground_elevation_m, 1)
        moment = None if mark.utc_s is None else EPOCH + timedelta(milliseconds=round(mark.utc_s * 1000.0))
        gpx.waypoints.append(
            gpxpy.gpx.GPXWaypoint(
                *gpx_place(mark.lat, mark.lon),
                elevation=height,
                time=moment,
                name=mark.name,
                description=mark.note,
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
        segment.points.append(gpxpy.gpx.GPXTrackPoint(*gpx_place(la, lo), elevation=elevation, time=moment))
    return segment


def marks(debrief: Debrief) -> list[Mark]:
    """Target, touchdown and the gates of every pattern."""
    frame, at, landing = debrief.track.frame, debrief.track.start_utc_s, debrief.landing
    rows: list[Mark] = []
    if debrief.has_target:
        place = round(frame.lat_deg, 7), round(frame.lon_deg, 7)
        rows.append(Mark("target", "where the landing was meant to be", *place, 0.0))
    if landing is not None:
        end = debrief.phases.landing_s
        place = round(landing.lat, 7), round(landing.lon, 7)
        rows.append(Mark("touchdown", "", *place, 0.0, None if end is None else at + end))
    turns = {leg.name: leg.turn for leg in debrief.flown.legs} if debrief.flown is not None else {}
    for word, pattern in patterns(debrief):
        for i, gate in enumerate(pattern.gates):
            lat, lon = (round(float(x), 7) for x in frame.to_geodetic(gate.east_m, gate.north_m))
            sd = f" ± {gate.agl_sd_m:.0f}" if gate.agl_sd_m else ""
            height = f"{gate.agl_m:.0f}{sd} {ABOVE}"
            entry = i == 0 and word != "flown"
            note = f"enter {gate.name} at {height}" if entry else f"turn onto {gate.name} begins at {height}"
            turn = turns.get(gate.name) if word == "flown" else None
            moment = None if turn is None else at + turn.start_s
            rows.append(Mark(f"{word} {gate.name}", note, lat, lon, gate.agl_m, moment))
    return rows


def geojson_text(debrief: Debrief) -> str:
    """GeoJSON (RFC 7946): a line per phase, planned lines, points for gates, target and touchdown, keep-out and landing areas.

    Coordinates are longitude, latitude and, where known, metres above sea level; heights above the landing area stand in the
    properties. Lines and areas across ±180° are cut there.
    """
    features = [
        _phase_line(debrief, phase) for phase in debrief.phases.intervals if phase.stop - phase.start > 1
    ]
    features += [_way(debrief, word, p) for word, p in patterns(debrief) if p.path]
    features += [_mark(debrief, mark) for mark in marks(debrief)]
    for area in debrief.settings.site.keep_outs:
        shape = polygon_geometry([[lon, lat] for lat, lon in area.polygon])
        told = {"kind": "keep-out", "name": plain(area.name), "below_agl_m": area.below_m}
        features.append(_feature(shape, told))
    for place in debrief.settings.site.landing_areas:
        shape = polygon_geometry([[lon, lat] for lat, lon in place.polygon])
        features.append(_feature(shape, {"kind": "landing area", "name": plain(place.name)}))
    return (
        json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False, allow_nan=False)
        + "\n"
    )


def _mark(debrief: Debrief, mark: Mark) -> dict[str, Any]:
    height = [] if mark.agl_m is None else [round(mark.agl_m + debrief.track.ground_elevation_m, 1)]
    return _feature(
        {"type": "Point", "coordinates": [mark.lon, mark.lat, *height]},
        {
            "kind": mark.name.split(" ")[0],
            "name": mark.name,
            "agl_m": None if mark.agl_m is None else round(mark.agl_m, 1),
            "note": mark.note,
            "utc": utc(mark.utc_s),
        },
    )


def _feature(geometry: dict[str, Any], properties: dict[str, Any]) -> dict[str, Any]:
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def _phase_line(debrief: Debrief, phase: Phase) -> dict[str, Any]:
    track = debrief.track
    part = slice(phase.start, phase.stop)
    way = places(debrief, track.east_m[part], track.north_m[part], track.agl_m[part])
    at = track.start_utc_s
    return _feature(
        line_geometry(way),
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
        line_geometry(places(debrief, way[:, 1], way[:, 2], way[:, 3])),
        {"kind": word, "name": f"{word} pattern"},
    )


def places(debrief: Debrief, east: Any, north: Any, agl: Any) -> list[list[float]]:
    """Longitude, latitude and, where known, metres above sea level of places in the local frame."""
    lat, lon = debrief.track.frame.to_geodetic(east, north)
    up = np.round(np.asarray(agl) + debrief.track.ground_elevation_m, 1)
    return [
        [round(float(lo), 7), round(float(la), 7), *([float(h)] if np.isfinite(h) else [])]
        for lo, la, h in zip(np.atleast_1d(lon), np.atleast_1d(lat), np.atleast_1d(up))
    ]
