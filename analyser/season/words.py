"""What may be said of a group of jumps, as neutral sentences in the reader's units."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

from analyser.season.questions import Question
from analyser.units import DisplaySystem, Unit

__all__ = ["METHOD", "day", "say", "subject"]

METHOD = (
    "± is half of the 95 % interval. Nothing is said below ten jumps. All questions put to all jumpers are held together by "
    "Holm's rule: the chance that even one sentence about a habit is due to luck alone is at most 5 %. A level nearer to the "
    "target than 8 m, or a turn height nearer to the plan than 15 ft, is not called a habit: it may be the receiver. Canopies "
    "are never pooled."
)

_ONTO = {
    "crosswind": "onto crosswind",
    "downwind": "onto downwind",
    "base": "to base",
    "final": "to final",
}


def say(question: Question, display: DisplaySystem, *, dates: bool = True) -> str:
    """One sentence (without a full stop) about a question that may be answered; ``dates`` False counts jumps instead."""
    return _SENTENCES[question.code](question, display, dates)


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


def _size(question: Question, unit: Unit) -> str:
    """The size of the value with half its interval, without sign, rounded by it."""
    return unit.text(abs(question.value), (question.high - question.low) / 2.0)


def _more(question: Question, positive: str, negative: str) -> str:
    return positive if question.value > 0 else negative


def _bias_along(q: Question, d: DisplaySystem, dates: bool) -> str:
    return (
        f"lands {_size(q, d.distance)} {_more(q, 'long', 'short')} of the target on the whole ({q.n} jumps)"
    )


def _bias_across(q: Question, d: DisplaySystem, dates: bool) -> str:
    return (
        f"lands {_size(q, d.distance)} {_more(q, 'right', 'left')} of the target on the whole ({q.n} jumps)"
    )


def _turn_height(q: Question, d: DisplaySystem, dates: bool) -> str:
    gate = _ONTO[str(q.evidence["gate"])]
    return f"turns {gate} {_size(q, d.height)} {_more(q, 'higher', 'lower')} than planned ({q.n} jumps)"


def _since(q: Question, dates: bool) -> str:
    before = int(float(q.evidence["n_before"]))
    return f"since {day(float(q.evidence['since_s']))}" if dates else f"since jump {before + 1} of {q.n}"


def _change(q: Question, d: DisplaySystem, dates: bool) -> str:
    before, after = int(float(q.evidence["n_before"])), int(float(q.evidence["n_after"]))
    how = _more(q, "longer", "shorter")
    return f"{_since(q, dates)} lands {_size(q, d.distance)} {how} than before ({before} jumps before, {after} since)"


def _distance(q: Question, d: DisplaySystem, dates: bool) -> str:
    first, last = (d.distance.text(float(q.evidence[k])) for k in ("first_r50_m", "last_r50_m"))
    how = _more(q, "grew", "shrank")
    return f"half of the landings lie within {last} of the target now, {first} at first: the distance {how} ({q.n} jumps)"


def _steadiness(q: Question, d: DisplaySystem, dates: bool) -> str:
    first, last = (d.height.text(float(q.evidence[k])) for k in ("first_m", "last_m"))
    how = _more(q, "grew", "shrank")
    return f"turn heights scatter by {last} about their own level now, {first} at first: the scatter {how} ({q.n} jumps)"


def _together(q: Question, d: DisplaySystem, dates: bool) -> str:
    near = [d.distance.text(float(q.evidence[k])) for k in ("last_r50_m", "first_r50_m")]
    scatter = [d.height.text(float(q.evidence[k])) for k in ("last_m", "first_m")]
    return (
        f"landings and turn heights taken together scatter {_more(q, 'more', 'less')} than at first: half of the landings lie within "
        f"{near[0]} of the target now, {near[1]} at first; turn heights scatter by {scatter[0]} now, {scatter[1]} at first ({q.n} jumps)"
    )


def _wind(q: Question, d: DisplaySystem, dates: bool) -> str:
    edge, strong = d.speed.text(float(q.evidence["edge_mps"])), int(float(q.evidence["n_strong"]))
    how = _more(q, "longer", "shorter")
    return f"in {edge} of wind and more lands {_size(q, d.distance)} {how} than in less ({strong} of {q.n} jumps)"


def _wind_cause(q: Question, d: DisplaySystem, dates: bool) -> str:
    edge, strong = d.speed.text(float(q.evidence["edge_mps"])), int(float(q.evidence["n_strong"]))
    how = _more(q, "longer", "shorter")
    return (
        f"in {edge} of wind and more, wind other than planned for makes the landing {_size(q, d.distance)} {how} "
        f"than in less ({strong} of {q.n} jumps)"
    )


def _hand(q: Question, d: DisplaySystem, dates: bool) -> str:
    ways = ("longer", "shorter") if q.evidence["axis"] == "along" else ("further right", "further left")
    return (
        f"right-hand patterns end {_size(q, d.distance)} {_more(q, *ways)} than left-hand ones ({q.n} jumps)"
    )


def _site(q: Question, d: DisplaySystem, dates: bool) -> str:
    place = f"at {q.evidence['site']}" if dates else "at one site"
    return (
        f"{place} lands {_size(q, d.distance)} {_more(q, 'longer', 'shorter')} than elsewhere ({q.n} jumps)"
    )


def _trim(q: Question, d: DisplaySystem, dates: bool) -> str:
    how = _more(q, "faster", "slower")
    return (
        f"{_since(q, dates)} the canopy flies {_size(q, d.speed)} {how} at trim: another canopy, weight or brake setting? "
        "The jumps before and after are kept apart"
    )


def _canopy(q: Question, d: DisplaySystem, dates: bool) -> str:
    pair = (
        (str(q.evidence["second"]), str(q.evidence["first"]))
        if dates
        else ("the later canopy", "the one before")
    )
    how = _more(q, "longer", "shorter")
    return f"with {pair[0]} lands {_size(q, d.distance)} {how} than with {pair[1]} ({q.n} jumps)"


_SENTENCES: dict[str, Callable[[Question, DisplaySystem, bool], str]] = {
    "bias along": _bias_along,
    "bias across": _bias_across,
    "turn height": _turn_height,
    "change": _change,
    "distance": _distance,
    "steadiness": _steadiness,
    "together": _together,
    "wind": _wind,
    "wind cause": _wind_cause,
    "hand": _hand,
    "site": _site,
    "trim": _trim,
    "canopy": _canopy,
}
