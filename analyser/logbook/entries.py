"""What a logbook holds of tracks and their contents, looked up for many tracks at once."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

from analyser.logbook.jump_columns import WHO, Row
from analyser.logbook.scan import Found

__all__ = [
    "UNWEIGHED",
    "Content",
    "Entry",
    "drop_jumps",
    "holds_others",
    "known_entries",
    "plain_rows",
    "put_place",
    "unweigh",
]

UNWEIGHED: Final = "+"  # behind the settings of a content whose jumps the advice was not yet weighed with


class Content(NamedTuple):
    """What is known of one file's content: under which settings it was debriefed, and how that ended."""

    settings: str
    status: str
    reason: str | None
    jumps: int


class Entry(NamedTuple):
    """What the logbook holds of a track that has not changed: its content's hash, that content, and the columns WHO of its jumps."""

    sha256: str
    content: Content | None
    who: dict[int, Row]


def known_entries(db: sqlite3.Connection, tracks: Mapping[str, Found]) -> dict[str, Entry]:
    """Of some tracks by their keys, what is known of those that have not changed since they were last read."""
    query = (
        "SELECT track.path, track.sha256, size, mtime_ns, ctime_ns, settings, status, reason, jumps "
        "FROM json_each(?) AS wanted CROSS JOIN track ON track.path = wanted.value "
        "LEFT JOIN content ON content.sha256 = track.sha256"
    )
    rows = [
        row for row in plain_rows(db, query, (json.dumps(list(tracks)),)) if row[2:5] == tracks[row[0]][1:]
    ]
    who: dict[str, dict[int, Row]] = {}
    query = (
        f"SELECT sha256, jump, {', '.join(WHO)} FROM jump WHERE sha256 IN (SELECT value FROM json_each(?))"
    )
    for sha256, jump, *values in plain_rows(db, query, (json.dumps([row[1] for row in rows]),)):
        who.setdefault(sha256, {})[jump] = dict(zip(WHO, values, strict=True))
    return {
        key: Entry(
            sha256,
            None if settings is None else Content(settings.removesuffix(UNWEIGHED), status, reason, jumps),
            who.get(sha256, {}),
        )
        for key, sha256, _, _, _, settings, status, reason, jumps in rows
    }


def plain_rows(
    db: sqlite3.Connection, query: str, values: Sequence[object] = ()
) -> Iterator[tuple[Any, ...]]:
    """Rows as tuples, which is faster where there are many."""
    cursor = db.cursor()
    cursor.row_factory = None
    return cursor.execute(query, values)


def unweigh(db: sqlite3.Connection, jumpers: Iterable[str | None]) -> None:
    """Mark that jumps of some jumpers changed, so that their advice is weighed again; one content of each bears the mark."""
    for jumper in jumpers:
        db.execute(
            "UPDATE content SET settings = settings || ? WHERE sha256 = (SELECT min(sha256) FROM jump WHERE jumper IS ?) "
            "AND settings NOT LIKE '%' || ?",
            (UNWEIGHED, jumper, UNWEIGHED),
        )


def drop_jumps(db: sqlite3.Connection, sha256: str) -> list[str | None]:
    """Forget the jumps of a content; whose they were."""
    whose = [row[0] for row in db.execute("SELECT DISTINCT jumper FROM jump WHERE sha256 = ?", (sha256,))]
    db.execute("DELETE FROM jump WHERE sha256 = ?", (sha256,))
    db.execute("DELETE FROM document WHERE sha256 = ?", (sha256,))
    return whose


def put_place(db: sqlite3.Connection, key: str, sha256: str, found: Found) -> None:
    """Note where a content lies, in the caller's transaction."""
    values = (key, sha256, found.size, found.mtime_ns, found.ctime_ns)
    db.execute("INSERT OR REPLACE INTO track VALUES (?, ?, ?, ?, ?)", values)


def holds_others(db: sqlite3.Connection, key: str, sha256: str) -> bool:
    """Whether a track's place held another content with jumps, which a failure would take away."""
    query = "SELECT 1 FROM track JOIN content USING (sha256) WHERE path = ? AND sha256 <> ? AND jumps > 0"
    return db.execute(query, (key, sha256)).fetchone() is not None
