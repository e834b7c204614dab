"""The coach's story: all jumpers of a logbook, one line each, who needs which talk first; neutral words, no ranking of people."""

from __future__ import annotations

from analyser.findings import CAUTIONS
from analyser.report.story.blocks import Cell, Chapter, Line, Sentence, Story, Table, distance, joined, say
from analyser.report.story.foot import made_by
from analyser.report.story.jump import cautions
from analyser.report.story.season import claimed, method, name_of, silence
from analyser.season.stats import Season
from analyser.season.talks import GAP_DAYS, Talk, talks
from analyser.season.words import day
from analyser.sentences import Number

__all__ = ["tell_coach"]

INTRO = (
    "Ordered by the metres that stand out from chance, so that the talks that may help most come first. It says nothing about "
    "skill or safety: fewer jumps, stronger wind and a harder field all show less. Ask first what the jumper remembers. Begin "
    "with what went well."
)
HEAD = (
    "jumper",
    "jumps",
    "last jump",
    "longest gap",
    "half within",
    "spread along",
    "first talk",
    "what stands out",
)


def tell_coach(season: Season, *, private: bool = False, beside: str = "") -> Story:
    """The story; ``private`` numbers the jumpers and leaves out dates and places; ``beside``: address of the season's page, to which names lead."""
    rows = tuple(_line(talk, private, beside) for talk in talks(season))
    table = Table("Jumpers, one line each", HEAD, rows, words=frozenset({2, 3, 6, 7}), stacked=True)
    return Story(
        title="Talks",
        kicker="For the coach, read on the ground",
        heading="Talks",
        facts=(("Jumpers", str(len(season.jumpers))), ("Jumps", str(season.jumps))),
        chapters=(
            Chapter("talks", "Who to talk with first, and about what", (Line(say(INTRO)), table)),
            method(),
            Chapter("cautions", "Cautions", cautions(CAUTIONS)),
        ),
        foot=made_by(),
        command="crabline season",
    )


def _line(talk: Talk, private: bool, beside: str) -> tuple[Cell, ...]:
    jumper, found = talk.jumper, talk.jumper.currency
    latest = max(jumper.groups, key=lambda g: g.last_s, default=None)
    accuracy = latest.accuracy if latest else None
    return (
        Sentence(
            "{name}",
            {"name": name_of(talk.number, jumper, private)},
            f"{beside}#jumper-{talk.number}" if beside else "",
        ),
        str(found.n if found else 0),
        "–" if private or found is None else day(found.last_s),
        _gap(found.longest_gap_days if found else None),
        distance(accuracy.r50[0] if accuracy else None),
        distance(accuracy.along_sd if accuracy else None),
        talk.topic or "–",
        _said(talk, private),
    )


def _gap(days: float | None) -> Cell:
    gap = Number("days", days)
    return say("{gap} (long)", gap=gap) if days is not None and days >= GAP_DAYS else gap


def _said(talk: Talk, private: bool) -> Sentence:
    claims = sorted(talk.jumper.claims, key=lambda q: q is not talk.reason)
    return joined(claimed(claim, private) for claim in claims) if claims else silence(talk.jumper)
