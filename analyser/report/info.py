"""What a file holds, as JSON (``crabline.info/1``); nothing is judged."""

from __future__ import annotations

from typing import Any

from analyser._version import __version__
from analyser.debrief import Inspection
from analyser.report.document import source_document
from analyser.report.values import number, utc

__all__ = ["info_document"]


def info_document(found: Inspection) -> dict[str, Any]:
    """Source, quality and the jumps with their phases, in SI units."""
    rec, quality = found.recording, found.quality
    return {
        "schema": "crabline.info/1",
        "version": __version__,
        "source": {**source_document(rec, quality.rate_hz), "jumps": found.jumps},
        "quality": {
            "altitude": quality.altitude,
            "gaps": [{"start_utc": utc(g.start_s), "seconds": number(g.seconds)} for g in quality.gaps],
            "notes": [{"code": n.code, "text": n.text} for n in quality.notes],
        },
        "jumps": [
            {
                "jump": i + 1,
                "kind": phases.kind,
                "reason": phases.reason or None,
                "phases": [
                    {
                        "phase": p.name,
                        "start_utc": utc(track.start_utc_s + p.start_s),
                        "end_utc": utc(track.start_utc_s + p.end_s),
                        "start_agl_m": number(p.start_agl_m, 1),
                        "end_agl_m": number(p.end_agl_m, 1),
                    }
                    for p in phases.intervals
                ],
            }
            for i, (track, phases) in enumerate(found.pieces)
        ],
    }
