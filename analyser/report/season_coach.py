"""The coach's page: all jumpers of a logbook, one line each, who needs which talk first; neutral words, no ranking of people."""

from __future__ import annotations

from analyser._version import __version__
from analyser.findings import CAUTIONS
from analyser.report.markup import bullets, chapter, table
from analyser.report.page.controls import units_choice
from analyser.report.page.shell import escape, page
from analyser.report.wording import Words
from analyser.season.questions import Question
from analyser.season.stats import JumperSeason, Season
from analyser.season.talks import GAP_DAYS, Talk, talks
from analyser.season.words import METHOD, day, say
from analyser.units import DisplaySystem

__all__ = ["render_coach"]

INTRO = (
    "Ordered by the metres that stand out from chance, so that the talks that may help most come first. It says nothing about "
    "skill or safety: fewer jumps, stronger wind and a harder field all show less. Ask first what the jumper remembers; begin "
    "with what went well."
)


def render_coach(season: Season, *, units: str = "uk", private: bool = False) -> str:
    """The page as text; ``private`` numbers the jumpers and leaves out dates and places."""
    words = Words(units)
    rows = [_line(talk, words, private) for talk in talks(season)]
    head = (
        "jumper",
        "jumps",
        "last jump",
        "longest gap",
        "half within",
        "spread along",
        "first talk",
        "what stands out",
    )
    parts = [
        chapter(
            1,
            "talks",
            "Who to talk with first, and about what",
            f"<p>{escape(INTRO)}</p>"
            + table("Jumpers, one line each", head, rows, words=frozenset({2, 3, 6, 7}), stacked=True),
        ),
        chapter(2, "method", "How this was found", f"<p>{escape(METHOD)}</p>"),
        chapter(3, "cautions", "Cautions", bullets(map(escape, CAUTIONS))),
    ]
    body = (
        '<a class="skip" href="#talks">Skip to the jumpers</a><div class="wrap"><header class="masthead">'
        f'<p class="kicker">For the coach, read on the ground</p><h1>Talks</h1><ul class="facts">'
        f"<li>Jumpers <b>{len(season.jumpers)}</b></li><li>Jumps <b>{season.jumps}</b></li></ul></header>"
        f'<div class="controls" role="group" aria-label="How to show">{units_choice(units)}</div>'
        f'<main>{"".join(parts)}</main><footer class="colophon"><p>Made by crabline {escape(__version__)}. '
        "This page asks nothing of the network.</p></footer></div>"
    )
    return page("Talks", body, units=units, styles=["season.css"])


def _line(talk: Talk, words: Words, private: bool) -> tuple[str, ...]:
    jumper = talk.jumper
    name = f"Jumper {talk.number}" if private else jumper.name or "Jumper not named"
    found = jumper.currency
    last = "–" if private or found is None else escape(day(found.last_s))
    gap = "–" if found is None else f"{found.longest_gap_days:.0f} days"
    if found is not None and found.longest_gap_days >= GAP_DAYS:
        gap = f"<b>{gap}</b>"
    latest = max(jumper.groups, key=lambda g: g.last_s, default=None)
    accuracy = latest.accuracy if latest else None
    return (
        escape(name),
        str(found.n if found else 0),
        last,
        gap,
        words.distance(accuracy.r50[0]) if accuracy else "–",
        words.distance(accuracy.along_sd) if accuracy else "–",
        escape(talk.topic) if talk.topic else "–",
        " ".join(_sentence(words, claim, private) for claim in _ordered(talk)) or _silence(jumper),
    )


def _ordered(talk: Talk) -> list[Question]:
    claims = list(talk.jumper.claims)
    return sorted(claims, key=lambda q: q is not talk.reason)


def _sentence(words: Words, claim: Question, private: bool) -> str:
    def text(display: DisplaySystem) -> str:
        told = say(claim, display, dates=not private)
        return f"{told[0].upper()}{told[1:]}."

    return words.said(text)


def _silence(jumper: JumperSeason) -> str:
    if any(group.accuracy for group in jumper.groups):
        return "Nothing beyond what chance brings."
    return "Too few jumps with a target to say anything."
