"""A folder of tracks that stand in for real ones, and what the tests of the logbook do with it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from season_fakes import fake_job, write_track

from analyser.batch.processes import Failed
from analyser.batch.update import update
from analyser.batch.work import Answer, Job
from analyser.logbook import Logbook
from analyser.logbook.counts import Counts
from analyser.logbook.plans import Plans


def twelve_tracks(top: Path) -> Path:
    """Twelve tracks in two folders: one bad, one with three jumps."""
    for i in range(5):
        write_track(top / "may" / f"{i}.gpx", f"may {i}")
        write_track(top / "june" / f"{i}.gpx", f"june {i}")
    write_track(top / "june" / "bad.gpx", "bad")
    write_track(top / "june" / "day.gpx", "jumps=3")
    (top / "june" / "notes.txt").write_text("no track")
    return top


def serial(jobs: Iterator[Job]) -> Iterator[tuple[Job, Answer | Failed]]:
    """The stand-in, without processes."""
    for job in jobs:
        yield job, fake_job(job)


def run(folder: Path, book: Path | None = None, **options: bool) -> Counts:
    with Logbook(book or folder / "logbook.sqlite") as logbook:
        return update(logbook, [folder], Plans(), serial, **options)


def dump(book: Path) -> list[tuple[object, ...]]:
    """Everything a logbook tells about its jumps and failures."""
    with Logbook(book) as logbook:
        rows = [tuple(row.values()) for row in logbook.rows()]
        documents = [(logbook.document(str(row[1]), int(str(row[2]))),) for row in rows]
        return [*rows, *documents, *logbook.failures()]


def rows_by_file(folder: Path) -> dict[str, dict[str, object]]:
    with Logbook(folder / "logbook.sqlite") as logbook:
        return {f"{row['file']}#{row['jump']}": row for row in logbook.rows()}
