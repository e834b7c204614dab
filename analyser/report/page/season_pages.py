"""The pages of many jumps: the season's and the coach's."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import PurePath

from analyser.logbook import Logbook
from analyser.report.page.write import write_page
from analyser.report.story.coach import Sheets, tell_coach
from analyser.report.story.season import tell_season
from analyser.report.story.season_parts import Link, season_parts, sheet_documents
from analyser.report.story.talk import tell_talk
from analyser.season.sheet import make_sheet
from analyser.season.summarise import Season

__all__ = ["render_coach", "render_season", "render_talk"]


def render_season(
    logbook: Logbook,
    season: Season,
    *,
    units: str = "uk",
    private: bool = False,
    link: Link | None = None,
    assets: PurePath | None = None,
) -> str:
    """The page of a season as text.

    ``link`` gives the address of one jump's debrief from its content hash and number, "" for none; ``private`` leaves out
    names, dates, places and files (whoever links has to see to that of the pages); ``assets`` as for the debrief's page.
    """
    story = tell_season(season, season_parts(logbook, season, private=private, link=link), private=private)
    return write_page(story, units=units, scripts=["season.js"], styles=["season.css"], assets=assets)


def render_coach(
    season: Season,
    *,
    units: str = "uk",
    private: bool = False,
    beside: str | Sheets | None = None,
    sheets: Sheets | None = None,
    only: Iterable[int] | None = None,
    title: str = "Talks",
    others: tuple[tuple[str, str], ...] = (),
) -> str:
    """The coach's page as text; ``private`` numbers the jumpers and leaves out dates and places; the rest as for its story."""
    story = tell_coach(
        season, private=private, beside=beside or "", sheets=sheets, only=only, title=title, others=others
    )
    return write_page(story, units=units, styles=["season.css"])


def render_talk(
    logbook: Logbook,
    season: Season,
    number: int,
    *,
    units: str = "uk",
    private: bool = False,
    made_from: str = "",
) -> str:
    """The talk sheet of the jumper with this number as a page; it needs no script bundle. ``made_from``: a key of what it shows."""
    sheet = make_sheet(logbook, season, number)
    story = tell_talk(sheet, sheet_documents(logbook, sheet, private=private), private=private)
    return write_page(story, units=units, styles=["season.css"], made_from=made_from)
