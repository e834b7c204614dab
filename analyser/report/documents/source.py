"""What every document of a recording says of it: file, quality, phases, the local frame."""

from __future__ import annotations

from collections.abc import Iterable

from analyser.importers.recording import Note, Recording
from analyser.localtime import local_iso, zone_at
from analyser.phases import Phases
from analyser.report.documents.values import AS_IT_IS, Fields, Json, number, span, take, utc
from analyser.track import Gap

__all__ = ["gap_rows", "note_rows", "phase_rows", "source_row"]

SOURCE: Fields = dict.fromkeys(("file", "sha256", "format", "device", "name"), AS_IT_IS)
HEIGHTS: Fields = {"start_agl_m": 1, "end_agl_m": 1}


def source_row(rec: Recording, rate_hz: float) -> Json:
    """What the recording is: file, hash, format, device, number of points, times (UTC; the first in local time too), rate [Hz]."""
    zone = zone_at(float(rec.lat_deg[0]), float(rec.lon_deg[0]))
    return {
        **take(rec, SOURCE),
        "points": len(rec),
        "first_utc": utc(float(rec.time_s[0])),
        "last_utc": utc(float(rec.time_s[-1])),
        "time_zone": zone,
        "first_local": local_iso(float(rec.time_s[0]), zone),
        "rate_hz": number(rate_hz, 3),
    }


def gap_rows(gaps: Iterable[Gap]) -> list[Json]:
    """Holes of the recording."""
    return [{"start_utc": utc(g.start_s), "seconds": number(g.seconds)} for g in gaps]


def note_rows(notes: Iterable[Note]) -> list[Json]:
    """What was odd, dropped or mended, with how often where that is counted."""
    return [{"code": n.code, "text": n.text} | ({} if n.count is None else {"count": n.count}) for n in notes]


def phase_rows(phases: Phases, at: float) -> list[Json]:
    """The phases, which tile the track; ``at`` [s since 1970] is its first fix."""
    return [{"phase": p.name, **span(at, p), **take(p, HEIGHTS)} for p in phases.intervals]
