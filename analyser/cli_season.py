"""What ``crabline season`` does once the words are parsed."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from analyser.cli_debrief import assets_beside, check_outputs, say
from analyser.errors import InputError
from analyser.logbook import Logbook
from analyser.report.values import to_json
from analyser.report.writing import write_text
from analyser.season_cards import canopy_cards
from analyser.season_document import to_season_document
from analyser.season_export import export_rows, write_csv, write_parquet
from analyser.season_run import SeasonResult, run_season
from analyser.season_update import Progress
from analyser.units import DISPLAY_SYSTEMS

__all__ = ["SeasonOutputs", "run"]

SHOWN_JUMPS = 60
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

    def files(self) -> list[Path]:
        """Every file named."""
        named = [self.csv, self.parquet, self.html, self.coach]
        named.append(None if self.json in (None, "-") else Path(str(self.json)))
        return [p for p in named if p is not None]


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
) -> None:
    """Debrief what is new, summarise the logbook, write and print."""
    check_outputs(outputs.files(), [*plans, *([logbook] if logbook else [])])
    result = run_season(
        folders,
        logbook=logbook,
        jobs=jobs,
        plans=plans,
        scheduler=scheduler,
        retry=retry,
        progress=_progress(),
    )
    for warning in result.counts.warnings:
        say(warning)
    with Logbook(result.logbook) as book:
        _write(result, book, units, outputs)
        if outputs.json == "-":
            sys.stdout.write(to_json(to_season_document(result.season, private=outputs.private)))
        else:
            _print(result, book, units, outputs.private)
    _verdict(result, folders, strict)


def _progress() -> Progress | None:
    """Progress on stderr every few tracks, for people only."""
    if not sys.stderr.isatty():
        return None

    def told(done: int, total: int) -> None:
        if done % STEP == 0 or done == total:
            end = "\n" if done == total else ""
            print(f"\r{done} of {total} tracks", end=end, file=sys.stderr, flush=True)

    return told


def _write(result: SeasonResult, book: Logbook, units: str, outputs: SeasonOutputs) -> None:
    private = outputs.private
    if outputs.csv is not None:
        write_csv(book, outputs.csv, private=private)
    if outputs.parquet is not None:
        write_parquet(book, outputs.parquet, private=private)
    if outputs.json not in (None, "-"):
        write_text(str(outputs.json), to_json(to_season_document(result.season, private=private)))
    if outputs.cards is not None:
        outputs.cards.mkdir(parents=True, exist_ok=True)
        for name, text in canopy_cards(result.season, private=private):
            write_text(outputs.cards / name, text)
    if outputs.html is not None or outputs.coach is not None:
        from analyser.report.season_page import render_coach, render_season

        for path, render in ((outputs.html, render_season), (outputs.coach, render_coach)):
            if path is not None:
                assets = assets_beside(path, outputs.assets)
                write_text(path, render(result, book, units=units, private=private, assets=assets))


def _print(result: SeasonResult, book: Logbook, units: str, private: bool) -> None:
    from rich.console import Console

    from analyser.report.season_terminal import print_season
    from analyser.report.terminal import terminal_width

    rows = islice(export_rows(book, private=private), SHOWN_JUMPS)
    console = Console(width=terminal_width(), highlight=False, emoji=False)
    print_season(result.season, result.counts, rows, DISPLAY_SYSTEMS[units], console, private=private)


def _verdict(result: SeasonResult, folders: Sequence[Path], strict: bool) -> None:
    """Raise where the exit code has to be 1."""
    failed = len(result.season.failures)
    where = os.fspath(folders[0])
    if result.counts.tracks == 0:
        raise InputError("holds no GPX or FIT track", "give a folder that holds tracks", where)
    if result.season.jumps == 0 and failed >= result.counts.tracks:
        raise InputError("no track in it could be used", "the list above says why", where)
    if strict and failed:
        raise InputError(f"{failed} track(s) could not be used", "the list above says why", where)
