"""The coach's story: all jumpers of a logbook, one line each, with what a talk may be about; neutral words, no order by merit."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from analyser.findings import CAUTIONS
from analyser.report.story.blocks import Cell, Chapter, Line, Sentence, Story, Table, distance, joined
from analyser.report.story.counted import of_text, share_of, under
from analyser.report.story.foot import cautions, made_by
from analyser.report.story.season import claimed, method, name_of, silence, watched
from analyser.report.story.talk_facts import latest_line
from analyser.season.facts import Facts, Trend, went_well
from analyser.season.summarise import JumperSeason, Season
from analyser.season.talks import GAP_DAYS, Talk, talks
from analyser.season.words import day
from analyser.sentences import Number

__all__ = ["Sheets", "tell_coach"]

Sheets = Callable[[int], str]
"""Number of a jumper -> the address of the talk sheet, "" for none."""

INTRO = (
    "In the order of the latest jump, the latest first. Nothing here says anything about skill or safety: fewer jumps, stronger "
    "wind and a harder field all show less. Ask first what the jumper remembers. Begin with what went well."
)
HEAD = (
    "jumper",
    "jumps",
    "last jump",
    "longest gap",
    "latest jump",
    "half within",
    "went well",
    "cautions",
    "a talk about",
    "what stands out",
)


def tell_coach(
    season: Season,
    *,
    private: bool = False,
    beside: str | Sheets = "",
    sheets: Sheets | None = None,
    only: Iterable[int] | None = None,
    title: str = "Talks",
    others: tuple[tuple[str, str], ...] = (),
) -> Story:
    """The story; ``private`` numbers the jumpers and leaves out dates and places; ``beside``: address of the season's page, or of each
    jumper's, to which names lead; ``sheets``: where the talk sheets are; ``only`` these jumpers (None: all); ``others``: name and address
    of the pages that hold the rest."""
    wanted = None if only is None else set(only)
    lines = [talk for talk in talks(season) if wanted is None or talk.number in wanted]
    rows = tuple(_line(talk, private, beside, sheets) for talk in lines)
    words = frozenset(i for i, name in enumerate(HEAD) if name not in ("jumps", "longest gap"))
    table = Table("Jumpers, one line each", HEAD, rows, words=words, stacked=True)
    more = tuple(Line(Sentence(name, {}, link)) for name, link in others)
    jumps = sum(t.jumper.currency.n for t in lines if t.jumper.currency)
    return Story(
        title=title,
        kicker="For the coach, read on the ground",
        heading=title,
        facts=(("Jumpers", str(len(lines))), ("Jumps", str(jumps))),
        chapters=(
            Chapter("talks", "What to talk about with whom", (Line(Sentence(INTRO)), *more, table)),
            method(),
            Chapter("cautions", "Cautions", cautions(CAUTIONS)),
        ),
        foot=made_by(),
        command="crabline season",
    )


def _line(talk: Talk, private: bool, beside: str | Sheets, sheets: Sheets | None) -> tuple[Cell, ...]:
    jumper, found = talk.jumper, talk.jumper.currency
    page = (
        (f"{beside}#jumper-{talk.number}" if beside else "")
        if isinstance(beside, str)
        else beside(talk.number)
    )
    sheet = sheets(talk.number) if sheets is not None else ""
    return (
        Sentence("{name}", {"name": name_of(talk.number, jumper, private)}, page),
        str(found.n if found else 0),
        "–" if private or found is None else day(found.last_s),
        _gap(found.longest_gap_days if found else None),
        latest_line(jumper.latest, private, short=True) if jumper.latest is not None else "–",
        _trend(jumper.trend, jumper.facts),
        _under(jumper, private, _well(jumper.facts)),
        _under(jumper, private, _cautions(jumper.facts)),
        Sentence("{topic}", {"topic": talk.topic or ("talk sheet" if sheet else "–")}, sheet),
        _said(talk, private),
    )


def _gap(days: float | None) -> Cell:
    gap = Number("days", days)
    return Sentence("{gap} (long)", {"gap": gap}) if days is not None and days >= GAP_DAYS else gap


def _trend(found: Trend | None, counted: Facts | None) -> Cell:
    """The latest jumps beside as many before; of few jumps the middle one alone."""
    if found is None:
        return distance(counted.r50_m if counted else None)
    return Sentence(
        "{latest} (latest {n}), {before} (the {n} before)",
        {"latest": distance(found.latest_m), "before": distance(found.before_m), "n": str(found.n)},
    )


def _under(jumper: JumperSeason, private: bool, counts: Cell) -> Cell:
    """Of several canopies that of the latest jump alone is counted."""
    names = list(dict.fromkeys(group.canopy for group in jumper.groups))
    if len(names) < 2 or jumper.latest is None or counts == "–" or isinstance(counts, Number):
        return counts
    now = jumper.latest.canopy
    lead = Sentence("{under}", {"under": under(now, names.index(now) + 1, private)})
    return joined(
        [lead, counts if isinstance(counts, Sentence) else Sentence("{counts}", {"counts": counts})]
    )


def _well(found: Facts | None) -> Cell:
    best = went_well(found) if found else []
    return joined(share_of(count) for count in best[:2]) if best else "–"


def _cautions(found: Facts | None) -> Cell:
    met = [c for c in found.cautions if c.met] if found else []
    return ", ".join(f"{c.name} {of_text(c)}" for c in met) if met else "none"


def _said(talk: Talk, private: bool) -> Sentence:
    first = talk.habit.question if talk.habit is not None else None
    claims = sorted(talk.jumper.claims, key=lambda q: q is not first)
    seen = sorted(talk.jumper.watched, key=lambda q: q is not first)
    said = [claimed(claim, private) for claim in claims] or [silence(talk.jumper)]
    return joined([*said, *(watched(one, private) for one in seen)])
