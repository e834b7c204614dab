"""The logbook: one SQLite file with a row and a JSON document per jump, safe against kills and against two runs at once."""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from analyser.logbook.earlier import Weighable, before, weighable
from analyser.logbook.entries import (
    UNWEIGHED,
    Content,
    Entry,
    drop_jumps,
    holds_others,
    known_entries,
    plain_rows,
    put_place,
    unweigh,
)
from analyser.logbook.jump_columns import WHO, Row, document_text
from analyser.logbook.kept_figures import keep_figures, kept_figures
from analyser.logbook.kept_winds import KeptWind, keep_loads, keep_winds, kept_loads, kept_winds
from analyser.logbook.mend import mend
from analyser.logbook.open import CHECKED_BYTES, open_database, translated
from analyser.logbook.scan import Found
from analyser.logbook.schema import store_row
from analyser.logbook.talks import Note, read_notes, replace_notes
from analyser.logbook.track_paths import is_gone, key_path, key_text, shown_key
from analyser.replay.next_jump import Earlier

__all__ = ["Content", "Entry", "Failure", "Logbook", "Result"]


class Result(NamedTuple):
    """One debriefed jump: its number in the file, its row (WHO and COLUMNS) and its document as JSON text."""

    jump: int
    row: Row
    document: str


class Failure(NamedTuple):
    """A file that gave nothing, and why."""

    path: str
    reason: str


class Logbook:
    """An open logbook. Every public method that writes does so in one transaction; use as a context manager.

    ``sound``: this process looked for damaged entries a moment ago. ``mended``: a line for each that was found and is made again. Raises OutputError, one line, where the file can not be
    opened, is no logbook, is damaged, in use or full.
    """

    def __init__(self, path: str | os.PathLike[str], *, sound: bool = False) -> None:
        self.path = Path(os.path.abspath(path))
        self._db = open_database(self.path)
        self.mended: list[str] = []
        if not sound:
            with translated(self.path):
                self.mended = mend(self._db, documents=os.path.getsize(self.path) <= CHECKED_BYTES)
        self._top = f"{self.path.parent}{os.sep}"
        self._met: set[str] = set()
        self._seen: dict[str, str | None] = {}
        self._spoilt: set[str] = set()

    def compare(self) -> None:
        """Compare every row with its document and make again those that differ; ``mended`` grows by a line for each."""
        with translated(self.path):
            self.mended += mend(self._db, documents=True, values=True)

    def __enter__(self) -> Logbook:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; what was written stays."""
        self._db.close()

    def key(self, path: Path) -> str:
        """How a track's path stands in the logbook: relative to its folder where the track lies below it."""
        whole = str(path)
        if whole.startswith(self._top) and ".." not in whole:
            return key_text(whole[len(self._top) :])
        path = Path(os.path.abspath(path))
        below = path.is_relative_to(self.path.parent)
        return key_text(str(path.relative_to(self.path.parent) if below else path))

    def place(self, key: str) -> Path:
        """Where the track of a key lies."""
        return self.path.parent / key_path(key)

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        with translated(self.path):
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield self._db
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise

    def _all(self, query: str, values: Sequence[object] = ()) -> Iterator[sqlite3.Row]:
        with translated(self.path):
            yield from self._db.execute(query, values)

    def _one(self, query: str, values: Sequence[object] = ()) -> sqlite3.Row | None:
        return next(self._all(query, values), None)

    # --- one run -------------------------------------------------------------------------------------------

    def begin(self) -> None:
        """Begin a run: no track was met yet."""
        self._met.clear()
        self._seen.clear()
        self._spoilt.clear()

    def see(self, key: str, sha256: str | None) -> bool:
        """Note that this run met a track; whether another track with the same content was met before."""
        self._seen[key] = sha256
        if sha256 is None:
            return False
        before = len(self._met)
        self._met.add(sha256)
        return len(self._met) == before

    def known(self, tracks: Mapping[str, Found]) -> dict[str, Entry]:
        """Of some tracks by their keys, what is known of those that have not changed since they were last read."""
        with translated(self.path):
            return known_entries(self._db, tracks)

    def known_hash(self, key: str, found: Found) -> str | None:
        """The content hash of a track that has not changed since it was last read, else None."""
        row = self._one("SELECT sha256, size, mtime_ns, ctime_ns FROM track WHERE path = ?", (key,))
        same = row is not None and (row[1], row[2], row[3]) == tuple(found[1:])
        return str(row[0]) if row is not None and same else None

    def content_at(self, key: str) -> str | None:
        """The content hash of the track that lies, or lay, at a key."""
        row = self._one("SELECT sha256 FROM track WHERE path = ?", (key,))
        return None if row is None else str(row[0])

    def content(self, sha256: str) -> Content | None:
        """What is known of a content, or None."""
        row = self._one("SELECT settings, status, reason, jumps FROM content WHERE sha256 = ?", (sha256,))
        return Content(row[0].removesuffix(UNWEIGHED), *row[1:]) if row is not None else None

    def put_track(self, key: str, sha256: str, found: Found) -> None:
        """Note where a content lies."""
        with self._writing() as db:
            put_place(db, key, sha256, found)

    def put_results(
        self, key: str, sha256: str, found: Found, settings: str, results: Iterable[Result]
    ) -> None:
        """Enter the jumps of one file in place of what was known of its content."""
        with self._writing() as db:
            put_place(db, key, sha256, found)
            before = drop_jumps(db, sha256)
            count = 0
            for result in results:
                db.execute("INSERT INTO document VALUES (?, ?, ?)", (sha256, result.jump, result.document))
                store_row(db, sha256, result.jump, result.row)
                count += 1
            values = (sha256, settings + UNWEIGHED, "done", None, count)
            db.execute("INSERT OR REPLACE INTO content VALUES (?, ?, ?, ?, ?)", values)
            unweigh(db, before)

    def put_failure(self, key: str, sha256: str, found: Found, settings: str, reason: str) -> None:
        """Enter why a file gave nothing; one that gave jumps before keeps them, as one that is gone does, and is tried again."""
        if holds_others(self._db, key, sha256):
            self._spoilt.add(key)
            self.put_unreadable(key, reason)
            return
        with self._writing() as db:
            put_place(db, key, sha256, found)
            before = drop_jumps(db, sha256)
            values = (sha256, settings, "failed", reason, 0)
            db.execute("INSERT OR REPLACE INTO content VALUES (?, ?, ?, ?, ?)", values)
            unweigh(db, before)

    def put_unreadable(self, key: str, reason: str) -> None:
        """Enter a file that can not even be read."""
        row = self._one("SELECT reason FROM unreadable WHERE path = ?", (key,))
        if row is None or row[0] != reason:
            with self._writing() as db:
                db.execute("INSERT OR REPLACE INTO unreadable VALUES (?, ?)", (key, reason))

    def who(self, sha256: str) -> dict[int, Row]:
        """Jump number → the columns WHO of every jump of a content."""
        query = f"SELECT jump, {', '.join(WHO)} FROM jump WHERE sha256 = ?"
        return {row[0]: dict(zip(WHO, row[1:], strict=True)) for row in self._all(query, (sha256,))}

    def put_who(self, sha256: str, jump: int, who: Row) -> None:
        """Change who and what a jump belongs to, in its row and, where it names the canopy, in its document."""
        assign = ", ".join(f"{name} = ?" for name in WHO)
        document = json.loads(self.document(sha256, jump) or "{}")
        wing = document.get("canopy") if isinstance(document, dict) else None
        with self._writing() as db:
            if isinstance(wing, dict) and wing.get("name") != who["canopy"]:
                wing["name"] = who["canopy"]
                text = document_text(document)
                db.execute("UPDATE document SET json = ? WHERE sha256 = ? AND jump = ?", (text, sha256, jump))
            query = "SELECT jumper FROM jump WHERE sha256 = ? AND jump = ?"
            before = [row[0] for row in db.execute(query, (sha256, jump))]
            values = (*(who[name] for name in WHO), sha256, jump)
            db.execute(f"UPDATE jump SET {assign} WHERE sha256 = ? AND jump = ?", values)
            unweigh(db, [*before, who["jumper"]])

    def put_talks(self, source: Path, notes: Sequence[Note]) -> None:
        """Keep the talks of one ``logbook.toml`` in place of what it said before; nothing is written where nothing changed."""
        key = self.key(source)
        query = "SELECT jumper, day, agreed, about, done FROM talk WHERE source = ? ORDER BY place"
        if [Note(*row) for row in self._all(query, (key,))] != list(notes):
            with self._writing() as db:
                replace_notes(db, key, notes)

    def finish(self, folders: Sequence[Path], *, forget: bool = False) -> list[str]:
        """End a run over ``folders``: forget old names of moved tracks and contents that no track holds any more.

        Returns the tracks below the folders that are no longer there; their jumps are kept, unless ``forget``.
        """
        tops = [os.path.abspath(folder) for folder in folders]
        places = ((key, self.place(key)) for key in self._unseen())
        gone = [key for key, place in places if _below(place, tops) and is_gone(place)]
        with self._writing() as db:
            for key in gone:
                db.execute(
                    "DELETE FROM track WHERE path = :path AND (:forget OR EXISTS (SELECT 1 FROM track AS other "
                    "WHERE other.sha256 = track.sha256 AND other.path <> :path))",
                    {"path": key, "forget": forget},
                )
            orphans = "sha256 NOT IN (SELECT sha256 FROM track)"
            fewer = [row[0] for row in db.execute(f"SELECT DISTINCT jumper FROM jump WHERE {orphans}")]
            for table in ("content", "jump", "document"):
                db.execute(f"DELETE FROM {table} WHERE {orphans}")
            unweigh(db, fewer)
            bad = [row[0] for row in db.execute("SELECT path FROM unreadable")]
            read = [(k,) for k in bad if self._seen.get(k) is not None and k not in self._spoilt]
            db.executemany("DELETE FROM unreadable WHERE path = ?", read)
            sources = [r[0] for r in db.execute("SELECT DISTINCT source FROM talk")]
            db.executemany(
                "DELETE FROM talk WHERE source = ?", [(s,) for s in sources if is_gone(self.place(s))]
            )
            lost = [r[0] for r in db.execute("SELECT path FROM unreadable") if is_gone(self.place(r[0]))]
            db.executemany("DELETE FROM unreadable WHERE path = ?", [(key,) for key in lost])
        return [
            k for k in gone if forget or self._one("SELECT 1 FROM track WHERE path = ?", (k,)) is not None
        ]

    def _unseen(self) -> Iterator[str]:
        known = (str(row[0]) for row in self._all("SELECT path FROM track ORDER BY path"))
        return (key for key in known if key not in self._seen)

    def unweighed(self) -> bool:
        """Whether jumps came, went or changed hands since the advice was last weighed against the logbook."""
        return self._one(f"SELECT 1 FROM content WHERE settings LIKE '%{UNWEIGHED}'") is not None

    def weighable(self) -> Iterator[Weighable]:
        """Every jump whose advice was chosen from something, each with the jumps before it, of all jumpers whose jumps changed since
        advice was last weighed."""
        query = (
            "SELECT DISTINCT jumper FROM jump WHERE sha256 IN "
            f"(SELECT sha256 FROM content WHERE settings LIKE '%{UNWEIGHED}')"
        )
        for jumper in [row[0] for row in self._all(query)]:
            with translated(self.path):
                yield from weighable(self._db, jumper)

    def put_advice(self, sha256: str, jump: int, advice: Sequence[Row]) -> None:
        """Change the advice in the document of one jump."""
        document = json.loads(self.document(sha256, jump) or "{}")
        text = document_text(document | {"advice": list(advice)})
        with self._writing() as db:
            db.execute("UPDATE document SET json = ? WHERE sha256 = ? AND jump = ?", (text, sha256, jump))

    def all_weighed(self) -> None:
        """Note that all advice was weighed against the logbook as it is."""
        with self._writing() as db:
            db.execute(
                f"UPDATE content SET settings = rtrim(settings, '{UNWEIGHED}') WHERE settings LIKE '%{UNWEIGHED}'"
            )

    # --- reading -------------------------------------------------------------------------------------------

    def rows(self, jumper: str | None = None, *, one_jumper: bool = False) -> Iterator[Row]:
        """The jumps in order of landing, one at a time; with ``one_jumper`` only those of ``jumper`` (None = nobody named)."""
        where = "WHERE jumper IS ?" if one_jumper else ""
        query = (
            "SELECT (SELECT min(path) FROM track WHERE track.sha256 = jump.sha256) AS file, jump.* "
            f"FROM jump {where} ORDER BY landing_utc, sha256, jump"
        )
        for row in self._all(query, (jumper,) if one_jumper else ()):
            yield dict(row) | {"file": self._shown(row["file"])}

    def landings(self) -> Iterator[tuple[str, str, int, float, float]]:
        """When and where every jump landed, in order: UTC, content and number of the jump, latitude, longitude; only where that is known."""
        query = (
            "SELECT landing_utc, sha256, jump, landing_lat, landing_lon FROM jump WHERE kind = 'jump' AND landing_utc IS NOT NULL "
            "AND landing_lat IS NOT NULL AND landing_lon IS NOT NULL ORDER BY landing_utc, sha256, jump"
        )
        with translated(self.path):
            yield from plain_rows(self._db, query)

    def jumpers(self) -> list[str | None]:
        """Everybody named in the logbook, sorted; None stands for jumps of nobody named and comes last."""
        names = [row[0] for row in self._all("SELECT DISTINCT jumper FROM jump")]
        return sorted(names, key=lambda name: (name is None, name or ""))

    def document(self, sha256: str, jump: int) -> str | None:
        """The JSON document of one jump."""
        row = self._one("SELECT json FROM document WHERE sha256 = ? AND jump = ?", (sha256, jump))
        return None if row is None else str(row[0])

    def tracks(self, sha256: str) -> list[Path]:
        """Where a content lies, as whole paths, sorted; empty where it is not known."""
        query = "SELECT path FROM track WHERE sha256 = ? ORDER BY path"
        return [self.place(row[0]) for row in self._all(query, (sha256,))]

    def talks(self) -> dict[str, list[Note]]:
        """Jumper -> the talks noted, the oldest first."""
        found: dict[str, list[Note]] = {}
        with translated(self.path):
            for note in read_notes(self._db):
                found.setdefault(note.jumper, []).append(note)
        return found

    def figures(self, jumper: str | None, made_by: str) -> str | None:
        """What was kept of a jumper by the same program, as it was given to :meth:`keep`; None where a jump has changed since."""
        with translated(self.path):
            return kept_figures(self._db, jumper, made_by)

    def kept_winds(self, made_by: str) -> dict[tuple[str, int], KeptWind]:
        """What the same program kept of the winds of jumps, by content and number, until their documents change."""
        with translated(self.path):
            return kept_winds(self._db, made_by)

    def kept_loads(self, made_by: str) -> dict[str, tuple[int, int, int]]:
        """What the same program counted of loads (jumps, pairs, pairs within their error), by a hash of what their members told."""
        with translated(self.path):
            return kept_loads(self._db, made_by)

    def keep_winds(
        self,
        winds: Mapping[tuple[str, int], KeptWind],
        loads: Mapping[str, tuple[int, int, int]],
        gone: Collection[str],
        made_by: str,
    ) -> None:
        """Keep the winds of some jumps until their documents change, and what was counted of some loads; forget loads that are ``gone``."""
        if winds or loads or gone:
            with self._writing() as db:
                keep_winds(db, winds.items(), made_by)
                keep_loads(db, loads, gone, made_by)

    def keep(self, figures: Mapping[str | None, str], made_by: str) -> None:
        """Keep the figures of some jumpers until one of their jumps changes."""
        if figures:
            with self._writing() as db:
                for jumper, text in figures.items():
                    keep_figures(db, jumper, made_by, text)

    def earlier(self, jumper: str | None, landing_s: float) -> Earlier:
        """What the jumps of a jumper (None: of nobody named) before a landing [s since 1970] say about habits."""
        with translated(self.path):
            return before(self._db, jumper, landing_s)

    def failures(self) -> Iterator[Failure]:
        """Files that gave nothing, by path."""
        query = (
            "SELECT path, reason FROM track JOIN content USING (sha256) WHERE status = 'failed' "
            "UNION SELECT path, reason FROM unreadable ORDER BY path"
        )
        return (Failure(self._shown(row[0]) or "", row[1]) for row in self._all(query))

    def _shown(self, key: str | None) -> str | None:
        return None if key is None else shown_key(key, str(self.path.parent))

    def holds(self, path: Path) -> bool:
        """Whether a path is that of a track in the logbook."""
        return self._one("SELECT 1 FROM track WHERE path = ?", (self.key(path),)) is not None

    def count(self) -> int:
        """How many jumps the logbook holds."""
        row = self._one("SELECT count(*) FROM jump")
        return 0 if row is None else int(row[0])


def _below(place: Path, tops: Sequence[str]) -> bool:
    return any(place.is_relative_to(top) for top in tops)
