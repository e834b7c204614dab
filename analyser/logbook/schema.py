"""The tables of the logbook, their version, and the steps from older versions."""

from __future__ import annotations

import functools
import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from typing import Final, NamedTuple

from analyser.logbook.jump_columns import COLUMNS, NUMBERS, WHO, Row, jump_row
from analyser.logbook.kept_figures import create_figures
from analyser.logbook.kept_winds import create_winds
from analyser.logbook.talks import create_talks

__all__ = ["APPLICATION_ID", "VERSION", "find_unlike", "migrate", "restore", "store_row"]

APPLICATION_ID: Final = 0x43524C42  # "CRLB"
VERSION: Final = 6
_ALSO: Final = frozenset({"set_aside"})  # made where rows were damaged
_KEPT: Final = (
    "figures",
    "kept_load",
    "kept_wind",
)  # counted from the documents, and counted again where they are gone

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


class Made(NamedTuple):
    """A table with its columns, or a trigger with its words, of a new logbook; ``sql`` makes it."""

    kind: str
    name: str
    sql: str
    is_like: object


def find_unlike(db: sqlite3.Connection) -> list[str]:
    """The tables and triggers that are not as they were made; none of an older version's, whose steps are still to come.

    SQLite's own check looks at no name and no type of a column, and finds a column in capitals by its name, but does not call it so.
    """
    if db.execute("PRAGMA user_version").fetchone()[0] != VERSION:
        return []
    return [f"{made.kind} {made.name}" for made in _made() if _now(db, made.kind, made.name) != made.is_like]


def restore(db: sqlite3.Connection) -> bool:
    """Make again what is not as it was made and can be told from the rest, in the caller's transaction; whether all is as it was then.

    Nothing is done where something stands under a name of its own: SQLite drops by the name in the words, and would leave it.
    """
    known = {made.name for made in _made()} | _ALSO
    query = "SELECT type, name FROM sqlite_master WHERE type <> 'index' AND name NOT GLOB 'sqlite_*'"
    if any(kind not in ("table", "trigger") or name not in known for kind, name in db.execute(query)):
        return False
    for made in _made():
        if made.kind == "table" and _now(db, made.kind, made.name) != made.is_like:
            if made.name == "jump":
                make_rows_anew(db)
            elif made.name in _KEPT:
                db.execute(f"DROP TABLE IF EXISTS {made.name}")
                db.execute(made.sql)
    for made in _made():
        if made.kind == "trigger" and _now(db, made.kind, made.name) != made.is_like:
            db.execute(f"DROP TRIGGER IF EXISTS {made.name}")
            db.execute(made.sql)
    return not find_unlike(db)


def _now(db: sqlite3.Connection, kind: str, name: str) -> object:
    if kind == "table":
        return tuple(tuple(row) for row in db.execute(f"PRAGMA table_info({name})"))
    row = db.execute("SELECT sql FROM sqlite_master WHERE type = 'trigger' AND name = ?", (name,)).fetchone()
    return None if row is None else str(row[0])


@functools.cache
def _made() -> tuple[Made, ...]:
    """Every table and trigger of a new logbook."""
    with closing(sqlite3.connect(":memory:")) as db:
        migrate(db, 0)
        query = (
            "SELECT type, name, sql FROM sqlite_master WHERE type IN ('table', 'trigger') ORDER BY type, name"
        )
        rows = [(str(kind), str(name), str(sql)) for kind, name, sql in db.execute(query)]
        return tuple(Made(*row, _now(db, *row[:2])) for row in rows)
