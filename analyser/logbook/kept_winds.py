"""What a season takes from the documents to set winds of one load beside each other, kept so that no document is read twice for it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

__all__ = ["create_winds", "keep_winds", "kept_winds"]

Key = tuple[str, int]


def create_winds(db: sqlite3.Connection) -> None:
    """The table, and triggers that forget a jump's winds when its document comes, changes its content or goes."""
    db.execute(
        "CREATE TABLE IF NOT EXISTS kept_wind (sha256 TEXT NOT NULL, jump INTEGER NOT NULL, made_by TEXT NOT NULL, "
        "json TEXT NOT NULL, PRIMARY KEY (sha256, jump)) WITHOUT ROWID"
    )
    db.execute("DELETE FROM kept_wind")
    for event, row in (("INSERT", "NEW"), ("DELETE", "OLD")):
        db.execute(
            f"CREATE TRIGGER IF NOT EXISTS kept_wind_{event.lower()} AFTER {event} ON document BEGIN "
            f"DELETE FROM kept_wind WHERE sha256 = {row}.sha256 AND jump = {row}.jump; END"
        )


def kept_winds(db: sqlite3.Connection, made_by: str) -> dict[Key, str]:
    """What the same program kept, by content and number of the jump."""
    rows = db.execute("SELECT sha256, jump, json FROM kept_wind WHERE made_by = ?", (made_by,))
    return {(str(row[0]), int(row[1])): str(row[2]) for row in rows}


def keep_winds(db: sqlite3.Connection, rows: Iterable[tuple[Key, str]], made_by: str) -> None:
    """Keep some, inside the caller's transaction."""
    db.executemany(
        "INSERT OR REPLACE INTO kept_wind VALUES (?, ?, ?, ?)",
        ((sha256, jump, made_by, text) for (sha256, jump), text in rows),
    )
