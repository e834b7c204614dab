"""Coach mode: first what the jumper remembers, kept in the page, then the measured beside it."""

from __future__ import annotations

from analyser.angles import wind_from_deg
from analyser.debrief import Debrief
from analyser.report.page.markup import Html, Part, join, tag
from analyser.report.page.write import Writer
from analyser.report.pictures.wind import mean_wind, pattern_top
from analyser.report.story.blocks import Cell, bearing, distance, height, say, sentence, speed
from analyser.report.story.brief import LONG_SHORT, RIGHT_LEFT
from analyser.units import DISPLAY_SYSTEMS

__all__ = ["recollection"]

COMPASS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
TROUBLES = (
    "nothing",
    "opening point",
    "holding",
    "pattern entry",
    "downwind leg",
    "base leg",
    "final",
    "wind",
    "flare",
)
LEAD = (
    "Close your eyes and fly it again from the opening. Write down what you remember before you look at any number. The answers stay "
    "in this browser and nowhere else."
)


def recollection(debrief: Debrief, units: str) -> Html:
    """The questions, and behind a button the answers beside what was measured."""
    writer = Writer(units)
    asked, answers = [], []
    for key, question, field in _questions(debrief, units):
        asked.append(tag("p", tag("label", question, for_=f"ask-{key}"), field))
        remembered = tag("td", tag("span", "–", data_answer=key), cls="word")
        measured = tag("td", writer.cell(_measured(debrief, key)), cls="word")
        answers.append(tag("tr", tag("th", question, scope="row"), remembered, measured))
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


def _questions(debrief: Debrief, units: str) -> list[tuple[str, str, Html]]:
    gates = [g.name for g in debrief.plan.pattern.gates] if debrief.plan else ["downwind", "base", "final"]
    rows = [
        (f"turn-{g}", f"At what height did you turn onto {g}?", _number(f"turn-{g}", units)) for g in gates
    ]
    return [
        *rows,
        ("wind", "Where did the wind come from near the ground?", _choice("wind", COMPASS)),
        ("strength", "How strong was it?", _text("strength")),
        ("landing", "Where did you land, seen from the target?", _text("landing")),
        ("trouble", "Where did it begin to go another way than planned?", _choice("trouble", TROUBLES)),
        ("well", "What went well?", _text("well")),
    ]


def _number(key: str, units: str) -> Html:
    field = tag(
        "input",
        type_="number",
        id=f"ask-{key}",
        name=key,
        min="0",
        max="6000",
        step="any",
        inputmode="numeric",
    )
    return join([field, " ", tag("span", DISPLAY_SYSTEMS[units].height.label, data_q="height")])


def _text(key: str) -> Html:
    return tag("input", type_="text", id=f"ask-{key}", name=key, maxlength="300")


def _choice(key: str, options: tuple[str, ...]) -> Html:
    parts: list[Part] = [tag("option", o) for o in ("", *options)]
    return tag("select", *parts, id=f"ask-{key}", name=key)


def _measured(debrief: Debrief, key: str) -> Cell:
    if key.startswith("turn-"):
        gate = debrief.flown.gate(key[5:]) if debrief.flown else None  # type: ignore[arg-type]
        return height(gate.agl_m, gate.agl_sd_m) if gate else "not flown"
    if key in ("wind", "strength"):
        return _wind(debrief, key)
    if key == "landing":
        return _landed(debrief)
    if key == "trouble" and debrief.budget:
        most = max(debrief.budget, key=lambda r: abs(r.along_m) + abs(r.across_m))
        return f"most metres: {most.cause}"
    return "see below"


def _landed(debrief: Debrief) -> Cell:
    landing = debrief.landing
    if landing is None or landing.offset_m is None:
        return sentence(debrief.reasons.get("target") or debrief.reasons.get("landing") or "not known")
    return say(
        "{along}, {across}",
        along=distance(landing.along_m, landing.along_sd_m, sides=LONG_SHORT),
        across=distance(landing.across_m, landing.across_sd_m, sides=RIGHT_LEFT),
    )


def _wind(debrief: Debrief, key: str) -> Cell:
    mean = mean_wind(debrief.wind.profile, min(100.0, pattern_top(debrief))) if debrief.wind else None
    if mean is None:
        return sentence(debrief.reasons.get("winds", "not known"))
    if key == "wind":
        return say(
            "from {deg} (mean of the lowest {top})",
            deg=bearing(float(wind_from_deg(*mean))),
            top=height(100.0),
        )
    return speed((mean[0] ** 2 + mean[1] ** 2) ** 0.5)
