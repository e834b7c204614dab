"""What a file holds; nothing is judged."""

from __future__ import annotations

from analyser.debrief import Inspection
from analyser.phases import Phases
from analyser.report.documents.values import utc
from analyser.report.plain import two_clocks
from analyser.report.story.blocks import (
    Block,
    Chapter,
    Line,
    Points,
    Remark,
    Sentence,
    Story,
    Table,
    height,
    seconds,
)
from analyser.report.story.trust import HEIGHTS, NO_FLIGHT, gaps
from analyser.sentences import Number
from analyser.track import Track

__all__ = ["tell_info"]


def tell_info(found: Inspection) -> Story:
    """The story of a recording: how it was sampled, the jumps in it and their phases."""
    rec, quality = found.recording, found.quality
    first, last = (
        two_clocks(float(rec.time_s[i]), float(rec.lat_deg[i]), float(rec.lon_deg[i])) for i in (0, -1)
    )
    span = f"{first} to {last}"
    facts = [
        Remark(f"format {rec.format}" + (f", device {rec.device}" if rec.device else "")),
        Sentence("Recorded {span}.", {"span": span}),
        Sentence(
            "{n} fixes, {rate} a second.", {"n": str(len(rec)), "rate": Number("rate", quality.rate_hz)}
        ),
        Sentence("Heights {source}.", {"source": HEIGHTS[quality.altitude]}),
        *(gaps([g.seconds for g in quality.gaps]) or [Sentence("No gaps.")]),
        Sentence("Jumps: {n}.", {"n": str(found.jumps)}),
        *(Remark(note.text) for note in quality.notes),
    ]
    jumps = [_piece(i, track, phases) for i, (track, phases) in enumerate(found.pieces, 1)]
    return Story(
        title=f"Recording: {rec.file}",
        kicker="What the file holds",
        heading=rec.file or "recording",
        chapters=(Chapter("file", "What the file holds", (Points(tuple(facts)),)), *jumps),
        command="crabline info",
    )


def _piece(number: int, track: Track, phases: Phases) -> Chapter:
    rows = tuple(
        (
            p.name,
            (utc(float(round(track.start_utc_s + p.start_s))) or "")[11:19],
            seconds(p.end_s - p.start_s),
            height(p.start_agl_m),
            height(p.end_agl_m),
        )
        for p in phases.intervals
    )
    table = Table("Phases", ("phase", "begins (UTC)", "lasts", "from height", "to height"), rows)
    blocks: tuple[Block, ...] = (table,) if rows else ()
    if phases.kind == "jump":
        return Chapter(f"jump-{number}", f"Jump {number}", blocks)
    return Chapter(
        f"jump-{number}", "No jump", (Line(Remark(phases.reason or NO_FLIGHT), "missing"), *blocks)
    )
