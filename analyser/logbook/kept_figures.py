"""Figures kept per jumper, so that one more jump of one jumper does not count everybody's jumps anew."""

from __future__ import annotations

import sqlite3

__all__ = ["create_figures", "keep_figures", "kept_figures"]


def create_figures(db: sqlite3.Connection) -> None:
    """The table, and triggers that forget a jumper's figures with every change of one of their jumps, whoever makes it."""
    db.execute(
        "CREATE TABLE IF NOT EXISTS figures (jumper TEXT PRIMARY KEY, made_by TEXT NOT NULL, json TEXT NOT NULL)"
    )
    db.execute("DELETE FROM figures")
    for event, rows in (("INSERT", ("NEW",)), ("UPDATE", ("OLD", "NEW")), ("DELETE", ("OLD",))):
        # a name that was damaged into bytes is no JSON, and must not keep its row from being mended
        gone = "; ".join(
            f"DELETE FROM figures WHERE jumper = json_quote(CAST({row}.jumper AS TEXT))" for row in rows
        )
        db.execute(
            f"CREATE TRIGGER IF NOT EXISTS figures_{event.lower()} AFTER {event} ON jump BEGIN {gone}; END"
        )


def kept_figures(db: sqlite3.Connection, jumper: str | None, made_by: str) -> str | None:
    """The figures of a jumper as they were kept by the same program; None where a jump has changed since."""
    row = db.execute(
        "SELECT json FROM figures WHERE jumper = json_quote(?) AND made_by = ?", (jumper, made_by)
    ).fetchone()
    return None if row is None else str(row[0])


def keep_figures(db: sqlite3.Connection, jumper: str | None, made_by: str, text: str) -> None:
    """Keep the figures of a jumper, inside the caller's transaction."""
    db.execute("INSERT OR REPLACE INTO figures VALUES (json_quote(?), ?, ?)", (jumper, made_by, text))
