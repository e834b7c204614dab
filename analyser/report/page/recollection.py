"""Coach mode: first what the jumper remembers, kept in the page, then the measured beside it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from analyser.report.page.markup import Html, Part, join, tag
from analyser.report.story.blocks import Asked, Cell
from analyser.units import DISPLAY_SYSTEMS

__all__ = ["recollection"]

LEAD = (
    "Close your eyes and fly it again from the opening. Write down what you remember before you look at any number. The answers stay "
    "in this browser and nowhere else."
)


def recollection(questions: Sequence[Asked], units: str, cell: Callable[[Cell], Part]) -> Html:
    """The questions, and behind a button the answers beside what was measured, laid out by ``cell``."""
    asked, answers = [], []
    for one in questions:
        field = _field(one, units)
        asked.append(tag("p", tag("label", one.question, for_=f"ask-{one.key}"), field))
        remembered = tag("td", tag("span", "–", data_answer=one.key), cls="word")
        measured = tag("td", cell(one.measured), cls="word")
        answers.append(tag("tr", tag("th", one.question, scope="row"), remembered, measured))
    show = tag("p", tag("button", "Show what was measured", type_="submit"))
    again = tag("p", tag("button", "Change the answers", type_="button", id="recall-again"))
    style = tag("style", ".veiled{display:block!important}")
    return tag(
        "section",
        tag("h2", "First: what do you remember?", id="recall-title"),
        tag("p", LEAD, cls="lead"),
        tag("form", *asked, show, id="recall-form", autocomplete="off"),
        tag("div", _answers(answers), again, id="recall-answers", hidden=True),
        tag("noscript", style, tag("p", "Scripts are off: the measured part follows below.")),
        cls="chapter recall",
        id="recall",
        aria_labelledby="recall-title",
    )


def _answers(rows: list[Html]) -> Html:
    title = "Remembered and measured"
    head = [tag("th", name, scope="col", cls="word") for name in ("question", "remembered", "measured")]
    table = tag("table", tag("caption", title), tag("thead", tag("tr", *head)), tag("tbody", *rows))
    return tag("div", table, cls="table", role="region", tabindex="0", aria_label=title)


def _field(one: Asked, units: str) -> Html:
    """Where the answer goes: a choice, a height in the reader's unit, or words."""
    named = {"id": f"ask-{one.key}", "name": one.key}
    if one.choices:
        return tag("select", *(tag("option", o) for o in ("", *one.choices)), **named)
    if not one.height:
        return tag("input", type_="text", **named, maxlength="300")
    field = tag("input", type_="number", **named, min="0", max="6000", step="any", inputmode="numeric")
    return join([field, " ", tag("span", DISPLAY_SYSTEMS[units].height.label, data_q="height")])
