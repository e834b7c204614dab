"""The first chapters of a debrief as HTML without pictures: what a notebook shows of a jump."""

from __future__ import annotations

from dataclasses import replace

from analyser.debrief import Debrief
from analyser.report.page.markup import join
from analyser.report.page.write import Writer
from analyser.report.story.jump import tell_jump

__all__ = ["excerpt"]


def excerpt(debrief: Debrief, *, units: str, count: int = 4) -> str:
    """The lines that say it all and the first ``count`` chapters as an HTML fragment in a display system; no script, no style,
    nothing loaded."""
    writer, story = Writer(units), replace(tell_jump(debrief), map=None)
    chapters = [writer.chapter(i, replace(c, pictures=())) for i, c in enumerate(story.chapters[:count], 1)]
    return join([writer.lines(story), *chapters]).markup
