"""Whether the data can be trusted: the grade of the recording, its errors, gaps and remarks, the phases found in it."""

from __future__ import annotations

from collections.abc import Mapping

from analyser.phases import Phases
from analyser.report.story.blocks import (
    Aside,
    Block,
    Line,
    Points,
    Remark,
    Sentence,
    Table,
    distance,
    height,
    seconds,
    speed,
)
from analyser.report.story.brief import POOR
from analyser.sentences import Number
from analyser.track import Track
from analyser.wind.estimate import WindEstimate

__all__ = ["HEIGHTS", "NO_FLIGHT", "gaps", "trust"]

NO_FLIGHT = "no parachute flight in it"
GRADES = {
    "good": "The recording is good.",
    "usable": "The recording is usable. Mind the remarks below.",
    "poor": POOR,
}
PLUS_MINUS = (
    "± is one standard deviation. Two cases in three lie within it, nineteen in twenty within twice as much."
)
HEIGHTS = {"barometric": "from a barometer", "gps": "from the satellites", "unknown": "of unknown origin"}


def trust(
    track: Track, phases: Phases, wind: WindEstimate | None, reasons: Mapping[str, str]
) -> tuple[Block, ...]:
    """Grade, errors of place and height, how much of the wind is known, gaps, remarks, phases."""
    quality = track.quality
    remarks = dict.fromkeys(n.text for n in (*quality.notes, *phases.notes))
    facts = [
        Sentence(
            "{rate} fixes a second, heights {source}, ground level at {ground}.",
            {
                "rate": Number("rate", quality.rate_hz),
                "source": HEIGHTS[quality.altitude],
                "ground": height(track.ground_elevation_m, track.ground_elevation_sd_m),
            },
        ),
        Sentence(
            "Errors (one standard deviation): place {place} on each axis, height {height}, speed {speed}.",
            {
                "place": distance(None, track.position_sd_m, alone=True),
                "height": height(None, track.agl_sd_m, alone=True),
                "speed": speed(None, track.velocity_sd, alone=True),
            },
        ),
        _coverage(wind, reasons.get("winds", "not determined")),
        *gaps([g.seconds for g in quality.gaps]),
        *map(Remark, remarks),
    ]
    table = Table(
        "Phases of the recording",
        ("phase", "lasts", "from height", "to height"),
        tuple(
            (p.name, seconds(p.end_s - p.start_s), height(p.start_agl_m), height(p.end_agl_m))
            for p in phases.intervals
        ),
    )
    return (
        Line(Sentence(GRADES[quality.grade])),
        Points(tuple(facts)),
        *((Aside((table,)),) if table.rows else ()),
        Aside((Line(Sentence(PLUS_MINUS), "quiet"),)),
    )


def gaps(lengths: list[float]) -> list[Sentence]:
    """How many gaps of these lengths [s] there are, and the longest."""
    if not lengths:
        return []
    text = "One gap of {longest}." if len(lengths) == 1 else "{n} gaps, the longest {longest}."
    return [Sentence(text, {"n": str(len(lengths)), "longest": seconds(max(lengths))})]


def _coverage(wind: WindEstimate | None, why_not: str) -> Sentence:
    if wind is None:
        return Remark(f"no winds: {why_not}")
    status = wind.profile.status
    bridged = status.count("bridged")
    more = f", bridged between neighbours at {bridged}" if bridged else ""
    return Remark(f"Wind measured at {status.count('measured')} of {len(status)} heights{more}")
