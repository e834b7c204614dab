"""The talk sheets of ``crabline season``: one on the screen, or one for everybody in a folder."""

from __future__ import annotations

from difflib import get_close_matches
from pathlib import Path

from analyser.cli.debrief import put, show
from analyser.errors import InputError
from analyser.logbook import Logbook
from analyser.season.summarise import Season

__all__ = ["number_of", "show_sheet", "write_sheet", "write_sheets"]


def number_of(season: Season, name: str) -> int:
    """The number of the jumper meant, from 1: the whole name, or a part of one name alone. Raises InputError."""
    names = [jumper.name or "" for jumper in season.jumpers]
    folded = name.casefold().strip()
    found = [i for i, n in enumerate(names, 1) if n.casefold() == folded] or [
        i for i, n in enumerate(names, 1) if folded and folded in n.casefold()
    ]
    if len(found) == 1:
        return found[0]
    if found:
        raise InputError("is the name of several", ", ".join(names[i - 1] for i in found[:5]), name)
    near = get_close_matches(name, [n for n in names if n], 1, 0.5)
    hint = f"did you mean {near[0]}?" if near else "crabline season lists everybody"
    raise InputError("nobody of that name in the logbook", hint, name)


def show_sheet(book: Logbook, season: Season, number: int, units: str, private: bool) -> None:
    """Print one sheet."""
    from analyser.report.story.season_parts import sheet_documents
    from analyser.report.story.talk import tell_talk
    from analyser.season.sheet import make_sheet

    sheet = make_sheet(book, season, number)
    show(tell_talk(sheet, sheet_documents(book, sheet, private=private), private=private), units)


def write_sheet(book: Logbook, season: Season, number: int, path: Path, units: str, private: bool) -> None:
    """Write one sheet as a page; it needs no script bundle."""
    from analyser.report.page.season_pages import render_talk

    put([(path, render_talk(book, season, number, units=units, private=private))], ())


def write_sheets(book: Logbook, season: Season, folder: Path, units: str, private: bool) -> None:
    """A sheet for everybody, written one after the other; those that stand and would not change are left."""
    from analyser.report.page.field_pages import talk_pages, write_pages

    write_pages(talk_pages(book, season, units=units, private=private), folder)
