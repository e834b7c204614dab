"""changes: what another debrief of the same jump says differently, as a table of before and after."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from analyser.angles import bearing_text
from analyser.desk.pages.fields import fold
from analyser.desk.work import Words, escape, table
from analyser.pattern import gate_words

__all__ = ["changes"]


def changes(before: dict[str, Any], after: dict[str, Any], words: Words) -> str:
    """Every line that is not the same, as ready HTML, "" where there is none; folded away where all of it is new.

    Documents of schema ``crabline.debrief/1``.
    """
    old, new = dict(_lines(before, words)), dict(_lines(after, words))
    names = [*new, *(name for name in old if name not in new)]
    rows = [
        (escape(name), old.get(name, "–"), new.get(name, "–"))
        for name in names
        if old.get(name, "–") != new.get(name, "–")
    ]
    if not rows:
        return ""
    told = table("Before and now", ("", "before", "now"), rows, words=frozenset({1, 2}))
    return fold("What changed", told, opened=any(row[1] != "–" for row in rows))


def _lines(document: dict[str, Any], words: Words) -> Iterator[tuple[str, str]]:
    landing = document.get("landing") or {}
    plan = document.get("plan") or {}
    yield "landing, from the target", words.distance(landing.get("offset_m"), landing.get("offset_sd_m"))
    yield (
        "long (+) or short (−)",
        words.distance(landing.get("along_m"), landing.get("along_sd_m"), signed=True),
    )
    yield (
        "right (+) or left (−)",
        words.distance(landing.get("across_m"), landing.get("across_sd_m"), signed=True),
    )
    yield "plan: hand", escape(plan.get("hand") or "–")
    yield "plan: landing direction", _degrees(plan.get("landing_deg"))
    yield "plan: wind taken from", escape(plan.get("winds_from") or "–")
    for i, gate in enumerate(plan.get("gates") or ()):
        yield f"plan: {gate_words(gate['gate'], first=i == 0)}", words.height(gate.get("agl_m"))
    for gate in document.get("comparison") or ():
        yield (
            f"{gate['gate']}: flown minus planned",
            words.height(gate.get("agl_m"), gate.get("agl_sd_m"), signed=True),
        )
    for part in document.get("budget") or ():
        along = words.distance(part.get("along_m"), part.get("along_sd_m"), signed=True)
        across = words.distance(part.get("across_m"), part.get("across_sd_m"), signed=True)
        yield f"cause: {part['cause']} (along, across)", f"{along}, {across}"
    for number, one in enumerate((a for a in document.get("advice") or () if not a.get("blocked_by")), 1):
        yield f"advice {number}", words.sentence(one["text"])


def _degrees(value: float | None) -> str:
    return bearing_text(value)
