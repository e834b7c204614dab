"""The chapters of one jump in the order in which they help, with their pictures."""

from __future__ import annotations

from analyser.debrief import Debrief
from analyser.findings import CAUTIONS, render
from analyser.report.story.air import redrawn, winds
from analyser.report.story.blocks import Block, Blocks, Chapter, Line, Sentence, lines_of
from analyser.report.story.captions import picture
from analyser.report.story.foot import cautions
from analyser.report.story.given import told_and_found
from analyser.report.story.holding import entered_at, holding
from analyser.report.story.lessons import Lessons
from analyser.report.story.pattern import gate_table, heights_alone, landed, legs, metres, plan_line
from analyser.report.story.trust import trust

__all__ = ["chapters"]

Part = tuple[str, str, Blocks, tuple[str, ...]]


def chapters(debrief: Debrief, lessons: Lessons | None, said: set[str]) -> tuple[Chapter, ...]:
    """Every chapter that has something to tell beside what is ``said`` on top; ``lessons`` None where nobody jumped."""
    flight = _of_the_flight(debrief, lessons) if lessons is not None else ()
    data = trust(debrief.track, debrief.phases, debrief.wind, debrief.reasons)
    parts = [
        *flight,
        (
            "trust",
            "Can the data be trusted?" if lessons is not None else "What the recording holds",
            data,
            ("timeline",),
        ),
        *([("cautions", "Cautions", cautions(CAUTIONS), ())] if lessons is not None else ()),
    ]
    return tuple(
        Chapter(anchor, title, blocks, tuple(picture(debrief, name) for name in names))
        for anchor, title, some, names in parts
        if (blocks := lines_of(*some)) and not _said_above(blocks, said)
    )


def _of_the_flight(debrief: Debrief, lessons: Lessons) -> tuple[Part, ...]:
    """Each chapter with what it tells of and the names of its pictures."""
    d, spot, plan, why = debrief, debrief.landing, debrief.plan, debrief.reasons
    off_wind, asked = (d.into_wind_error_deg, d.into_wind_error_sd_deg), _asked_first(d)
    lost = metres(d.findings, d.budget, d.brakes, spot, why, asked)
    compared = d.comparison if asked is None else heights_alone(d.comparison)
    against = (
        *plan_line(plan, d.settings.pattern.preset, why, d.planned),
        *gate_table(compared, why.get("legs") if plan else None, d.planned),
        *landed(spot, off_wind, why),
        *legs(d.flown, why),
    )
    given = told_and_found(d.settings, d.wind.profile) if d.wind is not None else ()
    air = winds(d, given)
    above = holding(
        d.reach if asked is None else None, d.holding, entered_at(d), spot.offset_m if spot else None
    )
    again = (
        redrawn(d.matched or plan, d.redrawn, d.plan_outcome, why)
        if asked is None
        else (Line(asked, "missing"),)
    )
    return (
        ("well", "What went well", lessons.well, ()),
        ("metres", "Where the metres went", lost, ("budget",)),
        ("change", "One thing to change", lessons.change, ()),
        ("talk", "Worth a talk with the coach", lessons.talk, ()),
        ("gates", "Plan against flown, gate by gate", against, ("plan-view", "height-to-go")),
        ("wind", "The wind that was there", air, ("wind-profile", "hodograph")),
        ("redrawn", "The same pattern, redrawn for that wind", again, ("redrawn",)),
        ("holding", "Holding above the field", above, ("reach",)),
    )


def _asked_first(debrief: Debrief) -> Sentence | None:
    """The question that holds the budget back, in the reader's units."""
    reason = debrief.reasons.get("budget")
    return next((Sentence(q.text, q.evidence) for q in debrief.questions if render(q) == reason), None)


def _said_above(blocks: tuple[Block, ...], said: set[str]) -> bool:
    """Whether a chapter would only say once more why there is nothing."""
    only = blocks[0] if len(blocks) == 1 else None
    return isinstance(only, Line) and only.look == "missing" and only.text.text() in said
