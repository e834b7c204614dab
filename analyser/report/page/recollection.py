"""Coach mode: first what the jumper remembers, kept in the page, then the measured beside it."""

from __future__ import annotations

from analyser.angles import wind_from_deg
from analyser.debrief import Debrief
from analyser.report.markup import table
from analyser.report.page.shell import escape
from analyser.report.pictures.wind import mean_wind, pattern_top
from analyser.report.wording import Words, degrees

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


def recollection(debrief: Debrief, words: Words) -> str:
    """The questions, and behind a button the answers beside what was measured."""
    rows = [
        (key, question, field, _measured(debrief, words, key))
        for key, question, field in _questions(debrief, words)
    ]
    asked = "".join(
        f'<p><label for="ask-{key}">{question}</label>{field}</p>' for key, question, field, _ in rows
    )
    answers = [
        (question, f'<span data-answer="{key}">–</span>', measured) for key, question, _, measured in rows
    ]
    return (
        '<section class="chapter recall" id="recall" aria-labelledby="recall-title">'
        '<h2 id="recall-title">First: what do you remember?</h2>'
        '<p class="lead">Close your eyes, fly it again from the opening. Then write down what you remember, before looking at any '
        "number. The answers stay in this browser and nowhere else.</p>"
        f'<form id="recall-form" autocomplete="off">{asked}<p><button type="submit">Show what was measured</button></p></form>'
        f'<div id="recall-answers" hidden>{table("Remembered and measured", ("question", "remembered", "measured"), answers, words=frozenset({1, 2}))}'
        '<p><button type="button" id="recall-again">Change the answers</button></p></div>'
        "<noscript><style>.veiled{display:block!important}</style><p>Scripts are off: the measured part follows below.</p></noscript></section>"
    )


def _questions(debrief: Debrief, words: Words) -> list[tuple[str, str, str]]:
    gates = [g.name for g in debrief.plan.pattern.gates] if debrief.plan else ["downwind", "base", "final"]
    rows = [
        (f"turn-{g}", f"At what height did you turn onto {g}?", _number(f"turn-{g}", words)) for g in gates
    ]
    return [
        *rows,
        ("wind", "Where did the wind come from near the ground?", _choice("wind", COMPASS)),
        ("strength", "How strong was it?", _text("strength")),
        ("landing", "Where did you land, seen from the target?", _text("landing")),
        ("trouble", "Where did it begin to go another way than planned?", _choice("trouble", TROUBLES)),
        ("well", "What went well?", _text("well")),
    ]


def _number(key: str, words: Words) -> str:
    unit = f'<span data-q="height">{escape(words.system.height.label)}</span>'
    return f'<input type="number" id="ask-{key}" name="{key}" min="0" max="6000" step="any" inputmode="numeric"> {unit}'


def _text(key: str) -> str:
    return f'<input type="text" id="ask-{key}" name="{key}" maxlength="300">'


def _choice(key: str, options: tuple[str, ...]) -> str:
    items = "".join(f"<option>{o}</option>" for o in ("", *options))
    return f'<select id="ask-{key}" name="{key}">{items}</select>'


def _measured(debrief: Debrief, words: Words, key: str) -> str:
    if key.startswith("turn-"):
        gate = debrief.flown.gate(key[5:]) if debrief.flown else None  # type: ignore[arg-type]
        return words.height(gate.agl_m, gate.agl_sd_m) if gate else "not flown"
    if key in ("wind", "strength"):
        return _wind(debrief, words, key)
    if key == "landing":
        landing = debrief.landing
        if landing is None or landing.offset_m is None:
            return escape(debrief.reasons.get("target") or debrief.reasons.get("landing") or "not known")
        return f"{words.sides(landing.along_m, None, 'long', 'short')}, {words.sides(landing.across_m, None, 'right', 'left')}"
    if key == "trouble" and debrief.budget:
        most = max(debrief.budget, key=lambda r: abs(r.along_m) + abs(r.across_m))
        return f"most metres: {most.cause}"
    return "see below"


def _wind(debrief: Debrief, words: Words, key: str) -> str:
    mean = mean_wind(debrief.wind.profile, min(100.0, pattern_top(debrief))) if debrief.wind else None
    if mean is None:
        return escape(debrief.reasons.get("winds", "not known"))
    if key == "wind":
        return f"from {degrees(float(wind_from_deg(*mean)))} (mean of the lowest 100 m)"
    return words.speed((mean[0] ** 2 + mean[1] ** 2) ** 0.5)
