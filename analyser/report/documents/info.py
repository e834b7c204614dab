"""What a file holds -> the JSON document of schema ``crabline.info/1``; nothing is judged."""

from __future__ import annotations

from typing import Final

from analyser._version import __version__
from analyser.debrief import Inspection
from analyser.report.documents.source import gap_rows, phase_rows, source_row
from analyser.report.documents.values import Json

__all__ = ["SCHEMA_NAME", "info_document"]

SCHEMA_NAME: Final = "crabline.info/1"


def info_document(found: Inspection) -> Json:
    """Source, quality and the jumps with their phases, in SI units."""
    quality = found.quality
    return {
        "schema": SCHEMA_NAME,
        "version": __version__,
        "source": {**source_row(found.recording, quality.rate_hz), "jumps": found.jumps},
        "quality": {
            "altitude": quality.altitude,
            "gaps": gap_rows(quality.gaps),
            "notes": [{"code": n.code, "text": n.text} for n in quality.notes],
        },
        "jumps": [
            {
                "jump": i,
                "kind": phases.kind,
                "reason": phases.reason or None,
                "phases": phase_rows(phases, track.start_utc_s),
            }
            for i, (track, phases) in enumerate(found.pieces, 1)
        ],
    }
