"""The first chapters of a debrief as HTML without pictures: what a notebook shows of a jump."""

from __future__ import annotations

from analyser.debrief import Debrief
from analyser.report import chapters
from analyser.report.markup import chapter
from analyser.report.wording import Words

__all__ = ["excerpt"]


def excerpt(debrief: Debrief, *, units: str, count: int = 4) -> str:
    """The first ``count`` chapters as an HTML fragment in a display system; no script, no style, nothing loaded."""
    words = Words(units)
    parts = [
        ("trust", "Can the data be trusted?", chapters.trust),
        ("well", "What went well", chapters.went_well),
        ("gates", "Plan against flown, gate by gate", chapters.gates),
        ("metres", "Where the metres went", chapters.metres),
    ]
    told = [(anchor, title, tell(debrief, words)) for anchor, title, tell in parts]
    kept = [row for row in told if row[2]][:count]
    return "".join(chapter(i, anchor, title, text, "") for i, (anchor, title, text) in enumerate(kept, 1))
