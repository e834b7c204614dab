"""Debrief -> the JSON document of schema ``crabline.debrief/1`` (SI units, UTC, ``null`` where there is no value)."""

from __future__ import annotations

import math
from importlib import resources
from typing import Any

import numpy as np

from analyser._version import __version__
from analyser.debrief import Debrief
from analyser.findings import CAUTIONS, render
from analyser.importers.recording import Recording
from analyser.pattern import Leg, Pattern
from analyser.report.document_more import more
from analyser.report.values import Json, angle, number, to_json, utc
from analyser.wind.profile import WindProfile

__all__ = ["SCHEMA_NAME", "schema_text", "source_document", "to_document", "to_json"]

SCHEMA_NAME = "crabline.debrief/1"


def schema_text() -> str:
    """The JSON Schema (draft 2020-12) of the document, as text."""
    return resources.files("analyser.report").joinpath("debrief.schema.json").read_text(encoding="utf-8")


def to_document(debrief: Debrief) -> Json:
    """Every result of ``debrief`` under the names, units and signs of the published interface (docs/interface.md).

    SI units, UTC as ISO 8601 with ``Z``, angles in degrees true; None where there is no value. Plain dicts, lists, texts and
    numbers, ready for :func:`to_json`.
    """
    at = debrief.track.start_utc_s
    document: Json = {"schema": SCHEMA_NAME, "version": __version__}
    document["source"] = {
        **source_document(debrief.recording, debrief.track.quality.rate_hz),
        "jump": debrief.jump,
        "jumps": debrief.jumps,
    }
    document["quality"] = _quality(debrief)
    document["frame"] = {
        "origin_lat": number(debrief.track.frame.lat_deg, 7),
        "origin_lon": number(debrief.track.frame.lon_deg, 7),
        "origin": "target" if debrief.has_target else "landing",
        "ground_elevation_m": number(debrief.track.ground_elevation_m),
        "ground_elevation_sd_m": number(debrief.track.ground_elevation_sd_m),
    }
    document["kind"] = debrief.phases.kind
    document["phases"] = [
        {
            "phase": p.name,
            "start_utc": utc(at + p.start_s),
            "end_utc": utc(at + p.end_s),
            "start_agl_m": number(p.start_agl_m, 1),
            "end_agl_m": number(p.end_agl_m, 1),
        }
        for p in debrief.phases.intervals
    ]
    document["canopy"] = _canopy(debrief)
    document["winds"] = _winds(debrief)
    document["legs"] = [_leg(leg, at) for leg in debrief.flown.legs] if debrief.flown else []
    document["pattern"] = _pattern(debrief)
    document["landing"] = _landing(debrief)
    document["plan"] = _plan(debrief)
    document["comparison"] = [
        {
            "gate": row.gate,
            "planned_agl_m": number(row.planned_agl_m),
            "flown_agl_m": number(row.flown_agl_m),
            "agl_m": number(row.agl_m),
            "agl_sd_m": number(row.agl_sd_m),
            "along_m": number(row.along_m),
            "across_m": number(row.across_m),
            "lateral_sd_m": number(row.lateral_sd_m),
        }
        for row in debrief.comparison
    ]
    document["budget"] = [
        {
            "cause": row.cause,
            "along_m": number(row.along_m, 3),
            "across_m": number(row.across_m, 3),
            "along_sd_m": number(row.along_sd_m),
            "across_sd_m": number(row.across_sd_m),
            "parts": [
                {
                    "part": part.part,
                    "along_m": number(part.along_m, 3),
                    "across_m": number(part.across_m, 3),
                    "along_sd_m": number(part.along_sd_m),
                    "across_sd_m": number(part.across_sd_m),
                }
                for part in row.parts
            ],
        }
        for row in debrief.budget
    ]
    document["advice"] = [
        {
            "kind": a.kind,
            "gate": a.gate,
            "change_agl_m": number(a.change_agl_m, 1),
            "change_along_m": number(a.change_along_m, 1),
            "change_across_m": number(a.change_across_m, 1),
            "bearing_deg": number(a.bearing_deg, 1),
            "distance_m": number(a.distance_m, 1),
            "lat": number(a.lat, 7),
            "lon": number(a.lon, 7),
            "gain_m": number(a.gain_m, 1),
            "gain_sd_m": number(a.gain_sd_m, 1),
            "text": a.text,
            "blocked_by": a.blocked_by,
        }
        for a in debrief.advice
    ]
    document["findings"] = [
        {"code": f.code, "level": f.level, "text": render(f), "evidence": _evidence(f.evidence)}
        for f in debrief.findings
    ]
    document |= more(debrief)
    document["reasons"] = dict(debrief.reasons)
    document["cautions"] = list(CAUTIONS)
    return document


def _evidence(values: dict[str, Any]) -> Json:
    return {k: number(float(v), 3) if isinstance(v, (float, np.floating)) else v for k, v in values.items()}


def source_document(rec: Recording, rate_hz: float) -> Json:
    """What the recording is: file, hash, format, device, number of points, times (UTC), rate [Hz]."""
    return {
        "file": rec.file,
        "sha256": rec.sha256,
        "format": rec.format,
        "device": rec.device,
        "name": rec.name,
        "points": len(rec),
        "first_utc": utc(float(rec.time_s[0])),
        "last_utc": utc(float(rec.time_s[-1])),
        "rate_hz": number(rate_hz, 3),
    }


def _quality(debrief: Debrief) -> Json:
    quality = debrief.track.quality
    return {
        "grade": quality.grade,
        "altitude": quality.altitude,
        "gaps": [{"start_utc": utc(g.start_s), "seconds": number(g.seconds)} for g in quality.gaps],
        "notes": [
            {"code": n.code, "text": n.text} | ({} if n.count is None else {"count": n.count})
            for n in (*quality.notes, *debrief.phases.notes)
        ],
    }


def _canopy(debrief: Debrief) -> Json:
    wing = debrief.settings.canopy
    measured = debrief.wind.canopy if debrief.wind else None
    return {
        "name": wing.name,
        "airspeed_mps": number(measured.airspeed_mps, 3) if measured else None,
        "airspeed_sd_mps": number(measured.airspeed_sd_mps, 3) if measured else None,
        "sink_mps": number(measured.sink_mps, 3) if measured else None,
        "sink_sd_mps": number(measured.sink_sd_mps, 3) if measured else None,
        "glide": number(measured.glide, 3) if measured else None,
        "wing_loading_lb_ft2": number(wing.wing_loading_lb_ft2, 3),
        "reason": debrief.reasons.get("canopy") or debrief.reasons.get("winds"),
    }


def wind_rows(profile: WindProfile) -> list[Json]:
    """One row per height of the profile, undetermined heights without numbers."""
    rows: list[Json] = []
    above = correlation_above(profile)
    for height, with_next in zip(profile.agl_m, above, strict=True):
        at = profile.at(float(height))
        known = at.status != "undetermined"
        sd_e, sd_n = (math.sqrt(max(float(at.covariance[i, i]), 0.0)) for i in (0, 1))
        product = sd_e * sd_n
        rows.append(
            {
                "agl_m": number(float(height), 1),
                "east_mps": number(at.east, 3) if known else None,
                "north_mps": number(at.north, 3) if known else None,
                "sd_east_mps": number(sd_e, 3) if known else None,
                "sd_north_mps": number(sd_n, 3) if known else None,
                "correlation": number(float(at.covariance[0, 1]) / product, 3)
                if known and product > 0
                else None,
                "speed_mps": number(at.speed, 3) if known else None,
                "from_deg": angle(at.from_deg) if known else None,
                "status": at.status,
                "reason": at.reason or None,
                "correlation_above": number(with_next, 3) if known else None,
            }
        )
    return rows


def correlation_above(profile: WindProfile) -> list[float | None]:
    """How the error of every height hangs together with that of the next one up, mean of east and north; None at the top."""
    k, c = profile.agl_m.size, profile.covariance
    sd = np.sqrt(np.maximum(np.diagonal(c), 1e-12))
    low = np.concatenate([np.arange(k - 1), k + np.arange(k - 1)])
    both = (c[low, low + 1] / (sd[low] * sd[low + 1])).reshape(2, k - 1)
    return [*map(float, both.mean(axis=0)), None]


def _winds(debrief: Debrief) -> list[Json]:
    return wind_rows(debrief.wind.profile) if debrief.wind else []


def _leg(leg: Leg, at: float) -> Json:
    row: Json = {
        "leg": leg.name,
        "start_utc": utc(at + leg.start_s),
        "end_utc": utc(at + leg.end_s),
        "turn_agl_m": number(leg.turn_agl_m),
        "turn_agl_sd_m": number(leg.turn_agl_sd_m),
        "start_agl_m": number(leg.start_agl_m),
        "end_agl_m": number(leg.end_agl_m),
        "heading_deg": angle(leg.heading_deg),
        "track_deg": angle(leg.track_deg),
        "crab_deg": number(leg.crab_deg, 1),
        "ground_speed_mps": number(leg.ground_speed_mps, 3),
        "length_m": number(leg.length_m, 1),
        "confidence": number(leg.confidence, 3),
    }
    turn = leg.turn
    row["turn"] = turn and {
        "start_utc": utc(at + turn.start_s),
        "end_utc": utc(at + turn.end_s),
        "start_agl_m": number(turn.start_agl_m),
        "end_agl_m": number(turn.end_agl_m),
        "height_lost_m": number(turn.start_agl_m - turn.end_agl_m),
        "change_deg": number(turn.change_deg, 1),
        "rate_dps": number(turn.rate_dps, 1),
        "bank_deg": number(turn.bank_deg, 1),
    }
    return row


def _pattern(debrief: Debrief) -> Json:
    flown = debrief.flown
    return {
        "hand": flown.hand if flown else None,
        "kind": flown.kind if flown else "other",
        "landing_deg": angle(flown.landing_deg) if flown else None,
        "into_wind_error_deg": number(debrief.into_wind_error_deg, 1),
        "into_wind_error_sd_deg": number(debrief.into_wind_error_sd_deg, 1),
        "confidence": number(flown.confidence, 3) if flown else None,
        "reason": debrief.reasons.get("legs") or (flown.reason or None if flown else None),
    }


def _landing(debrief: Debrief) -> Json:
    landing = debrief.landing
    names = (
        "utc",
        "lat",
        "lon",
        "ground_speed_mps",
        "sink_before_flare_mps",
        "offset_m",
        "offset_sd_m",
        "along_m",
    )
    if landing is None:
        empty: Json = dict.fromkeys((*names, "across_m", "bearing_deg", "score"))
        return empty | {"status": "undetermined", "reason": debrief.reasons.get("landing")}
    return {
        "utc": utc(debrief.track.start_utc_s + landing.t_s),
        "lat": number(landing.lat, 7),
        "lon": number(landing.lon, 7),
        "ground_speed_mps": number(landing.ground_speed_mps, 3),
        "sink_before_flare_mps": number(landing.sink_before_flare_mps, 3),
        "offset_m": number(landing.offset_m),
        "offset_sd_m": number(landing.offset_sd_m),
        "along_m": number(landing.along_m, 3),
        "across_m": number(landing.across_m, 3),
        "along_sd_m": number(landing.along_sd_m),
        "across_sd_m": number(landing.across_sd_m),
        "bearing_deg": angle(landing.bearing_deg),
        "score": None
        if landing.offset_m is None
        else {
            "text": landing.score_text,
            "standards": [
                {"name": s.name, "radius_m": number(s.radius_m), "source": s.source, "met": s.met}
                for s in landing.standards
            ],
        },
        "status": "measured",
        "reason": debrief.reasons.get("target"),
    }


def _gates(pattern: Pattern, debrief: Debrief) -> list[Json]:
    rows: list[Json] = []
    for gate in pattern.gates:
        lat, lon = debrief.track.frame.to_geodetic(gate.east_m, gate.north_m)
        rows.append(
            {
                "gate": gate.name,
                "agl_m": number(gate.agl_m),
                "east_m": number(gate.east_m),
                "north_m": number(gate.north_m),
                "lat": number(float(lat), 7),
                "lon": number(float(lon), 7),
                "heading_deg": angle(gate.heading_deg),
                "track_deg": angle(gate.track_deg),
            }
        )
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
