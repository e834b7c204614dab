"""Single rows of a logbook that were damaged or edited: found, set aside, made again from their document or their file."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from typing import Final, NamedTuple

from analyser.logbook.jump_columns import COLUMNS, NUMBERS, WHO, Row, jump_row
from analyser.logbook.schema import store_row

__all__ = ["Damage", "find_damage", "mend", "row_of"]

_TEXTS: Final = [name for name in (*WHO, *COLUMNS) if name not in NUMBERS]
_UTC: Final = (
    "landing_utc IS NULL OR (strftime('%Y-%m-%dT%H:%M:%S', landing_utc) = substr(landing_utc, 1, 19) "
    "AND date(substr(landing_utc, 1, 10), '+0 days') = substr(landing_utc, 1, 10) "
    "AND substr(landing_utc, 20) GLOB '*Z' AND substr(landing_utc, 20) NOT GLOB '*[^.0-9Z]*')"
)
_ROW_IS_SOUND: Final = " AND ".join(
    [
        "typeof(sha256) = 'text' AND typeof(jump) = 'integer' AND kind IS NOT NULL",
        *(f"typeof({name}) IN ('text', 'null')" for name in _TEXTS),
        # every text and every blob is greater than every number
        *(f"({name} IS NULL OR {name} BETWEEN -1e300 AND 1e300)" for name in NUMBERS),
        f"({_UTC})",
    ]
)
_SETTLED: Final = (
    "typeof(settings) = 'text' AND status IN ('done', 'failed') AND typeof(jumps) = 'integer' AND "
    "typeof(reason) IN ('text', 'null') AND (status = 'failed' OR "
    "jumps = (SELECT count(*) FROM jump WHERE jump.sha256 = content.sha256))"
)
_PLACED: Final = (
    "typeof(path) = 'text' AND typeof(sha256) = 'text' AND typeof(size + mtime_ns + ctime_ns) = 'integer'"
)
_NO_CONTENT: Final = "sha256 NOT IN (SELECT sha256 FROM content)"
_SET_ASIDE: Final = "CREATE TABLE IF NOT EXISTS set_aside (sha256, jump, old_row TEXT, json TEXT)"


class Damage(NamedTuple):
    """What is wrong with one entry: which content and jump (0: the whole content), and the words for it."""

    sha256: str
    jump: int
    what: str


def find_damage(db: sqlite3.Connection, *, documents: bool = True, values: bool = False) -> list[Damage]:
    """Rows and documents that can not be as they were written.

    ``documents`` False looks at the rows alone; ``values`` also compares every number of every row with its document, which takes a
    millisecond a jump.
    """
    found = [
        Damage(str(row[0]), _whole(row[1]), "a damaged row")
        for row in db.execute(f"SELECT sha256, jump FROM jump WHERE NOT coalesce({_ROW_IS_SOUND}, 0)")
    ]
    if documents:
        query = "SELECT sha256, jump FROM document WHERE typeof(json) <> 'text' OR NOT json_valid(json)"
        broken = [Damage(str(row[0]), _whole(row[1]), "a broken document") for row in db.execute(query)]
        found += broken or [damage for damage in _other_kinds(db) if damage[:2] not in {f[:2] for f in found}]
    if values:
        found += _other_values(db, {damage[:2] for damage in found})
    known = {damage.sha256 for damage in found}
    query = f"SELECT sha256 FROM content WHERE NOT coalesce({_SETTLED}, 0)"
    found += [Damage(str(r[0]), 0, "a damaged entry") for r in db.execute(query) if str(r[0]) not in known]
    return found


def _other_kinds(db: sqlite3.Connection) -> list[Damage]:
    query = (
        "SELECT sha256, jump FROM jump JOIN document USING (sha256, jump) "
        "WHERE kind IS NOT coalesce(json_extract(json, '$.kind'), 'jump')"
    )
    return [Damage(str(row[0]), _whole(row[1]), "a row unlike its document") for row in db.execute(query)]


def _other_values(db: sqlite3.Connection, known: set[tuple[str, int]]) -> list[Damage]:
    found = []
    for row in db.execute("SELECT * FROM jump ORDER BY sha256, jump").fetchall():
        key = str(row["sha256"]), _whole(row["jump"])
        own = {name: value for name, value in dict(row).items() if name not in ("sha256", "jump")}
        if key not in known and row_of(db, *key) != own:
            found.append(Damage(*key, "a row unlike its document"))
    return found


def _whole(jump: object) -> int:
    return jump if isinstance(jump, int) else 0


def mend(db: sqlite3.Connection, *, documents: bool, values: bool = False) -> list[str]:
    """Set damaged entries aside; a row is made again from its document where that is whole, else its file is debriefed again.

    Returns a line for each, inside a transaction of its own. Nothing is written where nothing is wrong.
    """
    lost = db.execute(f"SELECT count(*) FROM track WHERE NOT coalesce({_PLACED}, 0)").fetchone()[0]
    lost += db.execute(f"SELECT count(*) FROM track WHERE {_NO_CONTENT}").fetchone()[0]
    damages = find_damage(db, documents=documents, values=values)
    if not damages and not lost:
        return []
    db.execute("BEGIN IMMEDIATE")
    try:
        db.execute(_SET_ASIDE)
        lines = [_mended(db, damage) for damage in damages]
        _place_again(db)
        db.execute("COMMIT")
    except BaseException:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise
    return lines + ([f"the places of {lost} track(s) were damaged and are looked up again"] if lost else [])


def _place_again(db: sqlite3.Connection) -> None:
    """Damaged places of tracks: looked at again under their names; a content whose place is lost gets one, so that its jumps stay."""
    for column in ("path", "sha256"):
        db.execute(
            f"UPDATE OR IGNORE track SET {column} = CAST({column} AS TEXT) WHERE typeof({column}) = 'blob'"
        )
    db.execute(
        "UPDATE track SET size = -1, mtime_ns = -1, ctime_ns = -1 "
        "WHERE typeof(size) <> 'integer' OR typeof(mtime_ns) <> 'integer' OR typeof(ctime_ns) <> 'integer'"
    )
    wrong = db.execute(f"SELECT count(*) FROM track WHERE NOT coalesce({_PLACED}, 0) OR {_NO_CONTENT}")
    if wrong.fetchone()[0]:
        db.execute(
            "INSERT OR IGNORE INTO track SELECT 'place lost: ' || substr(sha256, 1, 12), sha256, -1, -1, -1 "
            "FROM content WHERE sha256 NOT IN (SELECT sha256 FROM track)"
        )
        db.execute(f"DELETE FROM track WHERE NOT coalesce({_PLACED}, 0) OR {_NO_CONTENT}")


def _mended(db: sqlite3.Connection, damage: Damage) -> str:
    sha256, jump, what = damage
    for row in db.execute("SELECT * FROM jump WHERE sha256 = ? AND jump = ?", (sha256, jump)).fetchall():
        text = json.dumps(dict(row), default=repr)
        query = "SELECT CAST(json AS BLOB) FROM document WHERE sha256 = ? AND jump = ?"
        kept = (bytes(raw).decode("utf-8", "replace") for (raw,) in db.execute(query, (sha256, jump)) if raw)
        db.execute("INSERT INTO set_aside VALUES (?, ?, ?, ?)", (sha256, jump, text, next(kept, None)))
    again = row_of(db, sha256, jump)
    if again is not None:
        store_row(db, sha256, jump, again)
    query = f"SELECT 1 FROM jump WHERE sha256 = ? AND jump = ? AND {_ROW_IS_SOUND}"
    if again is not None and db.execute(query, (sha256, jump)).fetchone() is not None:
        return f"{_name(db, sha256)}: had {what} in the logbook; made again from its document"
    for table in ("jump", "document"):
        db.execute(f"DELETE FROM {table} WHERE sha256 = ? AND jump = ?", (sha256, jump))
    _rows_without_one(db, sha256)
    # without settings its file is debriefed again; where that is gone, the rest of its jumps stays as it is
    db.execute(
        "UPDATE content SET settings = '', status = 'done', reason = NULL, "
        "jumps = (SELECT count(*) FROM jump WHERE jump.sha256 = content.sha256) WHERE sha256 = ?",
        (sha256,),
    )
    db.execute("DELETE FROM content WHERE sha256 = ? AND jumps = 0", (sha256,))
    return f"{_name(db, sha256)}: had {what} in the logbook; set aside, made again from its file if that is still there"


def _rows_without_one(db: sqlite3.Connection, sha256: str) -> None:
    """Make the rows of a content that are missing from their documents; a document that gives none is set aside."""
    query = "SELECT jump, json FROM document WHERE sha256 = ? AND jump NOT IN (SELECT jump FROM jump WHERE sha256 = ?)"
    for jump, text in db.execute(query, (sha256, sha256)).fetchall():
        try:
            store_row(db, sha256, jump, {**dict.fromkeys(WHO), **jump_row(json.loads(text))})
        except (ValueError, TypeError, KeyError, AttributeError, RecursionError, sqlite3.Error):
            db.execute("INSERT INTO set_aside VALUES (?, ?, NULL, ?)", (sha256, jump, text))
            db.execute("DELETE FROM document WHERE sha256 = ? AND jump = ?", (sha256, jump))


def row_of(db: sqlite3.Connection, sha256: str, jump: int) -> Row | None:
    """The row of one jump as its document has it, with the names that stand in the old row; None without a whole document."""
    names = db.execute(f"SELECT {', '.join(WHO)} FROM jump WHERE sha256 = ? AND jump = ?", (sha256, jump))
    old = names.fetchone()
    if old is None:
        return None
    who = {name: value if isinstance(value, str) else None for name, value in zip(WHO, old, strict=True)}
    try:
        return who | jump_row(json.loads(next(_documents(db, sha256, jump))))
    except (StopIteration, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None


def _documents(db: sqlite3.Connection, sha256: str, jump: int) -> Iterator[str]:
    """The document of a jump where it is one; a changed byte may have left no text."""
    query = "SELECT CAST(json AS BLOB) FROM document WHERE sha256 = ? AND jump = ? AND typeof(json) = 'text'"
    for (text,) in db.execute(query, (sha256, jump)):
        try:
            yield bytes(text).decode("utf-8")
        except UnicodeDecodeError:
            continue


def _name(db: sqlite3.Connection, sha256: str) -> str:
    row = db.execute("SELECT min(path) FROM track WHERE sha256 = ?", (sha256,)).fetchone()
    return str(row[0]) if row[0] is not None else f"content {sha256[:12]}"
