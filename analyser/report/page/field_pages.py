"""The pages of a large field, made one after the other: a page for each jumper and year, and those that stand are left as they are."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path, PurePath
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser._version import __version__
from analyser.logbook import Logbook
from analyser.report.page.season_pages import render_talk
from analyser.report.page.shell import write_assets
from analyser.report.page.write import write_page
from analyser.report.pictures.season import Part
from analyser.report.plain import escape
from analyser.report.story.field import tell_field, tell_jumper, tell_jumps
from analyser.report.story.season_parts import Link, jumper_parts
from analyser.season.page_names import file_names, shares
from analyser.season.summarise import JumperSeason, Season
from analyser.writing import make_folder, write_text

__all__ = ["Made", "field_pages", "first_page", "standing", "talk_pages", "write_pages"]

MOST_DRAWN: Final = 400  # jumps of one jumper on one page; with more, every year has its own
HEAD_BYTES: Final = 4096


class Made(NamedTuple):
    """One page: file name, the key of all it is made from ("" = make it every time), and what makes it."""

    name: str
    key: str
    make: Callable[[], str]


def write_pages(pages: Iterable[Made], folder: Path, *, bundle: bool = False) -> int:
    """Write what does not stand yet into ``folder``, one page in memory at a time; how many were written. Raises OutputError."""
    make_folder(folder)
    if bundle:
        write_assets(folder)
    written = 0
    for page in pages:
        if not standing(folder / page.name, page.key):
            write_text(folder / page.name, page.make())
            written += 1
    return written


def standing(file: Path, key: str) -> bool:
    """Whether a page made from the same is there already."""
    try:
        with file.open("rb") as opened:
            head = opened.read(HEAD_BYTES)
    except OSError:
        return False
    return bool(key) and f'<meta name="made-from" content="{escape(key)}">'.encode() in head


def talk_pages(
    logbook: Logbook, season: Season, *, units: str = "uk", private: bool = False
) -> Iterator[Made]:
    """Everybody's talk sheet."""
    notes = logbook.talks()
    names = file_names(season, "talk", private=private)
    for number, (name, jumper) in enumerate(zip(names, season.jumpers, strict=True), 1):
        key = _key("talk", number if private else 0, jumper, units, private, notes.get(jumper.name or "", ()))
        yield Made(
            name,
            key,
            partial(render_talk, logbook, season, number, units=units, private=private, made_from=key),
        )


def field_pages(
    logbook: Logbook,
    season: Season,
    *,
    units: str = "uk",
    private: bool = False,
    link: Link | None = None,
) -> Iterator[Made]:
    """A page for every jumper, and for every year of those with many jumps; the folder holds their script bundle."""
    names = file_names(season, "jumper", private=private)
    for number, (name, jumper) in enumerate(zip(names, season.jumpers, strict=True), 1):
        key = "" if link is not None else _key("jumper", number, jumper, units, private, ())
        many = jumper.currency is not None and jumper.currency.n > MOST_DRAWN
        if not many:
            make = partial(_jumper_page, logbook, number, jumper, units, private, link, key, None, ())
            yield Made(name, key, make)
            continue
        labels = _labels(jumper, private, list(jumper_parts(logbook, jumper, private=private)))
        stem = PurePath(name).stem
        others = tuple((label, f"{stem}-{label.replace(' ', '-')}.html") for label, _, _ in labels[1:])
        for i, (label, low, high) in enumerate(labels):
            file = name if i == 0 else others[i - 1][1]
            to = others if i == 0 else None
            span = (label, low, high)
            yield Made(
                file, key, partial(_jumper_page, logbook, number, jumper, units, private, link, key, span, to)
            )


def first_page(
    season: Season,
    folder: str,
    *,
    units: str = "uk",
    private: bool = False,
    run: str = "",
    stem: str = "season",
) -> list[tuple[str, str]]:
    """The page that leads to all others, and one for each earlier year: file name ("" = the first one) and text.

    ``folder``: address of the folder with the jumpers' pages; ``stem``: of the first page's file name.
    """
    names = file_names(season, "jumper", private=private)
    parts = shares(season, private=private) or [("", [])]
    files = ["", *(f"{stem}-{share.replace(' ', '-')}.html" for share, _ in parts[1:])]
    others = tuple((share, file) for (share, _), file in zip(parts, files, strict=True))[1:]
    made = []
    for i, ((share, numbers), file) in enumerate(zip(parts, files, strict=True)):
        story = tell_field(
            season,
            numbers,
            lambda number: f"{folder}/{names[number - 1]}",
            share=share if len(parts) > 1 else "",
            others=others if i == 0 else (),
            run=run,
            private=private,
        )
        made.append((file, write_page(story, units=units, styles=["season.css"])))
    return made


def _jumper_page(
    logbook: Logbook,
    number: int,
    jumper: JumperSeason,
    units: str,
    private: bool,
    link: Link | None,
    key: str,
    span: tuple[str, int, int] | None,
    others: tuple[tuple[str, str], ...] | None,
) -> str:
    parts = list(jumper_parts(logbook, jumper, private=private, link=link))
    if span is not None:
        parts = list(_within(parts, span[1], span[2]))
    if others is None and span is not None:
        story = tell_jumps(number, jumper, parts, span[0], private=private)
    else:
        story = tell_jumper(number, jumper, parts, private=private, others=others or ())
    return write_page(
        story, units=units, scripts=["season.js"], styles=["season.css"], assets=PurePath(), made_from=key
    )


def _labels(jumper: JumperSeason, private: bool, parts: Sequence[Part]) -> list[tuple[str, int, int]]:
    """The pages of a jumper with many jumps, the latest first: label, first and last place in the order of landing."""
    order = sorted(
        (place, float(t)) for part in parts for place, t in zip(part.places, part.jumps.t_s, strict=True)
    )
    spans: dict[str, list[int]] = {}
    for place, t in order:
        year = str(datetime.fromtimestamp(t, UTC).year)
        block = (place - 1) // MOST_DRAWN * MOST_DRAWN
        label = f"jumps {block + 1} to {block + MOST_DRAWN}" if private else year
        spans.setdefault(label, []).append(place)
    return [(label, places[0], places[-1]) for label, places in reversed(spans.items())]


def _within(parts: Sequence[Part], low: int, high: int) -> Iterator[Part]:
    for part in parts:
        use: NDArray[np.bool_] = np.array([low <= place <= high for place in part.places], dtype=bool)
        kept = np.flatnonzero(use)
        if kept.size:
            yield replace(
                part,
                jumps=part.jumps.where(use),
                places=tuple(part.places[i] for i in kept),
                labels=tuple(part.labels[i] for i in kept),
                links=tuple(part.links[i] for i in kept),
            )


def _key(
    kind: str, number: int, jumper: JumperSeason, units: str, private: bool, notes: Sequence[object]
) -> str:
    """Of everything a page shows: figures as they are rounded there, what is said, the talks."""
    said = [(q.claimed, q.watched) for q in jumper.questions]
    drawn = [_rounded(g.shrunk) for g in jumper.groups] if kind == "jumper" else []
    shown = [__version__, kind, number, units, private, jumper.digest, said, drawn]
    text = json.dumps([*shown, [list(n) for n in notes]], default=str)  # type: ignore[call-overload]
    return hashlib.sha256(text.encode()).hexdigest()[:24]


def _rounded(found: tuple[float, float] | None) -> tuple[float, float] | None:
    return None if found is None else (round(found[0], 1), round(found[1], 1))
