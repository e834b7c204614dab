"""What may be said of a group of jumps, as neutral sentences in the reader's units."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Final

from analyser.season.questions import HEIGHT_MARGIN_M, OFFSET_MARGIN_M, Question
from analyser.sentences import Number, fill
from analyser.units import DisplaySystem

__all__ = ["METHOD", "METHOD_VALUES", "day", "say", "subject", "worded"]

METHOD: Final = (
    "± is half of the 95 % interval. Open is a jump where the error leaves it open whether it was so. Nothing is said below ten jumps. Many questions are asked, so each must be answered very "
    "clearly (Holm's rule): the chance that even one statement here is pure luck is at most 5 %. What is called worth watching is less sure: about a "
    "fifth of it may be chance (Benjamini and Hochberg's rule, one jumper at a time). A level nearer to the target "
    "than {level} is not called a habit, nor a turn height nearer to the plan than {turn}: it may be the receiver. Canopies are never "
    "pooled."
)
_FINE_M = 1.5  # shown as fine as what is known so well, without a ±
METHOD_VALUES: Final[dict[str, Number | float | str | None]] = {
    "level": Number("distance", OFFSET_MARGIN_M),
    "turn": Number("height", HEIGHT_MARGIN_M, _FINE_M, bare=True),
}

_ONTO = {
    "crosswind": "onto crosswind",
    "downwind": "onto downwind",
    "base": "to base",
    "final": "to final",
}


Values = dict[str, Number | float | str | None]


def say(question: Question, display: DisplaySystem, *, dates: bool = True) -> str:
    """One sentence (without a full stop) about a question that may be answered; ``dates`` False counts jumps instead."""
    return fill(*worded(question, dates=dates), display)


def worded(question: Question, *, dates: bool = True) -> tuple[str, Values]:
    """The sentence as a template and its values (see :func:`analyser.sentences.pieces`)."""
    template, kind, ways = _SENTENCES[question.code]
    e, half = question.evidence, (question.high - question.low) / 2.0
    across = question.code == "hand" and e["axis"] != "along"
    ways = ("further right", "further left") if across else ways
    values: Values = {
        "size": Number(kind, abs(question.value), half),
        "way": ways[0] if question.value > 0 else ways[1],
        "n": str(question.n),
        **{key: str(int(float(e[key]))) for key in _COUNTS if key in e},
        **{key: Number(kind, float(e[key])) for key, kind in _NUMBERS.items() if key in e},
    }
    values |= _named(question, dates)
    return template, values


def _named(question: Question, dates: bool) -> Values:
    """What a sentence names: gates, days, sites, canopies."""
    e = question.evidence
    named: Values = {}
    if "gate" in e:
        named["onto"] = _ONTO[str(e["gate"])]
    if "since_s" in e:
        first = int(float(e["n_before"])) + 1
        named["since"] = (
            f"since {day(float(e['since_s']))}" if dates else f"since jump {first} of {question.n}"
        )
    if question.code == "site":
        named["place"] = f"at {e['site']}" if dates else "at one site"
    if question.code == "canopy":
        pair = (str(e["second"]), str(e["first"])) if dates else ("the later canopy", "the one before")
        named |= {"later": pair[0], "before": pair[1]}
    return named


def subject(question: Question) -> str:
    """What a sentence is about, in two or three words."""
    if question.code == "turn height":
        return f"height of the turn {_ONTO[str(question.evidence['gate'])]}"
    return _SUBJECTS[question.code]


_SUBJECTS = {
    "bias along": "long or short",
    "bias across": "left or right",
    "change": "a change with time",
    "distance": "distance from the target",
    "steadiness": "scatter of the turn heights",
    "together": "landings and turn heights",
    "wind": "landing in more wind",
    "wind cause": "wind other than planned for",
    "hand": "left and right patterns",
    "site": "one site and the others",
    "trim": "trim of the canopy",
    "canopy": "two canopies",
}


def day(seconds: float) -> str:
    """``14 June 2031`` (UTC), in English whatever the locale."""
    months = [
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ]
    when = datetime.fromtimestamp(seconds, UTC)
    return f"{when.day} {months[when.month - 1]} {when.year}"


_COUNTS = ("n_before", "n_after", "n_strong")
_NUMBERS = {
    "first_r50_m": "distance",
    "last_r50_m": "distance",
    "first_m": "height",
    "last_m": "height",
    "edge_mps": "speed",
}
_LONG, _GREW = ("longer", "shorter"), ("grew", "shrank")
_SENTENCES: dict[str, tuple[str, str, tuple[str, str]]] = {
    "bias along": (
        "lands {size} {way} of the target on the whole ({n} jumps)",
        "distance",
        ("long", "short"),
    ),
    "bias across": (
        "lands {size} {way} of the target on the whole ({n} jumps)",
        "distance",
        ("right", "left"),
    ),
    "turn height": ("turns {onto} {size} {way} than planned ({n} jumps)", "height", ("higher", "lower")),
    "change": (
        "{since} lands {size} {way} than before ({n_before} jumps before, {n_after} since)",
        "distance",
        _LONG,
    ),
    "distance": (
        "half of the landings lie within {last_r50_m} of the target now, {first_r50_m} at first: the distance {way} ({n} jumps)",
        "distance",
        _GREW,
    ),
    "steadiness": (
        "turn heights scatter by {last_m} about their own level now, {first_m} at first: the scatter {way} ({n} jumps)",
        "height",
        _GREW,
    ),
    "together": (
        "landings and turn heights taken together scatter {way} than at first: half of the landings lie within {last_r50_m} of the "
        "target now, {first_r50_m} at first; turn heights scatter by {last_m} now, {first_m} at first ({n} jumps)",
        "distance",
        ("more", "less"),
    ),
    "wind": (
        "in {edge_mps} of wind and more lands {size} {way} than in less ({n_strong} of {n} jumps)",
        "distance",
        _LONG,
    ),
    "wind cause": (
        "in {edge_mps} of wind and more, wind other than planned for makes the landing {size} {way} than in less "
        "({n_strong} of {n} jumps)",
        "distance",
        _LONG,
    ),
    "hand": ("right-hand patterns end {size} {way} than left-hand ones ({n} jumps)", "distance", _LONG),
    "site": ("{place} lands {size} {way} than elsewhere ({n} jumps)", "distance", _LONG),
    "trim": (
        "{since} the canopy flies {size} {way} at trim: another canopy, weight or brake setting? The jumps before and after are "
        "kept apart",
        "speed",
        ("faster", "slower"),
    ),
    "canopy": ("with {later} lands {size} {way} than with {before} ({n} jumps)", "distance", _LONG),
}
