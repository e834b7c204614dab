"""What ``crabline season`` does once the words are parsed."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Final
from urllib.parse import quote

from analyser.batch.run import LOGBOOK_NAME, SeasonResult, run_season
from analyser.batch.update import Pages, Progress
from analyser.cli.debrief import check_outputs, one_on_stdout, put, show
from analyser.cli.many import write_coach, write_season
from analyser.cli.talk import number_of, show_sheet, write_sheet, write_sheets
from analyser.cli.tracks import say
from analyser.errors import AnalyserError, InputError, OutputError, SettingsError
from analyser.logbook import Logbook
from analyser.logbook.check import check_logbook
from analyser.logbook.counts import Counts
from analyser.logbook.export import csv_lines, write_csv, write_parquet
from analyser.report.documents.season import to_season_document
from analyser.report.documents.values import to_json
from analyser.report.files.progress import progress_lines, write_progress
from analyser.report.plain import plain
from analyser.season.cards import canopy_cards
from analyser.season.page_names import is_large, shares
from analyser.writing import STDOUT, make_folder, write_text

__all__ = ["SeasonOutputs", "check", "run"]

SHOWN_JUMPS = 20
STEP = 25


@dataclass(frozen=True, slots=True)
class SeasonOutputs:
    """Where the results go besides the terminal."""

    csv: Path | None
    parquet: Path | None
    json: str | None
    html: Path | None
    coach: Path | None
    cards: Path | None
    assets: Path | None
    private: bool
    pages: Path | None = None
    talk: str | None = None
    sheets: Path | None = None
    progress: Path | None = None
    quiet: bool = False

    def jump_pages(self, units: str) -> Pages | None:
        """Where a page of every jump goes, where one was asked for."""
        return None if self.pages is None else Pages(self.pages, units, self.private)

    def files(self) -> list[Path]:
        """Every file named."""
        return [path for path in self._named() if path != STDOUT]

    def on_stdout(self) -> bool:
        """Whether a result goes to standard output, in place of the text. Wrong usage where several do."""
        return one_on_stdout(self._named())

    def _named(self) -> list[Path]:
        json = None if self.json is None else Path(self.json)
        return [
            p for p in (self.csv, self.parquet, self.html, self.coach, self.progress, json) if p is not None
        ]


def run(
    folders: Sequence[Path],
    plans: Sequence[Path],
    logbook: Path | None,
    jobs: int | None,
    scheduler: str | None,
    retry: bool,
    strict: bool,
    units: str,
    outputs: SeasonOutputs,
    *,
    forget: bool = False,
) -> None:
    """Debrief what is new, summarise the logbook, write and print."""
    with _nameless(outputs.private):
        outputs.on_stdout()
        if outputs.parquet == STDOUT:
            raise OutputError("Parquet can not be read from a pipe", "name a file")
        check_outputs(outputs.files(), plans)
        result = run_season(
            folders,
            logbook=logbook,
            jobs=jobs,
            plans=plans,
            scheduler=scheduler,
            retry=retry,
            forget=forget,
            pages=outputs.jump_pages(units),
            progress=None if outputs.quiet else _progress(),
            outputs=outputs.files(),
            cards=outputs.cards,
        )
        if not outputs.quiet:
            _warn(result.counts.warnings, outputs.private)
        with Logbook(result.logbook, sound=True) as book:
            number = None if outputs.talk is None else number_of(result.season, outputs.talk)
            _write(result, book, units, outputs, number)
            if not outputs.on_stdout() and number is not None:
                show_sheet(book, result.season, number, units, outputs.private)
            elif not outputs.on_stdout():
                _print(result, book, units, outputs.private)
    _verdict(result, "the first folder" if outputs.private else os.fspath(folders[0]), strict)


@contextmanager
def _nameless(private: bool) -> Iterator[None]:
    """With ``private`` an error that names a file, folder or person says its kind alone."""
    try:
        yield
    except AnalyserError as error:
        if not private or error.file is None:
            raise
        what = next((words for kind, words in _KINDS if isinstance(error, kind)), "something is wrong")
        raise type(error)(what, "run without --private to read which and why") from None


_KINDS: Final = (
    (SettingsError, "a plan, table or logbook.toml breaks a rule"),
    (OutputError, "an output can not be written as asked"),
    (InputError, "something that was given can not be used"),
)


def _warn(warnings: Sequence[str], private: bool) -> None:
    """Remarks name files, folders and people; who shares what stands on the screen asks for ``--private``."""
    if private and warnings:
        say(f"{len(warnings)} remark(s) about files and corrections: run without --private to read them")
        return
    for warning in warnings:
        say(warning)


def check(folders: Sequence[Path], logbook: Path | None, *, private: bool = False) -> None:
    """Read the logbook through and print what is wrong in it, with ``private`` how much. Raises InputError (exit code 1) where anything is."""
    book = logbook if logbook is not None else folders[0] / LOGBOOK_NAME
    with _nameless(private):
        found = check_logbook(book)
    for line in () if private else (*found.wrong, *found.changed):
        print(plain(line))
    if found.wrong:
        raise InputError(
            f"{len(found.wrong)} entries are wrong",
            "season with --retry sets them aside and makes them again",
            "the logbook" if private else str(book),
        )
    changed = f", {len(found.changed)} changed since (the next season looks at them)" if found.changed else ""
    print(f"{found.tracks} tracks, {found.jumps} jumps: nothing is wrong{changed}")


def _progress() -> Progress | None:
    """Progress on stderr every few tracks, for people only."""
    if not sys.stderr.isatty():
        return None

    def told(done: int, total: int) -> None:
        if done % STEP == 0 or done == total:
            end = "\n" if done == total else ""
            print(f"\r{done} of {total} tracks", end=end, file=sys.stderr, flush=True)

    return told


def _write(
    result: SeasonResult, book: Logbook, units: str, outputs: SeasonOutputs, number: int | None
) -> None:
    private = outputs.private
    if outputs.csv is not None:
        if outputs.csv == STDOUT:
            sys.stdout.writelines(csv_lines(book, private=private))
        else:
            write_csv(book, outputs.csv, private=private)
    if outputs.parquet is not None:
        write_parquet(book, outputs.parquet, private=private)
    if outputs.json is not None:
        put([(Path(outputs.json), to_json(to_season_document(result.season, private=private)))], ())
    if outputs.cards is not None:
        make_folder(outputs.cards)
        for name, text in canopy_cards(result.season, private=private):
            write_text(outputs.cards / name, text)
    if outputs.progress is not None:
        if outputs.progress == STDOUT:
            sys.stdout.writelines(progress_lines(book, result.season, private=private))
        else:
            write_progress(book, result.season, outputs.progress, private=private)
    if outputs.sheets is not None:
        write_sheets(book, result.season, outputs.sheets, units, private)
    if outputs.html is not None and number is not None:
        write_sheet(book, result.season, number, outputs.html, units, private)
    elif outputs.html is not None:
        pages = outputs.jump_pages(units)
        link = None if pages is None else _linker(pages, outputs.html, outputs.quiet)
        run = run_text(result.counts)
        write_season(book, result.season, outputs.html, units, private, link, outputs.assets, run)
    if outputs.coach is not None:
        write_coach(
            result.season,
            outputs.coach,
            units,
            private,
            None if number is not None else outputs.html,
            outputs.sheets,
        )


def _linker(pages: Pages, page: Path, quiet: bool) -> Callable[[str, int], str] | None:
    """The address of a jump's page as seen from the season's page; "" where there is none.

    A private season's page links only to pages beside or below it: the way to others would tell the names of folders.
    """
    way = PurePath(os.path.relpath(pages.folder.resolve(), page.resolve().parent))
    if pages.private and (".." in way.parts or way.is_absolute()):
        say(
            "the pages are not linked: a private season page links only to a folder beside or below it",
            quiet=quiet,
        )
        return None

    def link(sha256: str, jump: int) -> str:
        file = pages.page(sha256, jump)
        return quote((way / file.name).as_posix()) if file.is_file() else ""

    return link


def _print(result: SeasonResult, book: Logbook, units: str, private: bool) -> None:
    from analyser.report.story.field import tell_field
    from analyser.report.story.season import tell_season
    from analyser.report.story.season_parts import season_parts

    run = run_text(result.counts)
    if is_large(result.season):
        share, numbers = next(iter(shares(result.season, private=private)))
        story = tell_field(result.season, numbers, lambda number: "", share=share, run=run, private=private)
        show(story, units)
        return
    parts = season_parts(book, result.season, private=private)
    show(tell_season(result.season, parts, run=run, private=private, most_jumps=SHOWN_JUMPS), units)


def run_text(counts: Counts) -> str:
    """What the run did with the tracks it found."""
    parts = [
        f"{_number(counts.tracks, 'track')}: {counts.debriefed} debriefed now, {counts.unchanged} unchanged"
    ]
    if counts.copies:
        parts.append(_number(counts.copies, "copy").replace("copys", "copies"))
    if counts.failed + counts.unreadable:
        parts.append(f"{counts.failed + counts.unreadable} failed now")
    if counts.failed_before:
        parts.append(f"{counts.failed_before} failed before (--retry takes up again)")
    if counts.missing:
        parts.append(f"{counts.missing} no longer there (their jumps are kept)")
    return ", ".join(parts)


def _number(n: int, word: str) -> str:
    return f"{n} {word}" if n == 1 else f"{n} {word}s"


def _verdict(result: SeasonResult, where: str, strict: bool) -> None:
    """Raise where the exit code has to be 1."""
    failed = len(result.season.failures)
    if result.counts.tracks == 0:
        raise InputError("holds no track", "give a folder that holds tracks", where)
    if result.season.jumps == 0 and failed >= result.counts.tracks:
        raise InputError("no track in it could be used", "the list above says why", where)
    if strict and failed:
        raise InputError(f"{failed} track(s) could not be used", "the list above says why", where)
