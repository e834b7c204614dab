"""The story of one jump, in the order in which it helps: the result, what went well, why, what to do, then the evidence."""

from __future__ import annotations

from analyser.debrief import Debrief
from analyser.findings import CAUTIONS
from analyser.report.plain import two_clocks
from analyser.report.story.air import holding, redrawn, winds
from analyser.report.story.blocks import Block, Blocks, Cell, Chapter, Line, Story, lines_of, sentence
from analyser.report.story.brief import brief
from analyser.report.story.captions import picture, summary_map
from analyser.report.story.foot import cautions, foot
from analyser.report.story.lessons import change, talk, well
from analyser.report.story.pattern import gate_table, landed, legs, metres, plan_line
from analyser.report.story.recollection import asked
from analyser.report.story.trust import NO_FLIGHT, trust
from analyser.sentences import Number

__all__ = ["tell_jump"]

Part = tuple[str, str, Blocks, tuple[str, ...]]


def tell_jump(debrief: Debrief, *, dated: bool = True, recollect: bool = False) -> Story:
    """The story of a debrief; ``dated`` False leaves out when it was recorded, ``recollect`` asks first what the jumper remembers."""
    rec, phases = debrief.recording, debrief.phases
    name = rec.name or rec.file
    facts = _facts(debrief, dated)
    jumped = phases.kind != "no jump"
    none = sentence(f"No jump was found in this recording: {phases.reason or NO_FLIGHT}")
    short = brief(debrief) if jumped else (("No jump", none),)
    chapters = _chapters(debrief, jumped, {text.text() for _, text in short})
    return Story(
        title=f"Debrief: {name or 'landing'}",
        kicker="Landing debrief, read on the ground",
        heading=name or "Landing",
        facts=facts,
        brief=short,
        map=summary_map(debrief) if jumped else None,
        chapters=chapters,
        foot=foot(rec, debrief.settings.method),
        command="crabline debrief",
        asked=asked(debrief) if recollect and phases.kind == "jump" else (),
    )


def _facts(debrief: Debrief, dated: bool) -> tuple[tuple[str, Cell], ...]:
    rec, settings, frame = debrief.recording, debrief.settings, debrief.track.frame
    when = two_clocks(debrief.track.start_utc_s, frame.lat_deg, frame.lon_deg)
    wing = settings.canopy.wing_loading_lb_ft2
    rows: list[tuple[str, Cell | None]] = [
        ("Recorded", when if dated else None),
        ("Field", settings.site.name),
        ("Jumper", settings.jumper.name),
        ("Canopy", settings.canopy.name),
        ("Wing loading", Number("loading", wing) if wing is not None else None),
        ("Device", rec.device),
        ("File", rec.file if rec.name else None),
        ("Jump", f"{debrief.jump} of {debrief.jumps}" if debrief.jumps > 1 else None),
    ]
    return tuple((name, value) for name, value in rows if value)


def _chapters(debrief: Debrief, jumped: bool, said: set[str]) -> tuple[Chapter, ...]:
    """Every chapter that has something to tell beside what is ``said`` on top."""
    flight = _of_the_flight(debrief) if jumped else ()
    data = trust(debrief.track, debrief.phases, debrief.wind, debrief.reasons)
    parts = [
        *flight,
        ("trust", "Can the data be trusted?" if jumped else "What the recording holds", data, ("timeline",)),
        *([("cautions", "Cautions", cautions(CAUTIONS), ())] if jumped else ()),
    ]
    return tuple(
        Chapter(anchor, title, blocks, tuple(picture(debrief, name) for name in names))
        for anchor, title, some, names in parts
        if (blocks := lines_of(*some)) and not _said_above(blocks, said)
    )


def _of_the_flight(debrief: Debrief) -> tuple[Part, ...]:
    """Each chapter with what it tells of and the names of its pictures."""
    d, spot, plan, why = debrief, debrief.landing, debrief.plan, debrief.reasons
    off_wind = (d.into_wind_error_deg, d.into_wind_error_sd_deg)
    lost = metres(d.findings, d.budget, d.brakes, spot, why)
    against = (
        *plan_line(plan, d.settings.pattern.preset, why),
        *gate_table(d.comparison, why.get("legs") if plan else None),
        *landed(spot, off_wind, why),
        *legs(d.flown, why),
    )
    air, above = winds(d), holding(d.reach, d.holding)
    again = redrawn(plan, d.redrawn, d.plan_outcome, why)
    return (
        ("well", "What went well", well(d.findings), ()),
        ("metres", "Where the metres went", lost, ("budget",)),
        ("change", "One thing to change", change(d.advice, why), ()),
        ("talk", "Worth a talk with the coach", talk(d.findings), ()),
        ("gates", "Plan against flown, gate by gate", against, ("plan-view", "height-to-go")),
        ("wind", "The wind that was there", air, ("wind-profile", "hodograph")),
        ("redrawn", "The same pattern, redrawn for that wind", again, ("redrawn",)),
        ("holding", "Holding above the field", above, ("reach",)),
    )


def _said_above(blocks: tuple[Block, ...], said: set[str]) -> bool:
    """Whether a chapter would only say once more why there is nothing."""
    only = blocks[0] if len(blocks) == 1 else None
    return isinstance(only, Line) and only.look == "missing" and only.text.text() in said
