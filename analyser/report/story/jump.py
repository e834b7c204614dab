"""The story of one jump, in the order in which it helps: the result, what went well, why, what to do, then the evidence."""

from __future__ import annotations

from analyser.debrief import Debrief
from analyser.report.plain import two_clocks
from analyser.report.story.blocks import Cell, Remark, Story
from analyser.report.story.brief import brief
from analyser.report.story.captions import summary_map
from analyser.report.story.chapters import chapters
from analyser.report.story.foot import foot
from analyser.report.story.lessons import lessons
from analyser.report.story.recollection import asked
from analyser.report.story.trust import NO_FLIGHT
from analyser.sentences import Number

__all__ = ["tell_jump"]


def tell_jump(debrief: Debrief, *, dated: bool = True, recollect: bool = False) -> Story:
    """The story of a debrief; ``dated`` False leaves out when it was recorded, ``recollect`` asks first what the jumper remembers."""
    rec, phases = debrief.recording, debrief.phases
    name = rec.name or rec.file
    facts = _facts(debrief, dated)
    jumped = phases.kind != "no jump"
    none = Remark(f"No jump was found in this recording: {phases.reason or NO_FLIGHT}")
    learnt = lessons(debrief.findings, debrief.advice, debrief.reasons)
    short = brief(debrief, learnt) if jumped else (("No jump", none),)
    told = chapters(debrief, learnt if jumped else None, {text.text() for _, text in short})
    return Story(
        title=f"Debrief: {name or 'landing'}",
        kicker="Landing debrief, read on the ground",
        heading=name or "Landing",
        facts=facts,
        brief=short,
        map=summary_map(debrief) if jumped else None,
        chapters=told,
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
