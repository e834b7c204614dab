"""The story of one jump, in the order in which it helps: the result, what went well, why, what to do, then the evidence."""

from __future__ import annotations

from analyser.debrief import Debrief
from analyser.findings import CAUTIONS
from analyser.report.plain import two_clocks
from analyser.report.story.air import holding, redrawn, winds
from analyser.report.story.blocks import (
    Aside,
    Block,
    Cell,
    Chapter,
    Line,
    Points,
    Sentence,
    Story,
    Table,
    height,
    missing,
    say,
    seconds,
    sentence,
)
from analyser.report.story.brief import NO_CHANGE, POOR, advised, brief, found
from analyser.report.story.captions import picture, summary_map
from analyser.report.story.foot import foot
from analyser.report.story.pattern import gates, metres
from analyser.sentences import Number

__all__ = ["HEIGHTS", "NO_FLIGHT", "cautions", "gaps", "tell_jump"]

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


def tell_jump(debrief: Debrief, *, dated: bool = True) -> Story:
    """The story of a debrief; ``dated`` False leaves out when it was recorded."""
    rec = debrief.recording
    name = rec.name or rec.file
    jumped = debrief.phases.kind != "no jump"
    return Story(
        title=f"Debrief: {name or 'landing'}",
        kicker="Landing debrief, read on the ground",
        heading=name or "Landing",
        facts=_facts(debrief, dated),
        brief=brief(debrief) if jumped else (("No jump", _no_jump(debrief)),),
        map=summary_map(debrief) if jumped else None,
        chapters=_chapters(debrief) if jumped else (_nothing_flown(debrief),),
        foot=foot(debrief),
        command="crabline debrief",
    )


def _facts(debrief: Debrief, dated: bool) -> tuple[tuple[str, Cell], ...]:
    rec, settings = debrief.recording, debrief.settings
    wing = settings.canopy.wing_loading_lb_ft2
    rows: list[tuple[str, Cell | None]] = [
        ("Recorded", _when(debrief) if dated else None),
        ("Field", settings.site.name),
        ("Jumper", settings.jumper.name),
        ("Canopy", settings.canopy.name),
        ("Wing loading", Number("loading", wing) if wing is not None else None),
        ("Device", rec.device),
        ("File", rec.file if rec.name else None),
        ("Jump", f"{debrief.jump} of {debrief.jumps}" if debrief.jumps > 1 else None),
    ]
    return tuple((name, value) for name, value in rows if value)


def _when(debrief: Debrief) -> str:
    frame = debrief.track.frame
    return two_clocks(debrief.track.start_utc_s, frame.lat_deg, frame.lon_deg)


def _chapters(debrief: Debrief) -> tuple[Chapter, ...]:
    parts = [
        ("well", "What went well", _went_well(debrief), ()),
        ("metres", "Where the metres went", metres(debrief), ("budget",)),
        ("change", "One thing to change", _change(debrief), ()),
        ("talk", "Worth a talk with the coach", _talk(debrief), ()),
        ("gates", "Plan against flown, gate by gate", gates(debrief), ("plan-view", "height-to-go")),
        ("wind", "The wind that was there", winds(debrief), ("wind-profile", "hodograph")),
        ("redrawn", "The same pattern, redrawn for that wind", redrawn(debrief), ("redrawn",)),
        ("holding", "Holding above the field", holding(debrief), ("reach",)),
        ("trust", "Can the data be trusted?", _trust(debrief), ("timeline",)),
        ("cautions", "Cautions", cautions(CAUTIONS), ()),
    ]
    said = {text.text() for _, text in brief(debrief)}
    return tuple(
        Chapter(anchor, title, blocks, tuple(picture(debrief, name) for name in names))
        for anchor, title, blocks, names in parts
        if blocks and not _said_above(blocks, said)
    )


def _said_above(blocks: tuple[Block, ...], said: set[str]) -> bool:
    """Whether a chapter would only say once more why there is nothing."""
    only = blocks[0] if len(blocks) == 1 else None
    return isinstance(only, Line) and only.look == "missing" and only.text.text() in said


def cautions(texts: tuple[str, ...]) -> tuple[Block, ...]:
    """What stands on every report."""
    return (Points(tuple(map(sentence, texts))),)


def _no_jump(debrief: Debrief) -> Sentence:
    reason = debrief.phases.reason or NO_FLIGHT
    return sentence(f"No jump was found in this recording: {reason}")


def _nothing_flown(debrief: Debrief) -> Chapter:
    return Chapter("trust", "What the recording holds", _trust(debrief), (picture(debrief, "timeline"),))


def _went_well(debrief: Debrief) -> tuple[Block, ...]:
    good = tuple(found(f) for f in debrief.findings if f.level == "good")
    if good:
        return (Points(good),)
    return (missing("the track alone shows nothing certain here; the jumper's own list comes first"),)


def _change(debrief: Debrief) -> tuple[Block, ...]:
    """The first advice; what else would have done it stays folded."""
    said = advised(debrief)
    if not said:
        reason = debrief.reasons.get("advice") or debrief.reasons.get("budget")
        return (missing(reason or NO_CHANGE),)
    more = (Aside((Points(tuple(said[1:])),), "What else would have done it"),) if said[1:] else ()
    limits = "For the next plan, over clear ground and by the field's rules. Never for the last seconds of a flight."
    return (Line(said[0], "change"), *more, Line(say(limits), "quiet"))


def _talk(debrief: Debrief) -> tuple[Block, ...]:
    own = tuple(found(f) for f in debrief.findings if f.level == "caution")
    return (Points(own),) if own else ()


def _trust(debrief: Debrief) -> tuple[Block, ...]:
    """Grade, errors of place and height, gaps, remarks, phases."""
    quality, track = debrief.track.quality, debrief.track
    remarks = dict.fromkeys(n.text for n in (*quality.notes, *debrief.phases.notes))
    facts = [
        say(
            "{rate} fixes a second, heights {source}, ground level at {ground}.",
            rate=Number("rate", quality.rate_hz),
            source=HEIGHTS[quality.altitude],
            ground=height(track.ground_elevation_m, track.ground_elevation_sd_m),
        ),
        say(
            "Errors (one standard deviation): place {place} on each axis, height {height}, speed {speed}.",
            place=_alone("distance", track.position_sd_m),
            height=_alone("height", track.agl_sd_m),
            speed=_alone("speed", track.velocity_sd),
        ),
        _wind_coverage(debrief),
        *gaps([g.seconds for g in quality.gaps]),
        *map(sentence, remarks),
    ]
    phases = Table(
        "Phases of the recording",
        ("phase", "lasts", "from height", "to height"),
        tuple(
            (p.name, seconds(p.end_s - p.start_s), height(p.start_agl_m), height(p.end_agl_m))
            for p in debrief.phases.intervals
        ),
    )
    return (
        Line(say(GRADES[quality.grade])),
        Points(tuple(facts)),
        *((Aside((phases,)),) if phases.rows else ()),
        Aside((Line(say(PLUS_MINUS), "quiet"),)),
    )


def _alone(kind: str, sd: float) -> Number:
    return Number(kind, None, sd, alone=True)


def gaps(lengths: list[float]) -> list[Sentence]:
    """How many gaps of these lengths [s] there are, and the longest."""
    if not lengths:
        return []
    text = "One gap of {longest}." if len(lengths) == 1 else "{n} gaps, the longest {longest}."
    return [say(text, n=str(len(lengths)), longest=seconds(max(lengths)))]


def _wind_coverage(debrief: Debrief) -> Sentence:
    if debrief.wind is None:
        return sentence(f"no winds: {debrief.reasons.get('winds', 'not determined')}")
    status = debrief.wind.profile.status
    bridged = status.count("bridged")
    more = f", bridged between neighbours at {bridged}" if bridged else ""
    return sentence(f"Wind measured at {status.count('measured')} of {len(status)} heights{more}")
