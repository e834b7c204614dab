"""Talks with a pupil: when, what was agreed, whether it was done; written in ``logbook.toml``, kept in the logbook."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Final, NamedTuple

from analyser.settings.read_keys import Entry, Given
from analyser.settings.schema import Choice, Day, Rows, Text

if TYPE_CHECKING:
    import sqlite3

__all__ = ["ABOUT", "DONE", "TALK_ROWS", "Note", "create_talks", "note_of", "read_notes", "replace_notes"]

ABOUT: Final = (
    "crosswind turn", "downwind turn", "base turn", "final turn", "long or short", "left or right", "distance",
    "low turns", "heading changes near the ground", "short finals", "S-turns on final", "large last turns",
    "full turns at pattern height", "winds near the airspeed", "the other hand than the site's", "areas overflown too low",
)  # fmt: skip
"""What a talk may be about, so that the jumps since can be set beside those before."""

DONE: Final = ("yes", "partly", "no")

TALK_ROWS: Final = Rows(
    {"jumper": Text(), "date": Day(), "agreed": Text(), "about": Choice(ABOUT), "done": Choice(DONE)},
    ("date",),
    most=20_000,
)


class Note(NamedTuple):
    """One talk: with whom, on which day (``2026-06-14``), what was agreed, what it was about (of ABOUT), whether it was done (of DONE)."""

    jumper: str
    day: str
    agreed: str | None = None
    about: str | None = None
    done: str | None = None


def note_of(row: Given, jumper: Entry | None) -> Note:
    """The note of one ``[[talk]]``; ``jumper`` is whose folder it stands in. Raises SettingsError where nobody is named."""
    named = row.get("jumper", jumper)
    if named is None:
        row["date"].fail("a [[talk]] with nobody", 'give it jumper = "…"')
    parts = {key: row[key].value if key in row else None for key in ("agreed", "about", "done")}
    return Note(named.value, row["date"].value, parts["agreed"], parts["about"], parts["done"])


def create_talks(db: sqlite3.Connection) -> None:
    """The table of talks; ``source``: the file each was read from."""
    db.execute(
        "CREATE TABLE IF NOT EXISTS talk (source TEXT NOT NULL, place INTEGER NOT NULL, jumper TEXT NOT NULL, day TEXT NOT NULL, "
        "agreed TEXT, about TEXT, done TEXT, PRIMARY KEY (source, place)) WITHOUT ROWID"
    )


def replace_notes(db: sqlite3.Connection, source: str, notes: Iterable[Note]) -> None:
    """Put the talks of one file in place of those that were read from it before."""
    db.execute("DELETE FROM talk WHERE source = ?", (source,))
    db.executemany(
        "INSERT INTO talk VALUES (?, ?, ?, ?, ?, ?, ?)",
        ((source, i, *note) for i, note in enumerate(notes)),
    )


def read_notes(db: sqlite3.Connection) -> Iterator[Note]:
    """Every talk, the oldest first."""
    for row in db.execute("SELECT jumper, day, agreed, about, done FROM talk ORDER BY day, source, place"):
        yield Note(*row)
