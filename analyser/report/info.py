"""What a file holds, as JSON (``crabline.info/1``) and as text; nothing is judged."""

from __future__ import annotations

from typing import Any

from analyser._version import __version__
from analyser.debrief import Inspection
from analyser.report.document import source_document
from analyser.report.plain import plain, utc_minute
from analyser.report.values import number, utc
from analyser.units import DisplaySystem

__all__ = ["info_document", "info_text"]


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


def info_text(found: Inspection, display: DisplaySystem) -> str:
    """The same as a few lines of text."""
    rec, quality = found.recording, found.quality
    lines = [
        plain(rec.file),
        f"  format     {rec.format}" + (f", device {plain(rec.device)}" if rec.device else ""),
        f"  recorded   {utc_minute(float(rec.time_s[0]))} to {utc_minute(float(rec.time_s[-1]))}",
        f"  fixes      {len(rec)}, {quality.rate_hz:.3g} per second",
        f"  altitude   {quality.altitude}",
        f"  gaps       {len(quality.gaps)}"
        + (f", the longest {max(g.seconds for g in quality.gaps):.0f} s" if quality.gaps else ""),
        f"  jumps      {found.jumps}",
    ]
    lines += [f"  note       {plain(note.text)}" for note in quality.notes]
    for i, (track, phases) in enumerate(found.pieces):
        lines.append(f"  jump {i + 1}" if phases.kind == "jump" else f"  no jump: {plain(phases.reason)}")
        for p in phases.intervals:
            start, end = display.height.text(p.start_agl_m), display.height.text(p.end_agl_m)
            clock = (utc(float(round(track.start_utc_s + p.start_s))) or "")[11:19]
            lines.append(f"    {clock}  {p.name:14} {p.end_s - p.start_s:6.0f} s  {start:>9} to {end:>9}")
    return "\n".join(lines)
