"""What a season takes from the documents to set winds of one load beside each other, kept so that no document is read twice for it,
and what it found for each load, so that no load is counted twice."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from analyser.logbook.entries import plain_rows

__all__ = ["KeptWind", "create_winds", "keep_loads", "keep_winds", "kept_loads", "kept_winds"]

Key = tuple[str, int]
Counts = tuple[int, int, int]


class KeptWind(NamedTuple):
    """Of one jump: its exit [s since 1970], None where that is not known, and its winds as text."""

    exit_s: float | None
    winds: str


def create_winds(db: sqlite3.Connection) -> None:
    """The tables, and triggers that forget a jump's winds when its document comes, changes its content or goes."""
    db.execute("DROP TABLE IF EXISTS kept_wind")
    db.execute(
        "CREATE TABLE kept_wind (sha256 TEXT NOT NULL, jump INTEGER NOT NULL, made_by TEXT NOT NULL, "
        "exit_s REAL, winds TEXT NOT NULL, PRIMARY KEY (sha256, jump)) WITHOUT ROWID"
    )
    db.execute(
        "CREATE TABLE IF NOT EXISTS kept_load (members TEXT PRIMARY KEY, made_by TEXT NOT NULL, "
        "jumps INTEGER NOT NULL, pairs INTEGER NOT NULL, within INTEGER NOT NULL) WITHOUT ROWID"
    )
    for event, row in (("INSERT", "NEW"), ("DELETE", "OLD")):
        db.execute(
            f"CREATE TRIGGER IF NOT EXISTS kept_wind_{event.lower()} AFTER {event} ON document BEGIN "
            f"DELETE FROM kept_wind WHERE sha256 = {row}.sha256 AND jump = {row}.jump; END"
        )


def kept_winds(db: sqlite3.Connection, made_by: str) -> dict[Key, KeptWind]:
    """What the same program kept, by content and number of the jump."""
    query = "SELECT sha256, jump, exit_s, winds FROM kept_wind WHERE made_by = ?"
    rows = plain_rows(db, query, (made_by,))
    return {(sha256, jump): KeptWind(exit_s, winds) for sha256, jump, exit_s, winds in rows}


def keep_winds(db: sqlite3.Connection, rows: Iterable[tuple[Key, KeptWind]], made_by: str) -> None:
    """Keep some, inside the caller's transaction."""
    db.executemany(
        "INSERT OR REPLACE INTO kept_wind VALUES (?, ?, ?, ?, ?)",
        ((sha256, jump, made_by, *kept) for (sha256, jump), kept in rows),
    )


def kept_loads(db: sqlite3.Connection, made_by: str) -> dict[str, Counts]:
    """Jumps, pairs and pairs within their error of every load that the same program counted, by a hash of what its members told."""
    rows = db.execute("SELECT members, jumps, pairs, within FROM kept_load WHERE made_by = ?", (made_by,))
    return {members: (jumps, pairs, within) for members, jumps, pairs, within in rows}


def keep_loads(
    db: sqlite3.Connection, fresh: Mapping[str, Counts], gone: Iterable[str], made_by: str
) -> None:
    """Keep some and forget others, inside the caller's transaction."""
    db.executemany("DELETE FROM kept_load WHERE members = ?", ((m,) for m in gone))
    db.execute("DELETE FROM kept_load WHERE made_by <> ?", (made_by,))
    db.executemany(
        "INSERT OR REPLACE INTO kept_load VALUES (?, ?, ?, ?, ?)",
        ((members, made_by, *counts) for members, counts in fresh.items()),
    )
