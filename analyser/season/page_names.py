"""File names of pages that are made for every jumper, and how a large field is divided: by the year of the latest jump."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Final

from analyser.season.cards import slug
from analyser.season.summarise import JumperSeason, Season

__all__ = ["MOST_JUMPERS", "MOST_JUMPS", "MOST_LINES", "file_names", "is_large", "shares"]

MOST_JUMPERS: Final = 60  # ours: with more, or with more jumps, one page is no page that anybody opens
MOST_JUMPS: Final = 1500
MOST_LINES: Final = 1000


def is_large(season: Season) -> bool:
    """Whether one page for the whole season would be too much."""
    return len(season.jumpers) > MOST_JUMPERS or season.jumps > MOST_JUMPS


def file_names(season: Season, lead: str, *, private: bool) -> list[str]:
    """A name for everybody's page, none twice; ``private``: numbers for names."""
    names: dict[str, None] = {}
    for number, jumper in enumerate(season.jumpers, 1):
        who = jumper.name if jumper.name is not None and not private else f"jumper {number}"
        name = f"{lead}-{slug(who)}.html"
        names[name if name not in names else f"{lead}-{slug(who)}-{number}.html"] = None
    return list(names)


def shares(season: Season, *, private: bool) -> list[tuple[str, list[int]]]:
    """The jumpers (by number) of each page of a large field, with its name: those of the latest year first; ``private``: by number alone."""
    years: dict[str, list[int]] = {}
    for number, jumper in enumerate(season.jumpers, 1):
        years.setdefault("" if private else _year(jumper), []).append(number)
    found = []
    for year in sorted(years, reverse=True):
        mine = years[year]
        for first in range(0, len(mine), MOST_LINES):
            part = f"part {first // MOST_LINES + 1}" if len(mine) > MOST_LINES else ""
            found.append((" ".join(filter(None, (year, part))), mine[first : first + MOST_LINES]))
    return found


def _year(jumper: JumperSeason) -> str:
    found = jumper.currency
    return "no jump" if found is None else str(datetime.fromtimestamp(found.last_s, UTC).year)
