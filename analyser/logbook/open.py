"""Opening a logbook file: what it is, how old, whether it is whole; and every database error in one line."""

from __future__ import annotations

import os
import sqlite3
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from analyser.errors import OutputError
from analyser.logbook.schema import APPLICATION_ID, VERSION, find_unlike, migrate, restore

__all__ = ["check_kind", "look_at", "open_database", "translated"]

BUSY_S: Final = 30.0
SWITCH_S: Final = 0.1  # per try of twenty: a reader may hold the file in another mode for hours
CHECKED_BYTES: Final = 64_000_000  # larger files are not read through at every start
SHORTEST_BYTES: Final = 512
_MAGIC: Final = b"SQLite format 3\0"


def open_database(path: Path) -> sqlite3.Connection:
    """A connection to the logbook at ``path``, made where missing, brought to the present version.

    Raises OutputError; nothing is changed in a file that is no logbook, is damaged, or of a newer version.
    """
    look_at(path)
    with translated(path):
        db = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None)
        try:
            db.row_factory = sqlite3.Row
            check_kind(db, path)
            _check_whole(db, path)
            _write_ahead(db)
            db.execute("PRAGMA synchronous = NORMAL")
            _upgrade(db, path)
            _check_tables(db, path)
        except BaseException:
            db.close()
            raise
    return db


def look_at(path: Path) -> None:
    """Raise OutputError where no logbook can be, or something else is."""
    if not os.path.isdir(path.parent):
        raise OutputError(
            "its folder does not exist", "make it, or name another place with --logbook", str(path)
        )
    try:
        status = os.stat(path)
        if not stat.S_ISREG(status.st_mode):
            raise OutputError("is not a plain file", "name another place with --logbook", str(path))
        # A logbook that may be open already is never opened beside SQLite: closing it would drop SQLite's locks (POSIX), and another
        # process could then take its log away. What is shorter than a page's head is none; SQLite itself refuses the rest.
        if 0 < status.st_size < SHORTEST_BYTES:
            with path.open("rb") as file:
                if file.read(len(_MAGIC)) != _MAGIC:
                    raise _damaged(path)
    except FileNotFoundError:
        return
    except OSError as error:
        raise OutputError(
            f"can not be read ({error.strerror})", "check the permissions, or use --logbook", str(path)
        ) from None


def _damaged(path: Path) -> OutputError:
    return OutputError(
        "is no logbook, or is damaged",
        "move it away and run again, or name another with --logbook",
        str(path),
    )


def check_kind(db: sqlite3.Connection, path: Path) -> None:
    """Raise OutputError where the database is not a logbook, or one of a newer version."""
    tables = db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if tables and db.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise OutputError("is a database of another kind", "name another place with --logbook", str(path))
    if db.execute("PRAGMA user_version").fetchone()[0] > VERSION:
        raise OutputError(
            "was written by a newer version", "update crabline, or use another logbook", str(path)
        )


def _check_whole(db: sqlite3.Connection, path: Path) -> None:
    """Raise OutputError where the file is damaged; indexes that are not those of their rows are made again."""
    if os.path.getsize(path) > CHECKED_BYTES or _complaints(db) == []:
        return
    with _transaction(db):
        if not all(" index " in line for line in _complaints(db)):
            raise _damaged(path)
        db.execute("REINDEX")
        if _complaints(db):
            raise _damaged(path)


def _complaints(db: sqlite3.Connection) -> list[str]:
    found = [str(row[0]) for row in db.execute("PRAGMA integrity_check(20)")]
    return [] if found == ["ok"] else found


def _write_ahead(db: sqlite3.Connection) -> None:
    """Switch to the write-ahead log; another run may hold the file for a moment, and some network disks refuse it."""
    db.execute(f"PRAGMA busy_timeout = {round(SWITCH_S * 1000)}")
    for _ in range(20):
        try:
            db.execute("PRAGMA journal_mode = WAL").fetchone()
            break
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) and "busy" not in str(error):
                raise
            time.sleep(0.05)
    db.execute(f"PRAGMA busy_timeout = {round(BUSY_S * 1000)}")


def _upgrade(db: sqlite3.Connection, path: Path) -> None:
    if db.execute("PRAGMA user_version").fetchone()[0] == VERSION:
        return
    with _transaction(db):
        migrate(db, db.execute("PRAGMA user_version").fetchone()[0])
        if find_unlike(db) and not restore(db):
            raise _damaged(path)


def _check_tables(db: sqlite3.Connection, path: Path) -> None:
    """Raise OutputError where the words of a table are damaged; what can be made again from the documents is."""
    if not find_unlike(db):
        return
    with _transaction(db):
        if not restore(db):
            raise _damaged(path)


@contextmanager
def _transaction(db: sqlite3.Connection) -> Iterator[None]:
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
        db.execute("COMMIT")
    except BaseException:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise


@contextmanager
def translated(path: Path) -> Iterator[None]:
    """Turn every error of the database into an OutputError about ``path``."""
    try:
        yield
    except UnicodeDecodeError:  # SQLite tells of a damaged schema in its own damaged words
        raise _damaged(path) from None
    except sqlite3.Error as error:
        text = str(error).lower()
        if "full" in text or "disk i/o" in text:
            what, hint = "can not be written: the disk is full or fails", "free some space and run again"
        elif "readonly" in text or "unable to open" in text or "permission" in text:
            what, hint = "can not be written: no permission", "name another place with --logbook"
        elif "locked" in text or "busy" in text:
            what, hint = "is held by another run", "wait for it to end"
        elif "malformed" in text or "not a database" in text:
            raise _damaged(path) from None
        else:
            what, hint = f"can not be used ({error})", "move it away and run again, or use --logbook"
        raise OutputError(f"{what}; what was done before is kept", hint, str(path)) from None
