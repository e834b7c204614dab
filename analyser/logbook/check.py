"""check_logbook: whether a logbook is whole, its rows are those of its documents, and its tracks those on the disk."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import NamedTuple
from urllib.parse import quote

from analyser.errors import OutputError, UnreadableError
from analyser.logbook.mend import find_damage
from analyser.logbook.open import check_kind, look_at, translated
from analyser.logbook.scan import content_hash
from analyser.logbook.schema import VERSION, find_unlike
from analyser.logbook.track_paths import key_path

__all__ = ["Checked", "check_logbook"]


class Checked(NamedTuple):
    """How many tracks and jumps a logbook holds, what is wrong in it, and what has merely changed on the disk since."""

    tracks: int
    jumps: int
    wrong: tuple[str, ...]
    changed: tuple[str, ...]


def check_logbook(path: str | os.PathLike[str]) -> Checked:
    """Read a logbook through, changing nothing: SQLite's integrity, documents, rows, and the hash of every track.

    Raises OutputError where there is none, or it is no logbook.
    """
    book = Path(os.path.abspath(path))
    look_at(book)
    if not os.path.exists(book):
        raise OutputError("no such logbook", "crabline season FOLDER makes one", str(book))
    with translated(book), closing(sqlite3.connect(f"file:{quote(str(book))}?mode=ro", uri=True)) as db:
        db.row_factory = sqlite3.Row
        check_kind(db, book)
        wrong = tuple(_wrong(db))
        changed = tuple(_changed(db, book)) if not wrong else ()
        tracks, jumps = (_count(db, table) for table in ("track", "jump"))
    return Checked(tracks, jumps, wrong, changed)


def _count(db: sqlite3.Connection, table: str) -> int:
    """Rows of a table; none where it is missing, which is said by itself."""
    known = db.execute("SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?", (table,)).fetchone()
    return int(db.execute(f"SELECT count(*) FROM {table}").fetchone()[0]) if known else 0


def _wrong(db: sqlite3.Connection) -> Iterator[str]:
    found = [str(row[0]) for row in db.execute("PRAGMA integrity_check(20)")]
    if found != ["ok"]:
        yield from (f"database: {line}" for line in found)
        return
    version = db.execute("PRAGMA user_version").fetchone()[0]
    if version == 0:
        yield "version: none, as that of a logbook that was never made"
    if version != VERSION:
        return
    unlike = find_unlike(db)
    yield from (f"{what}: is not as it was made" for what in unlike)
    if unlike:
        return
    for sha256, jump, what in find_damage(db, values=True):
        yield f"content {sha256[:12]}, jump {jump}: {what}"
    for table in ("content", "track"):
        other = "track" if table == "content" else "content"
        query = f"SELECT DISTINCT sha256 FROM {table} WHERE sha256 NOT IN (SELECT sha256 FROM {other})"
        for (sha256,) in db.execute(query):
            yield f"content {str(sha256)[:12]}: has no {other}"
    query = "SELECT DISTINCT sha256 FROM document WHERE sha256 NOT IN (SELECT sha256 FROM content)"
    for (sha256,) in db.execute(query):
        yield f"content {str(sha256)[:12]}: has a document and no entry"


def _changed(db: sqlite3.Connection, book: Path) -> Iterator[str]:
    """An older version, which a run brings up to date, and tracks whose bytes are not those of the logbook, which it reads again."""
    version = db.execute("PRAGMA user_version").fetchone()[0]
    if version != VERSION:
        yield f"version {version} of {VERSION}: the next run brings it up to date"
    for key, sha256 in db.execute("SELECT path, sha256 FROM track ORDER BY path"):
        place = book.parent / key_path(str(key))
        if not os.path.lexists(place):
            yield f"{key}: is gone"
            continue
        try:
            if content_hash(place) != sha256:
                yield f"{key}: has changed since it was read"
        except UnreadableError as error:
            yield f"{key}: {error.what}"
