"""A large field on many pages: the first one with a line for everybody of the year, and a page for each jumper."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from analyser.findings import CAUTIONS
from analyser.report.pictures.season import Part
from analyser.report.story.blocks import Chapter, Line, Sentence, Story
from analyser.report.story.foot import cautions, made_by
from analyser.report.story.season import (
    GAVE_NOTHING,
    KICKER,
    failures,
    jumper_chapter,
    jumper_jumps,
    method,
    name_of,
    overview,
    season_facts,
)
from analyser.season.summarise import JumperSeason, Season

__all__ = ["tell_field", "tell_jumper", "tell_jumps"]

Links = tuple[tuple[str, str], ...]
"""Name and address of other pages."""


def tell_field(
    season: Season,
    numbers: Sequence[int],
    link: Callable[[int], str],
    *,
    share: str = "",
    others: Links = (),
    run: str = "",
    private: bool = False,
) -> Story:
    """One line for each of these jumpers, leading to their page; ``share`` names the part of the field, ``others`` the rest."""
    title = f"Season, {share}" if share else "Season"
    lines = tuple(Line(Sentence(f"Latest jump: {name}", {}, address)) for name, address in others)
    return Story(
        title=title,
        kicker=KICKER,
        heading=title,
        facts=season_facts(season, run, private),
        chapters=(
            Chapter("overview", "What stands out", (*lines, overview(season, private, numbers, link))),
            Chapter("failures", GAVE_NOTHING, failures(season, private)),
            method(),
            Chapter("cautions", "Cautions", cautions(CAUTIONS)),
        ),
        foot=made_by(),
        command="crabline season",
    )


def tell_jumper(
    number: int,
    jumper: JumperSeason,
    parts: Sequence[Part],
    *,
    private: bool = False,
    others: Links = (),
) -> Story:
    """One jumper with the figures of all jumps; ``parts`` may hold the latest jumps alone, ``others`` lead to the earlier ones."""
    name = name_of(number, jumper, private)
    earlier = tuple(Line(Sentence(f"Jumps: {label}", {}, address)) for label, address in others)
    chapter = jumper_chapter(number, jumper, list(parts), private, None)
    return Story(
        title=name,
        kicker=KICKER,
        heading=name,
        chapters=(
            chapter,
            *((Chapter("earlier", "Earlier jumps", earlier),) if earlier else ()),
            method(),
            Chapter("cautions", "Cautions", cautions(CAUTIONS)),
        ),
        foot=made_by(),
        command="crabline season",
    )


def tell_jumps(
    number: int, jumper: JumperSeason, parts: Sequence[Part], label: str, *, private: bool = False
) -> Story:
    """The pictures and the list of some of a jumper's jumps."""
    name = f"{name_of(number, jumper, private)}, {label}"
    return Story(
        title=name,
        kicker=KICKER,
        heading=name,
        chapters=(
            jumper_jumps(number, name, list(parts), private),
            Chapter("cautions", "Cautions", cautions(CAUTIONS)),
        ),
        foot=made_by(),
        command="crabline season",
    )
