"""Progress of every jumper, canopy by canopy, as CSV: one line per count, with its days and an empty cell for the witness."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Final

from analyser.logbook import Logbook
from analyser.logbook.export import cell_text
from analyser.season.jumps import read_jumps
from analyser.season.progress import Card, card
from analyser.season.summarise import Season, group_jumps
from analyser.writing import write_chunks

__all__ = ["COLUMNS", "progress_lines", "write_progress"]

COLUMNS: Final = (
    "jumper", "canopy", "part", "jumps", "first_utc", "latest_utc", "counted", "radius_m", "met", "of", "left_open", "days", "witness",
)  # fmt: skip


def write_progress(
    logbook: Logbook, season: Season, path: str | os.PathLike[str], *, private: bool = False
) -> None:
    """Write the table, one jumper in memory at a time. ``private``: numbers for names, no days. Raises OutputError."""
    chunks = (text.encode("utf-8") for text in progress_lines(logbook, season, private=private))
    write_chunks(path, chunks, inputs=[logbook.path])


def progress_lines(logbook: Logbook, season: Season, *, private: bool = False) -> Iterator[str]:
    """The text of that file, one jumper at a time."""
    yield _lines([COLUMNS])
    for number, jumper in enumerate(season.jumpers, 1):
        jumps, _ = read_jumps(logbook.rows(jumper.name, one_jumper=True))
        for place, (canopy, part, mine, _) in enumerate(group_jumps(jumps), 1):
            who = f"jumper {number}" if private else jumper.name
            what = f"canopy {place}" if private else canopy
            yield _lines([(who, what, part or None, *row) for row in _rows(card(mine), private)])


def _rows(one: Card, private: bool) -> Iterator[tuple[object, ...]]:
    ends = (None, None) if private else (_utc(one.first_s), _utc(one.last_s))
    for count, radius in one.counts:
        name = "landing within the ring" if radius is not None else count.name
        days = None if private else " ".join(_utc(t)[:10] for t in count.days_s)
        yield (one.n, *ends, name, radius, count.hits, count.of, count.left_open, days, None)


def _utc(seconds: float) -> str:
    return datetime.fromtimestamp(seconds, UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def _lines(rows: list[tuple[object, ...]]) -> str:
    buffer = io.StringIO()
    csv.writer(buffer, lineterminator="\n").writerows([[cell_text(c) for c in row] for row in rows])
    return buffer.getvalue()
