"""run_season: folders of tracks -> an up-to-date logbook and its summary."""

from __future__ import annotations

import gc
import os
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from analyser.batch.dask import run_cluster
from analyser.batch.inputs import refuse_in_folder, refuse_outputs, season_inputs
from analyser.batch.processes import Failed, run_processes
from analyser.batch.update import Pages, Progress, Runner, update
from analyser.batch.work import Answer, Job, debrief_job
from analyser.errors import InputError, OutputError
from analyser.logbook import Logbook
from analyser.logbook.counts import Counts
from analyser.logbook.plans import FILE_NAME, Plans
from analyser.logbook.scan import check_folders, scan
from analyser.report.page.shell import write_assets
from analyser.season.summarise import Season, summarise
from analyser.writing import sweep_parts

__all__ = ["LOGBOOK_NAME", "TIMEOUT_S", "SeasonResult", "run_season"]

LOGBOOK_NAME: Final = "logbook.sqlite"
TIMEOUT_S: Final = 120.0  # ours: many times what a day's recording takes; a file beyond it is given up
SELDOM: Final = 200_000  # objects made until garbage is looked for: some tens of megabytes
NAMED_PAGE: Final = re.compile(r"[0-9a-f]{20}-\d+\.html")
ANY_PAGE: Final = re.compile(r"(private-)?[0-9a-f]{20}-\d+\.html|plotly-.*\.js")
Work = Callable[[Job], Answer]


@dataclass(frozen=True, slots=True)
class SeasonResult:
    """The logbook's place, what this run met and did, and the summary of all jumps in the logbook."""

    logbook: Path
    counts: Counts
    season: Season


def run_season(
    folders: Sequence[str | os.PathLike[str]],
    *,
    logbook: str | os.PathLike[str] | None = None,
    jobs: int | None = None,
    plans: Sequence[str | os.PathLike[str]] = (),
    scheduler: str | None = None,
    timeout_s: float = TIMEOUT_S,
    retry: bool = False,
    forget: bool = False,
    pages: Pages | None = None,
    progress: Progress | None = None,
    work: Work = debrief_job,
    outputs: Sequence[str | os.PathLike[str]] = (),
    cards: str | os.PathLike[str] | None = None,
) -> SeasonResult:
    """Debrief every new or changed track below ``folders`` into the logbook, then summarise the logbook.

    ``logbook`` defaults to ``logbook.sqlite`` in the first folder; ``jobs`` processes (default: one per core) share the
    work, or a Dask cluster at the address ``scheduler``. ``plans`` hold for all tracks below what ``logbook.toml`` says.
    ``pages``: a folder (made where missing) for a page of every jump; private ones need a folder without others. ``retry`` takes up again tracks that failed, ``forget`` drops the jumps of those that are gone; a track that takes longer than ``timeout_s`` is given up; ``progress`` is
    told (done, all). ``outputs`` (files) and ``cards`` (a folder) are what will be written from the result: refused before any work where they
    are read. Raises InputError, SettingsError or OutputError; a bad track is listed, not raised.
    """
    places = [Path(os.path.abspath(folder)) for folder in folders]
    check_folders(places)
    book = Path(os.path.abspath(logbook)) if logbook is not None else places[0] / LOGBOOK_NAME
    names = Plans(plans)
    if not os.path.exists(book) and next(scan(places, names.columns), None) is None:
        raise InputError("holds no track", "give a folder that holds tracks", str(places[0]))
    runner = (
        _cluster(scheduler, work, timeout_s)
        if scheduler
        else _processes(jobs or os.cpu_count() or 1, work, timeout_s)
    )
    names.check(places)
    written = bool(outputs) or cards is not None or pages is not None
    inputs = list(season_inputs(places, names, book)) if written else []
    refuse_outputs([Path(p) for p in outputs], inputs)
    if cards is not None:
        refuse_in_folder(Path(cards), lambda name: name.endswith(".toml") and name != FILE_NAME, inputs)
    if pages is not None:
        refuse_in_folder(pages.folder, lambda name: bool(ANY_PAGE.fullmatch(name)), inputs)
        _prepare(pages)
    with _collecting_seldom(), Logbook(book) as opened:
        counts = update(
            opened, places, names, runner, retry=retry, forget=forget, pages=pages, progress=progress
        )
        return SeasonResult(book, counts, summarise(opened))


@contextmanager
def _collecting_seldom() -> Iterator[None]:
    """Hardly any garbage lies in circles here, and to look for it among the figures of a large field takes as long as to make them."""
    before = gc.get_threshold()
    gc.set_threshold(SELDOM, *before[1:])
    try:
        yield
    finally:
        gc.set_threshold(*before)


def _prepare(pages: Pages) -> None:
    """The folder of the pages with the plotting bundle they share; private pages go where no others lie."""
    where = str(pages.folder)
    write_assets(pages.folder)
    sweep_parts(pages.folder)
    try:
        others = [p for p in pages.folder.iterdir() if NAMED_PAGE.fullmatch(p.name)]
    except OSError as error:
        raise OutputError(
            f"can not be read ({error.strerror})", "name another folder for pages", where
        ) from None
    if pages.private and others:
        raise OutputError("holds pages with names and dates", "name another folder for private pages", where)


def _processes(count: int, work: Work, timeout_s: float) -> Runner:
    def run(jobs: Iterator[Job]) -> Iterator[tuple[Job, Answer | Failed]]:
        return run_processes(jobs, work, processes=count, timeout_s=timeout_s)

    return run


def _cluster(address: str, work: Work, timeout_s: float) -> Runner:
    def run(jobs: Iterator[Job]) -> Iterator[tuple[Job, Answer | Failed]]:
        return run_cluster(jobs, work, address=address, timeout_s=timeout_s)

    return run
