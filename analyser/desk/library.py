"""Library: what the logbook holds, read in one thread that keeps it open, so that pages never wait for a run."""

from __future__ import annotations

import asyncio
import json
from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, Final, NamedTuple, TypeVar

from analyser.desk.corrections import JumpId
from analyser.desk.folder import DeskFolder
from analyser.desk.work import Assignment, Content, Logbook, MeasuredTrim, Plans, SettingsError

__all__ = ["JumpFacts", "Known", "Library", "Line", "Overview"]

T = TypeVar("T")
SHOWN: Final = 30
PICKABLE: Final = 400


class Line(NamedTuple):
    """One jump in a list: its id, the columns of its row that lists show, SI and UTC."""

    id: JumpId
    row: dict[str, Any]


class Known(NamedTuple):
    """What the logbook knows to choose from: jumpers, canopies, fields with the target last used there; and the trim speeds last
    measured of each canopy."""

    jumpers: tuple[str, ...]
    canopies: tuple[str, ...]
    sites: dict[str, tuple[float, float] | None]
    trims: dict[str, MeasuredTrim]


class Overview(NamedTuple):
    """The last jumps (newest first), how many there are, what can be chosen, tracks that gave nothing (path, reason)."""

    lines: tuple[Line, ...]
    total: int
    known: Known
    failures: tuple[tuple[str, str], ...]


class JumpFacts(NamedTuple):
    """One jump: its id, the numbers of all jumps of its file, who and what, its document, where the track lies, what holds for it."""

    id: JumpId
    numbers: tuple[int, ...]
    who: dict[str, Any]
    document: dict[str, Any]
    track: Path
    assignment: Assignment

    @property
    def whole(self) -> JumpId:
        """The id under which corrections are written: without a number where the file holds one jump only."""
        return self.id if len(self.numbers) > 1 else JumpId(self.id.sha256, 0)

    @property
    def settings(self) -> Any:
        """What holds for this jump."""
        return dict(self.assignment.overrides).get(self.id.jump, self.assignment.settings)


class Library:
    """Questions to the logbook of a folder, all answered in one thread."""

    def __init__(self, folder: DeskFolder) -> None:
        self._folder = folder
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="library")
        self._book: Logbook | None = None

    async def ask(self, question: Callable[..., T], *values: Any) -> T:
        """The answer of one of the questions below."""
        return await asyncio.get_running_loop().run_in_executor(self._thread, question, *values)

    def close(self) -> None:
        """Let the logbook go."""
        self._thread.submit(lambda: self._book.close() if self._book else None).result()
        self._thread.shutdown()

    def _open(self) -> Logbook:
        if self._book is None:
            self._book = Logbook(self._folder.logbook)
        return self._book

    def overview(self, most: int = SHOWN) -> Overview:
        """What the start page shows."""
        book = self._open()
        last: deque[Line] = deque(maxlen=most)
        count = 0
        latest: dict[str, JumpId] = {}
        canopies: set[str] = set()
        trims: dict[str, MeasuredTrim] = {}
        for row in book.rows():
            line = Line(JumpId(row["sha256"], row["jump"]), row)
            last.append(line)
            count += 1
            if row["canopy"]:
                canopies.add(row["canopy"])
            if row["airspeed_mps"] is not None and row["sink_mps"] is not None:
                errors = (row["airspeed_sd_mps"] or 0.0, row["sink_sd_mps"] or 0.0)
                trims[row["canopy"] or ""] = MeasuredTrim(row["airspeed_mps"], row["sink_mps"], *errors)
            if row["site"] and (row["offset_m"] is not None or row["site"] not in latest):
                latest[row["site"]] = line.id  # a later jump without a target takes none away
        jumpers = tuple(name for name in book.jumpers() if name)
        sites = {name: self._target(book, latest[name]) for name in sorted(latest)}
        known = Known(jumpers, tuple(sorted(canopies)), sites, trims)
        failures = tuple((f.path, f.reason) for f in book.failures())
        return Overview(tuple(reversed(last)), count, known, failures)

    def _target(self, book: Logbook, jump: JumpId) -> tuple[float, float] | None:
        try:
            facts = self._facts(book, jump)
        except SettingsError:
            return None
        target: tuple[float, float] | None = None if facts is None else facts.settings.site.target
        return target

    def jump(self, jump: JumpId) -> JumpFacts | None:
        """Everything about one jump; None where the logbook does not know it."""
        return self._facts(self._open(), jump)

    def _facts(self, book: Logbook, jump: JumpId) -> JumpFacts | None:
        who = book.who(jump.sha256)
        text = book.document(*jump)
        tracks = [path for path in book.tracks(jump.sha256) if path.is_file()]
        if text is None or jump.jump not in who or not tracks:
            return None
        assignment = Plans().assign(tracks[0], jump.sha256)
        return JumpFacts(jump, tuple(sorted(who)), who[jump.jump], json.loads(text), tracks[0], assignment)

    def contents(self, hashes: Sequence[str]) -> dict[str, tuple[Content, tuple[int, ...]]]:
        """What is known of some contents, with the numbers of their jumps."""
        book = self._open()
        known = {sha: book.content(sha) for sha in hashes}
        return {
            sha: (content, tuple(sorted(book.who(sha))))
            for sha, content in known.items()
            if content is not None
        }

    def places(self, sha256: str) -> list[Path]:
        """Where a content lies now."""
        return [path for path in self._open().tracks(sha256) if path.is_file()]

    def ids(self, hashes: Sequence[str]) -> list[tuple[JumpId, Path]]:
        """Every jump of some contents with the place of its track; those that are not known are left out."""
        book = self._open()
        found = []
        for sha in hashes:
            tracks = book.tracks(sha)
            found += [(JumpId(sha, jump), tracks[0]) for jump in book.who(sha) if tracks]
        return found

    def pickable(self) -> tuple[Line, ...]:
        """The jumps one may lay beside another, newest first."""
        last = deque(self._open().rows(), maxlen=PICKABLE)
        return tuple(Line(JumpId(row["sha256"], row["jump"]), row) for row in reversed(last))
