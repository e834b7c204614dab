"""Tracks written as XML, in one guarded pass of expat; what GPX and TCX have in common.

No entity, no document type, no deep nesting and no endless tag gets through, and nothing but the given bytes is read.
Elements are known by their local name, whatever the prefix or the namespace. A file that breaks off keeps the points before
the break.
"""

from __future__ import annotations

import math
from array import array
from collections import deque
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pyexpat import ExpatError, ParserCreate
from typing import NoReturn

import numpy as np

from analyser.errors import FormatError, NoFixesError
from analyser.importers.numbers import decimal
from analyser.importers.raw import RawFixes
from analyser.importers.recording import Note

__all__ = ["Dialect", "parse_time", "read_xml"]

MAX_DEPTH = 64
MOST_PIECES = 64  # of text in an element that is read, each of a block at most; more is none
MAX_TAG_BYTES = 4_000_000
_INVALID_TOKEN = 4
_COLUMNS = ("time", "lat", "lon", "altitude", "speed", "course")


@dataclass(frozen=True, slots=True)
class Dialect:
    """What the elements of one format are called, all by their local names.

    ``leaves``: element → the column it fills and whether it must be a child of the point itself; ``place``: attributes of the
    point that hold latitude and longitude; ``header``: element outside of points → what it is and the greatest depth it may have.
    """

    title: str
    root: str
    point: str
    parts: frozenset[str]
    leaves: Mapping[str, tuple[str, bool]]
    header: Mapping[str, tuple[str, int]]
    place: tuple[str, str] | None = None
    other_points: frozenset[str] = frozenset()


def parse_time(text: str) -> tuple[float, bool]:
    """Seconds since 1970-01-01 UTC (NaN where unreadable) and whether the text names its zone (else read as UTC)."""
    try:
        moment = datetime.fromisoformat(text.strip().upper())
        if moment.tzinfo is None:
            return moment.replace(tzinfo=UTC).timestamp(), False
        return moment.timestamp(), True
    except (ValueError, OverflowError):
        return math.nan, True


class _Broken(Exception):
    """A guard refused the file."""


class _Points:
    """The handlers of the parser and what they have collected."""

    def __init__(self, parser: object, dialects: Mapping[str, Dialect]) -> None:
        self.parser = parser
        self.dialects = dialects
        self._speak(next(iter(dialects.values())))
        self.rows = array("d")  # all columns of a point, then those of the next
        self.segment = array("q")
        self.part = -1
        self.depth = self.point_depth = self.wanted_depth = 0
        self.local: dict[str, str] = {}
        self.text: deque[str] = deque(maxlen=MOST_PIECES)
        self.wanted = ""
        self.point = [math.nan] * 6
        self.zoneless = self.bad_times = self.bad_heights = self.other_points = 0
        self.root: str | None = None
        self.header: dict[str, str] = {}

    def _speak(self, dialect: Dialect) -> None:
        self.dialect, self.leaves, self.place = dialect, dialect.leaves, dialect.place
        self.name_of_point = dialect.point

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        name = self.local.get(tag) or self._learn(tag)
        self.depth = depth = self.depth + 1
        if depth > MAX_DEPTH:
            raise _Broken("its elements are nested too deeply")
        if self.point_depth:
            if name in self.leaves:
                self._begin(name, depth)
        elif name == self.name_of_point:
            self.point_depth = depth
            self.point = [math.nan] * 6
            if self.place:
                lat, lon = self.place
                self.point[1], self.point[2] = decimal(attributes.get(lat)), decimal(attributes.get(lon))
        else:
            self._outside(name, depth, attributes)

    def _learn(self, tag: str) -> str:
        if len(self.local) > 5000:
            raise _Broken("it holds thousands of different element names")
        name = self.local[tag] = tag.rpartition(":")[2]
        return name

    def _begin(self, name: str, depth: int) -> None:
        self.wanted, self.wanted_depth = name, depth
        self.text.clear()
        self.parser.CharacterDataHandler = self.text.append  # type: ignore[attr-defined]

    def _outside(self, name: str, depth: int, attributes: dict[str, str]) -> None:
        if depth == 1:
            self.root = name
            if name not in self.dialects:
                wanted = " or ".join(f"<{root}>" for root in self.dialects)
                raise _Broken(f"it is XML, but its root is <{name[:40]}>, not {wanted}")
            self._speak(self.dialects[name])
            if "creator" in attributes:
                self.header["device"] = attributes["creator"].strip()
        elif name in self.dialect.parts:
            self.part += 1
        elif name in self.dialect.other_points:
            self.other_points += 1
        elif name in self.dialect.header and depth <= self.dialect.header[name][1]:
            self._begin(name, depth)

    def end(self, tag: str) -> None:
        depth = self.depth
        if self.wanted and depth == self.wanted_depth:
            self._leaf()
        elif depth == self.point_depth:
            self.rows.extend(self.point)
            self.segment.append(self.part)
            self.point_depth = 0
        self.depth = depth - 1

    def _leaf(self) -> None:
        name, text = self.wanted, "".join(self.text) if len(self.text) < MOST_PIECES else ""
        self.parser.CharacterDataHandler = None  # type: ignore[attr-defined]
        self.wanted = ""
        if not self.point_depth:
            if text.strip():
                self.header.setdefault(self.dialect.header[name][0], text.strip())
            return
        column, direct = self.leaves[name]
        if direct and self.wanted_depth != self.point_depth + 1:
            return
        if column == "time":
            self.point[0], zoned = parse_time(text)
            self.zoneless += not zoned
            self.bad_times += self.point[0] != self.point[0]
            return
        value = self.point[_COLUMNS.index(column)] = decimal(text)
        if column == "altitude":
            self.bad_heights += value != value and not text.isspace() and text != ""


def _refuse(*_: object) -> NoReturn:
    raise _Broken("it declares a document type or entities")


def read_xml(chunks: Callable[[], Iterable[bytes]], dialects: Iterable[Dialect]) -> RawFixes:
    """The track points of a document in one of ``dialects``; ``chunks()`` gives its bytes from the start, in order.

    Raises FormatError where it is none of them or unsafe, NoFixesError where it holds no track point.
    """
    roots = {dialect.root: dialect for dialect in dialects}
    points, error = _parse(chunks(), roots, None)
    notes = []
    if error is not None and error.code == _INVALID_TOKEN and not points.segment:
        second, second_error = _parse(chunks(), roots, "iso-8859-1")
        if second.segment:
            points, error = second, second_error
            notes.append(
                Note("encoding-guessed", "the text is not in the encoding it declares; read as ISO 8859-1")
            )
    if not points.segment:
        raise _nothing(points, error)
    return _fixes(points, [*notes, *_notes(points, error)])


def _fixes(points: _Points, notes: list[Note]) -> RawFixes:
    rows = np.frombuffer(points.rows, dtype=np.float64).reshape(-1, len(_COLUMNS))
    column = dict(zip(_COLUMNS, rows.T.copy()))
    head = {name: text[:200] for name, text in points.header.items()}
    created = parse_time(head.get("created", ""))[0]
    return RawFixes(
        format=points.dialect.title.casefold(),
        time_s=column["time"],
        lat_deg=column["lat"],
        lon_deg=column["lon"],
        altitude_m=column["altitude"],
        speed_mps=column["speed"],
        course_deg=column["course"],
        segment=np.array(points.segment, dtype=np.int64),
        device=head.get("device") or None,
        name=head.get("name"),
        created_s=created if math.isfinite(created) else None,
        notes=tuple(notes),
    )


def _notes(points: _Points, error: ExpatError | None) -> list[Note]:
    """What the parser had to put up with."""
    notes = []
    if error is not None:
        text = f"the file breaks off or is damaged at line {error.lineno}; the points before were kept"
        notes.append(Note("file-cut", text, len(points.segment)))
    for code, count, text in (
        ("bad-time", points.bad_times, "times could not be read"),
        ("unreadable-altitude", points.bad_heights, "altitudes could not be read (a decimal comma?)"),
        ("no-time-zone", points.zoneless, "times name no zone; taken as UTC"),
    ):
        if count:
            notes.append(Note(code, f"{count} {text}", count))
    return notes


def _parse(
    chunks: Iterable[bytes], dialects: Mapping[str, Dialect], encoding: str | None
) -> tuple[_Points, ExpatError | None]:
    parser = ParserCreate(encoding)
    parser.buffer_text = True
    points = _Points(parser, dialects)
    parser.StartElementHandler = points.start
    parser.EndElementHandler = points.end
    parser.StartDoctypeDeclHandler = _refuse
    parser.EntityDeclHandler = _refuse
    fed = 0
    try:
        for chunk in chunks:
            parser.Parse(chunk, False)
            fed += len(chunk)
            if fed - parser.CurrentByteIndex > MAX_TAG_BYTES:
                raise _Broken("one of its tags is megabytes long")
        parser.Parse(b"", True)
    except ExpatError as error:
        return points, error
    except _Broken as broken:
        raise _unusable(points, str(broken)) from None
    except (LookupError, ValueError):
        raise _unusable(points, "its text encoding is unknown", "UTF-8") from None
    return points, None


def _unusable(points: _Points, why: str, wanted: str = "") -> FormatError:
    title = points.dialect.title
    return FormatError(
        f"not a usable {title} file: {why}", f"export the track again as {wanted or f'plain {title}'}"
    )


def _nothing(points: _Points, error: ExpatError | None) -> FormatError | NoFixesError:
    title = points.dialect.title
    if error is not None and points.root is None:
        return FormatError(f"not a {title} file: its XML can not be read", "give a recorded track")
    if error is not None:
        return FormatError(
            f"the {title} file breaks at line {error.lineno} before its first track point",
            "export the track again",
        )
    if points.other_points:
        return NoFixesError(
            f"the {title} file holds waypoints or a route, but no track", "export the recorded track"
        )
    return NoFixesError(f"the {title} file holds no track point", "export the recorded track")
