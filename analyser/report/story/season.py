"""The story of a season: what stands out, then every jumper with figures and pictures; each jump may lead to its debrief."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import Any, Final

from analyser.findings import CAUTIONS
from analyser.report.pictures.season import Part, jumper_pictures
from analyser.report.story.blocks import (
    Aside,
    Block,
    Cell,
    Chapter,
    Line,
    Picture,
    Points,
    Remark,
    Sentence,
    Story,
    Table,
    joined,
    lines_of,
)
from analyser.report.story.foot import cautions, made_by
from analyser.report.story.season_tables import (
    canopy_table,
    causes_table,
    conditions_table,
    gates_table,
    jumps_table,
    progress_table,
    relation,
)
from analyser.season.figures import LEAST
from analyser.season.questions import Question
from analyser.season.summarise import JumperSeason, Season
from analyser.season.words import METHOD, METHOD_VALUES, day, worded
from analyser.sentences import Number

__all__ = [
    "after",
    "claimed",
    "failures",
    "jumper_chapter",
    "jumper_jumps",
    "method",
    "name_of",
    "overview",
    "season_facts",
    "silence",
    "tell_season",
    "watched",
]

KICKER: Final = "Landings of many jumps, read on the ground"
GAVE_NOTHING: Final = "Tracks that gave nothing"

MOST_JUMPERS: Final = 12  # pictures of more make a page nobody opens
MOST_FAILURES: Final = 50
WITNESS: Final = (
    "What cards ask for, counted from the tracks with their errors. It is no sign-off: the witness signs."
)

CAPTIONS: Final[dict[str, tuple[str, str, str]]] = {
    "landings": (
        "Landings about the target, into the wind upward",
        "Rings at 10, 20, 50 and 100 m. Ellipses hold half and 95 % of a scatter like this one.",
        "Every landing as seen from above with the target in the middle and the wind coming from the top. The numbers stand in the "
        "tables.",
    ),
    "over-time": (
        "Long or short, jump by jump",
        "The line is the median of the last ten jumps.",
        "Offset along the landing direction over time, with a running median. The numbers stand in the table of jumps.",
    ),
    "over-wind": (
        "Long or short by wind",
        "Wide bars: level of each wind band with ten jumps or more and its 95 % interval.",
        "Offset along the landing direction against wind speed, with the level of each wind band. The numbers stand in the tables.",
    ),
    "gates": (
        "Height of the turns against the plan",
        "Zero is the planned height.",
        "Height of each turn minus the planned height over time. The numbers stand in the table of turn heights.",
    ),
    "causes": (
        "Where the metres came from, jump by jump",
        "Bars add up to the offset along. Of many jumps, neighbours are averaged.",
        "Stacked signed bars, one for each cause of the offset along. The shares stand in the tables.",
    ),
    "turn-height": (
        "Height of the turn to final and the miss",
        "Solid: robust line through the jumps. Dashed: what glide and wind predict.",
        "Offset along against the height error of the turn to final, with the fitted and the predicted slope.",
    ),
}


def tell_season(
    season: Season,
    parts: Sequence[Sequence[Part]],
    *,
    run: str = "",
    private: bool = False,
    most_jumps: int | None = None,
) -> Story:
    """The story of a season. ``parts``: the canopies of every jumper in order; ``run`` what the last run did; ``private`` leaves out
    names, dates, places and files; ``most_jumps`` the jumps listed of each jumper, the latest (None: all)."""
    jumpers = list(enumerate(season.jumpers, 1))
    told = zip(jumpers, parts, strict=True)
    chapters = [jumper_chapter(n, j, list(p), private, most_jumps) for (n, j), p in told]
    chapters[MOST_JUMPERS:] = [replace(chapter, pictures=()) for chapter in chapters[MOST_JUMPERS:]]
    return Story(
        title="Season",
        kicker=KICKER,
        heading="Season",
        facts=season_facts(season, run, private),
        chapters=(
            Chapter("overview", "What stands out", (overview(season, private),)),
            *chapters,
            *_loads(season),
            Chapter("failures", GAVE_NOTHING, failures(season, private)),
            method(),
            Chapter("cautions", "Cautions", cautions(CAUTIONS)),
        ),
        foot=made_by(),
        command="crabline season",
    )


def _loads(season: Season) -> tuple[Chapter, ...]:
    """Whether the winds of one load agree, where there is a load."""
    found = season.loads
    if found is None or found.share is None:
        return ()
    told = Sentence(
        (
            "{jumps} jumps of {loads}: of {pairs} pairs of winds found alone, {share} agree within the 95 % error. "
            "Near 95 % the stated errors of the winds are right; much less, and they are too small."
        ),
        {
            "jumps": str(found.jumps),
            "loads": "one load" if found.loads == 1 else f"{found.loads} loads",
            "pairs": str(found.pairs),
            "share": Number("percent", found.share),
        },
    )
    return (Chapter("loads", "Do the winds of one load agree?", (Line(told),)),)


def method() -> Chapter:
    """How habits are told from chance."""
    return Chapter("method", "How this was found", (Line(Sentence(METHOD, METHOD_VALUES)),))


def name_of(number: int, jumper: JumperSeason, private: bool) -> str:
    """A jumper as the report calls them."""
    return f"Jumper {number}" if private else jumper.name or "Jumper not named"


def claimed(claim: Question, private: bool) -> Sentence:
    """What may be said, as a sentence."""
    template, values = worded(claim, dates=not private)
    if template.startswith("{"):
        key = template[1 : template.index("}")]
        first = str(values[key])
        return Sentence(template + ".", values | {key: first[:1].upper() + first[1:]})
    return Sentence(template[0].upper() + template[1:] + ".", values)


def watched(claim: Question, private: bool) -> Sentence:
    """What is worth watching, with the words that it may be chance."""
    return after("Worth watching, may be chance: ", claim, private)


def after(words: str, claim: Question, private: bool) -> Sentence:
    """What may be said, behind the words that begin the sentence."""
    template, values = worded(claim, dates=not private)
    return Sentence(f"{words}{template}.", values)


def silence(jumper: JumperSeason) -> Sentence:
    """Why nothing is said."""
    if any(group.mixed for group in jumper.groups):
        return Sentence(
            "The trims are those of several canopies. Name the canopy of each jump in logbook.toml: wings are never put together."
        )
    if any(group.accuracy for group in jumper.groups):
        return Sentence("No habit is clear enough to tell from chance.")
    return Sentence(
        "Fewer than {least} jumps with a target under one canopy: too few to say anything.",
        {"least": str(LEAST)},
    )


def season_facts(season: Season, run: str, private: bool) -> tuple[tuple[str, Cell], ...]:
    """How many, by whom, from when to when, and what the last run did."""
    times = [t for j in season.jumpers if j.currency for t in (j.currency.first_s, j.currency.last_s)]
    dates = f"{day(min(times))} to {day(max(times))}" if times and not private else ""
    rows = [
        ("Jumps", str(season.jumps)),
        ("Jumpers", str(len(season.jumpers))),
        ("From", dates),
        ("Run", run),
    ]
    return tuple(row for row in rows if row[1])


def overview(
    season: Season,
    private: bool,
    numbers: Sequence[int] | None = None,
    link: Callable[[int], str] | None = None,
) -> Table:
    """A line for each jumper, or for those with these ``numbers``; names lead to their chapter, or to ``link``."""
    rows = []
    for number in range(1, len(season.jumpers) + 1) if numbers is None else numbers:
        jumper = season.jumpers[number - 1]
        address = f"#jumper-{number}" if link is None else link(number)
        who = Sentence("{name}", {"name": name_of(number, jumper, private)}, address)
        told = [claimed(claim, private) for claim in jumper.claims] or [silence(jumper)]
        told += [watched(one, private) for one in jumper.watched]
        rows.append((who, str(jumper.currency.n if jumper.currency else 0), joined(told)))
    return Table("Jumpers", ("jumper", "jumps", "what stands out"), tuple(rows), words=frozenset({2}))


def jumper_chapter(
    number: int, jumper: JumperSeason, parts: list[Part], private: bool, most: int | None
) -> Chapter:
    """One jumper: what is said, the figures, pictures and all jumps, or the latest ``most``."""
    parts = sorted(parts, key=lambda p: p.places[0])
    said = tuple(claimed(claim, private) for claim in jumper.claims)
    blocks: tuple[Block, ...] = lines_of(
        Points(said) if said else Line(silence(jumper), "lead"),
        Points(tuple(watched(one, private) for one in jumper.watched)) if jumper.watched else None,
        _currency(jumper, private),
        *(Line(Remark(f"{left.count} left out: {left.reason}"), "missing") for left in jumper.left_out),
        canopy_table(parts),
        *(block for part in parts for block in _part(part, private)),
        Aside(
            (Line(Sentence(WITNESS)), *(progress_table(part, private) for part in parts)),
            "Progress, canopy by canopy",
        )
        if parts
        else None,
        *_jumps(parts, most),
    )
    name = name_of(number, jumper, private)
    return Chapter(f"jumper-{number}", name, blocks, _pictures(number, name, parts, private))


def jumper_jumps(number: int, name: str, parts: list[Part], private: bool) -> Chapter:
    """Pictures and list of some jumps, without figures."""
    parts = sorted(parts, key=lambda p: p.places[0])
    return Chapter(f"jumper-{number}", name, _jumps(parts, None), _pictures(number, name, parts, private))


def _pictures(number: int, name: str, parts: list[Part], private: bool) -> tuple[Picture, ...]:
    made: dict[str, Any] = {}

    def draw(key: str) -> dict[str, Any] | None:
        if not made:
            made.update(jumper_pictures(parts, dates=not private))
        return made.get(key)

    return tuple(
        Picture(f"{key}-{number}", title, text, f"{name}. {alternative}", partial(draw, key))
        for key, (title, text, alternative) in CAPTIONS.items()
    )


def _currency(jumper: JumperSeason, private: bool) -> Line | None:
    found = jumper.currency
    if found is None:
        return Line(Remark("no jump that counts"), "missing")
    months = ", ".join(f"{month}: {n}" for month, n in found.per_month.items())
    when = "" if private else f" Jumps per month: {months}."
    plural = "" if found.n == 1 else "s"
    text = f"{found.n} jump{plural}; longest gap {found.longest_gap_days:.0f} days.{when}"
    return Line(Sentence("{text}", {"text": text}), "quiet")


def _part(part: Part, private: bool) -> tuple[Block, ...]:
    return lines_of(conditions_table(part, private), gates_table(part), causes_table(part), relation(part))


def _jumps(parts: list[Part], most: int | None) -> tuple[Block, ...]:
    table, left = jumps_table(parts, most)
    if not table.rows:
        return ()
    more = (
        Line(Sentence("{n} earlier jumps are not listed; the CSV file holds all.", {"n": str(left)}), "quiet")
        if left
        else None
    )
    return (Aside(lines_of(table, more), "All jumps", kept=True),)


def failures(season: Season, private: bool) -> tuple[Block, ...]:
    """The tracks that gave nothing, with their reasons."""
    failed = season.failures
    if not failed:
        return (Line(Sentence("None.")),)
    if private:
        return (Line(Sentence("{n} tracks.", {"n": str(len(failed))})),)
    rest = len(failed) - MOST_FAILURES
    shown = tuple(
        Sentence("{path}: {reason}", {"path": f.path, "reason": f.reason}) for f in failed[:MOST_FAILURES]
    )
    more = Line(Sentence("and {n} more; the JSON file lists all", {"n": str(rest)})) if rest > 0 else None
    return lines_of(Points(shown), more)
