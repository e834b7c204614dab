"""The tables of the logbook, their version, and the steps from older versions."""

from __future__ import annotations

import functools
import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from typing import Final

from analyser.logbook.jump_columns import COLUMNS, NUMBERS, WHO, Row, jump_row
from analyser.logbook.kept_figures import create_figures
from analyser.logbook.kept_winds import create_winds
from analyser.logbook.talks import create_talks

__all__ = ["APPLICATION_ID", "VERSION", "make_rows_anew", "migrate", "store_row", "unlike_tables"]

APPLICATION_ID: Final = 0x43524C42  # "CRLB"
VERSION: Final = 6

_FIRST = (
    """CREATE TABLE content (
        sha256 TEXT PRIMARY KEY, settings TEXT NOT NULL, status TEXT NOT NULL, reason TEXT, jumps INTEGER NOT NULL
    ) WITHOUT ROWID""",
    """CREATE TABLE track (
        path TEXT PRIMARY KEY, sha256 TEXT NOT NULL, size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL,
        ctime_ns INTEGER NOT NULL
    ) WITHOUT ROWID""",
    "CREATE INDEX track_content ON track (sha256)",
    "CREATE TABLE unreadable (path TEXT PRIMARY KEY, reason TEXT NOT NULL) WITHOUT ROWID",
    """CREATE TABLE document (
        sha256 TEXT NOT NULL, jump INTEGER NOT NULL, json TEXT NOT NULL, PRIMARY KEY (sha256, jump)
    )""",
)


def _create(db: sqlite3.Connection) -> None:
    for statement in _FIRST:
        db.execute(statement)


def make_rows_anew(db: sqlite3.Connection) -> None:
    """Make the table of jumps anew from the documents; what stands under WHO is kept where it was."""
    for name in (
        "jump",
        "old_jump",
        "jump_order",
        "jump_jumper",
    ):  # whatever has one of these names is in the way
        if db.execute("SELECT 1 FROM sqlite_master WHERE type = 'index' AND name = ?", (name,)).fetchone():
            db.execute(f"DROP INDEX {name}")
    db.execute("DROP TABLE IF EXISTS old_jump")
    old = {str(row[1]).lower() for row in db.execute("PRAGMA table_info(jump)")}
    kept = [name for name in WHO if name in old]
    if old:
        db.execute("ALTER TABLE jump RENAME TO old_jump")
    kinds = {name: "REAL" if name in NUMBERS else "TEXT" for name in COLUMNS}
    columns = ", ".join([f"{n} TEXT" for n in WHO] + [f"{n} {k}" for n, k in kinds.items()])
    db.execute(
        f"CREATE TABLE jump (sha256 TEXT NOT NULL, jump INTEGER NOT NULL, {columns}, PRIMARY KEY (sha256, jump))"
    )
    db.execute("CREATE INDEX jump_order ON jump (landing_utc, sha256, jump)")
    db.execute("CREATE INDEX jump_jumper ON jump (jumper, canopy, landing_utc)")
    for sha256, jump, text in db.execute("SELECT sha256, jump, json FROM document ORDER BY sha256, jump"):
        who: Row = dict.fromkeys(WHO)
        if kept:
            query = f"SELECT {', '.join(kept)} FROM old_jump WHERE sha256 = ? AND jump = ?"
            found = db.execute(query, (sha256, jump)).fetchone()
            who |= dict(zip(kept, found, strict=True)) if found else {}
        try:
            row = jump_row(json.loads(text))
        except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
            db.execute(
                "DELETE FROM content WHERE sha256 = ?", (sha256,)
            )  # so that its file is debriefed again
            continue
        store_row(db, sha256, jump, who | row)
    if old:
        db.execute("DROP TABLE old_jump")


def store_row(db: sqlite3.Connection, sha256: str, jump: int, row: Row) -> None:
    """Put one row (a value for each of WHO and COLUMNS) in, in place of an older one."""
    names = (*WHO, *COLUMNS)
    marks = ", ".join("?" * (len(names) + 2))
    values = (sha256, jump, *(row[name] for name in names))
    db.execute(f"INSERT OR REPLACE INTO jump (sha256, jump, {', '.join(names)}) VALUES ({marks})", values)


# step i leads from version i to i + 1; whoever changes COLUMNS or WHO appends make_rows_anew and raises VERSION
_STEPS: tuple[Callable[[sqlite3.Connection], None], ...] = (
    _create,
    make_rows_anew,
    create_talks,
    create_winds,
    create_winds,
    make_rows_anew,
)


def migrate(db: sqlite3.Connection, version: int) -> None:
    """Bring tables of ``version`` (0 = empty file) to VERSION, inside the caller's transaction."""
    for step in _STEPS[version:]:
        step(db)
    create_figures(db)
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    db.execute(f"PRAGMA user_version = {len(_STEPS)}")


def unlike_tables(db: sqlite3.Connection) -> list[str]:
    """Names of the tables whose columns are not those that they were made with; none of an older version's, which are not made yet.

    SQLite's own check looks at no name and no type of a column, and calls a column by its name in capitals the same.
    """
    if db.execute("PRAGMA user_version").fetchone()[0] != VERSION:
        return []
    return [name for name, columns in _made() if _columns(db, name) != columns]


def _columns(db: sqlite3.Connection, table: str) -> tuple[tuple[object, ...], ...]:
    return tuple(tuple(row) for row in db.execute(f"PRAGMA table_info({table})"))


@functools.cache
def _made() -> tuple[tuple[str, tuple[tuple[object, ...], ...]], ...]:
    """Every table of a new logbook, with its columns."""
    with closing(sqlite3.connect(":memory:")) as db:
        migrate(db, 0)
        names = [str(name) for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return tuple((name, _columns(db, name)) for name in sorted(names))
