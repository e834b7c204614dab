"""The pages of ``crabline season``: one page for a club, many for a field; the coach's pages that lead to them."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path, PurePath
from urllib.parse import quote

from analyser.cli.debrief import assets_beside, put
from analyser.logbook import Logbook
from analyser.report.story.season_parts import Link
from analyser.season.page_names import file_names, is_large, shares
from analyser.season.summarise import Season
from analyser.writing import STDOUT

__all__ = ["write_coach", "write_season"]

Way = Callable[[int], str]


def write_season(
    book: Logbook,
    season: Season,
    html: Path,
    units: str,
    private: bool,
    link: Link | None,
    assets: Path | None,
    run: str,
) -> None:
    """One page; of a large field a page that leads to those of the jumpers, in a folder beside it."""
    from analyser.report.page.field_pages import field_pages, first_page, write_pages
    from analyser.report.page.season_pages import render_season

    if html == STDOUT or not is_large(season):
        beside = assets_beside(html, assets)
        put([(html, render_season(book, season, units=units, private=private, link=link, assets=beside))], ())
        return
    folder = _folder(html)
    write_pages(field_pages(book, season, units=units, private=private, link=link), folder, bundle=True)
    made = first_page(season, quote(folder.name), units=units, private=private, run=run, stem=html.stem)
    put([(html.with_name(file) if file else html, text) for file, text in reversed(made)], ())


def write_coach(
    season: Season, coach: Path, units: str, private: bool, html: Path | None, sheets: Path | None
) -> None:
    """One page; of a large field one for those whose latest jump is of the latest year, and one for each year before."""
    from analyser.report.page.season_pages import render_coach

    names = file_names(season, "talk", private=private)
    to_sheet = None if sheets is None else _way(coach, sheets, private, lambda number: names[number - 1])
    beside = _season_way(season, coach, private, html)
    if coach == STDOUT or not is_large(season):
        text = render_coach(season, units=units, private=private, beside=beside, sheets=to_sheet)
        put([(coach, text)], ())
        return
    parts = shares(season, private=private)
    files = [
        coach,
        *(coach.with_name(f"{coach.stem}-{share.replace(' ', '-')}.html") for share, _ in parts[1:]),
    ]
    others = tuple(
        (f"Latest jump: {share}", quote(file.name)) for (share, _), file in zip(parts, files, strict=True)
    )
    for i, ((share, numbers), file) in reversed(list(enumerate(zip(parts, files, strict=True)))):
        text = render_coach(
            season,
            units=units,
            private=private,
            beside=beside,
            sheets=to_sheet,
            only=numbers,
            title=f"Talks, {share}" if len(parts) > 1 else "Talks",
            others=others[1:] if i == 0 else (),
        )
        put([(file, text)], ())


def _folder(html: Path) -> Path:
    return html.with_name(f"{html.stem}-jumpers")


def _season_way(season: Season, coach: Path, private: bool, html: Path | None) -> Way | None:
    """Where a name on the coach's page leads: the jumper's page or chapter."""
    if html is None or html == STDOUT:
        return None
    if is_large(season):
        names = file_names(season, "jumper", private=private)
        return _way(coach, _folder(html), private, lambda number: names[number - 1])
    way = _way(coach, html.parent, private, lambda number: html.name)
    return None if way is None else lambda number: f"{way(number)}#jumper-{number}"


def _way(page: Path, folder: Path, private: bool, name: Way) -> Way | None:
    """The address of files of a folder as a page has them; private pages lead to folders beside or below them alone."""
    if page == STDOUT:
        return None
    way = PurePath(os.path.relpath(folder.resolve(), page.resolve().parent))
    if private and (".." in way.parts or way.is_absolute()):
        return None
    return lambda number: quote((way / name(number)).as_posix())
