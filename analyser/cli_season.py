"""What ``crabline season`` does once the words are parsed: run, write, print, exit code."""

from __future__ import annotations

import sys
import time
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from analyser.errors import OutputError
from analyser.logbook import Logbook
from analyser.logbook_plans import FILE_NAME
from analyser.logbook_table import TABLE_NAME
from analyser.report.plain import plain
from analyser.report.values import to_json
from analyser.report.writing import write_text
from analyser.season_cards import canopy_cards
from analyser.season_document import to_season_document
from analyser.season_export import write_csv, write_parquet
from analyser.season_run import SeasonResult, run_season
from analyser.units import DISPLAY_SYSTEMS

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["SeasonOptions", "SeasonOutputs", "run_season_command"]

LISTED: Final = 40


@dataclass(frozen=True, slots=True)
class SeasonOptions:
    """How the season is run."""

    logbook: Path | None = None
    jobs: int | None = None
    plans: tuple[Path, ...] = ()
    scheduler: str | None = None
    timeout_s: float = 120.0
    retry: bool = False
    strict: bool = False
    private: bool = False
    units: str = "uk"


@dataclass(frozen=True, slots=True)
class SeasonOutputs:
    """Where the results go besides the terminal; ``json`` "-" is stdout, ``canopy_cards`` a folder."""

    json: str | None = None
    csv: Path | None = None
    parquet: Path | None = None
    html: Path | None = None
    coach: Path | None = None
    canopy_cards: Path | None = None

    def files(self) -> Iterator[Path]:
        """Every file named."""
        for path in (self.csv, self.parquet, self.html, self.coach):
            if path is not None:
                yield path
        if self.json not in (None, "-"):
            yield Path(str(self.json))


def run_season_command(folders: Sequence[Path], options: SeasonOptions, outputs: SeasonOutputs) -> int:
    """Bring the logbook up to date, write what was asked for, print the summary; the exit code.

    1 with ``strict`` where a track gave nothing, or where no track at all could be used; else 0.
    """
    _check(outputs)
    result = run_season(
        folders,
        logbook=options.logbook,
        jobs=options.jobs,
        plans=options.plans,
        scheduler=options.scheduler,
        timeout_s=options.timeout_s,
        retry=options.retry,
        progress=_Progress(),
    )
    for warning in result.counts.warnings:
        print(f"warning: {plain(warning)}", file=sys.stderr)
    with Logbook(result.logbook) as logbook:
        _write(result, logbook, options, outputs)
        if outputs.json == "-":
            sys.stdout.write(to_json(to_season_document(result.season, private=options.private)))
        else:
            _show(result, logbook, options)
    return _code(result, strict=options.strict)


def _code(result: SeasonResult, *, strict: bool) -> int:
    counts = result.counts
    if result.season.jumps == 0 and (counts.tracks == 0 or result.season.failures):
        reason = "no track found" if counts.tracks == 0 else "no track could be used"
        print(f"error: {plain(str(result.logbook.parent))}: {reason}", file=sys.stderr)
        return 1
    return 1 if strict and result.season.failures else 0


def _check(outputs: SeasonOutputs) -> None:
    """Refuse before any work what could not be written after it."""
    seen: set[Path] = set()
    for path in outputs.files():
        place = path.resolve()
        if place in seen:
            raise OutputError("is named for two outputs", "give each its own name", str(path))
        seen.add(place)
        if place.name in (FILE_NAME, TABLE_NAME) and place.exists():
            raise OutputError("would be written over an input", "choose another name", str(path))
        if not place.parent.is_dir():
            raise OutputError("its folder does not exist", "make the folder first", str(path))


def _write(result: SeasonResult, logbook: Logbook, options: SeasonOptions, outputs: SeasonOutputs) -> None:
    for path in outputs.files():
        if logbook.holds(path) or path.resolve() == logbook.path:
            raise OutputError("would be written over an input", "choose another name", str(path))
    if outputs.csv is not None:
        write_csv(logbook, outputs.csv, private=options.private)
    if outputs.parquet is not None:
        write_parquet(logbook, outputs.parquet, private=options.private)
    if outputs.json not in (None, "-"):
        document = to_season_document(result.season, private=options.private)
        write_text(str(outputs.json), to_json(document))
    if outputs.canopy_cards is not None:
        _write_cards(result, outputs.canopy_cards, private=options.private)


def _write_cards(result: SeasonResult, folder: Path, *, private: bool) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"can not be made ({error.strerror})", "name another folder", str(folder)) from None
    for name, text in canopy_cards(result.season, private=private):
        write_text(folder / name, text)


def _show(result: SeasonResult, logbook: Logbook, options: SeasonOptions) -> None:
    from rich.console import Console

    from analyser.report.season_terminal import print_season
    from analyser.report.terminal import terminal_width

    rows = deque(logbook.rows(), maxlen=LISTED)
    console = Console(width=terminal_width(), highlight=False, emoji=False)
    print_season(
        result.season, result.counts, rows, DISPLAY_SYSTEMS[options.units], console, private=options.private
    )


class _Progress:
    """A line on stderr now and then: rewritten in place on a terminal, plain otherwise."""

    def __init__(self) -> None:
        self._next = time.monotonic() + 2.0

    def __call__(self, done: int, total: int) -> None:
        now = time.monotonic()
        if now < self._next:
            return
        interactive = sys.stderr.isatty()
        self._next = now + (0.5 if interactive else 10.0)
        end = "\r" if interactive else "\n"
        print(f"{done} of {total} tracks", end=end, file=sys.stderr, flush=True)
