"""debrief_job: what a worker process does with one track: debrief every jump of it, keep row and document."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from pathlib import Path, PurePath
from typing import NamedTuple

from analyser.batch.nameless import nameless_recording, nameless_settings
from analyser.debrief import Debrief, debrief_all, debrief_recording, with_earlier
from analyser.errors import AnalyserError, OutputError
from analyser.importers.read import read
from analyser.importers.source import path_text
from analyser.logbook.jump_columns import Row, document_text, jump_row
from analyser.replay.next_jump import Earlier
from analyser.report.documents.debrief import to_document
from analyser.report.page.pages import render_page
from analyser.settings import Settings
from analyser.writing import write_text

__all__ = ["Answer", "Job", "JumpAnswer", "debrief_job", "page_name"]


class Job(NamedTuple):
    """One track to debrief, by its path, under these settings; ``overrides`` holds those of single jumps in it.

    ``pages``: folder for a page of each jump, named after ``sha256`` of the file and the jump's number; None for no page.
    ``private``: these pages are made from the track without names, dates and places. ``earlier``: what the logbook says about the jumper's
    habits before single jumps, by their numbers.
    """

    path: str
    settings: Settings
    overrides: tuple[tuple[int, Settings], ...] = ()
    sha256: str = ""
    pages: str | None = None
    units: str = "uk"
    private: bool = False
    earlier: tuple[tuple[int, Earlier], ...] = ()


def page_name(sha256: str, jump: int, *, private: bool = False) -> str:
    """File name of the page of one jump; a private one shows no digit of the file's own hash."""
    if private:
        return f"private-{hashlib.sha256(f'page of {sha256}'.encode()).hexdigest()[:20]}-{jump}.html"
    return f"{sha256[:20]}-{jump}.html"


class JumpAnswer(NamedTuple):
    """One jump: number in the file (0 = the file holds none), row of logbook.rows.COLUMNS, document as JSON text."""

    jump: int
    row: Row
    document: str


class Answer(NamedTuple):
    """The jumps of a track, or the reason why it gave nothing; ``trouble`` where a page could not be written; ``again`` where
    the file may not be to blame, so that the next run tries it once more."""

    jumps: tuple[JumpAnswer, ...]
    reason: str | None = None
    trouble: str | None = None
    again: bool = False


def debrief_job(job: Job) -> Answer:
    """Debrief one track. Never raises for what a file holds: the reason comes back as a value."""
    try:
        found = [_weighed(job, x) for x in debrief_all(job.path, job.settings, overrides=dict(job.overrides))]
        answers = tuple(_answer(job, result) for result in found)
        return Answer(answers, None, _write_pages(job, found) if job.pages is not None else None)
    except AnalyserError as error:
        return Answer((), "; ".join(filter(None, (error.what, error.hint))))
    except MemoryError:
        return Answer((), "needs more memory than there is", again=True)
    except Exception as error:  # a fault of this program must cost one file, not the season
        return Answer((), f"an unforeseen error, please report it: {type(error).__name__}: {error}")


def _answer(job: Job, result: Debrief) -> JumpAnswer:
    document = to_document(result)
    document["source"]["file"] = path_text(Path(job.path).name)
    return JumpAnswer(result.jump, jump_row(document), document_text(document))


def _write_pages(job: Job, found: Sequence[Debrief]) -> str | None:
    """One page per jump; what went wrong with the disk, or None."""
    try:
        for result in _nameless(job, found) if job.private else found:
            text = render_page(result, units=job.units, assets=PurePath("."), dated=not job.private)
            name = page_name(job.sha256, result.jump, private=job.private)
            write_text(Path(job.pages or ".") / name, text)
    except OutputError as error:
        return str(error)
    return None


def _nameless(job: Job, found: Sequence[Debrief]) -> Iterator[Debrief]:
    """The same jumps debriefed once more, so that no sentence on the way can hold a name."""
    recording, overrides = (
        nameless_recording(read(job.path, columns=job.settings.columns)),
        dict(job.overrides),
    )
    for result in found:
        settings = nameless_settings(overrides.get(result.jump, job.settings))
        yield _weighed(job, debrief_recording(recording, settings, jump=result.jump or None))


def _weighed(job: Job, result: Debrief) -> Debrief:
    earlier = dict(job.earlier).get(result.jump)
    return result if earlier is None else with_earlier(result, earlier)
