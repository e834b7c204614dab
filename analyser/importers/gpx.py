"""Read the track points of GPX 1.0 and 1.1 in one guarded pass of expat.

No entity, no document type, no deep nesting and no endless tag gets through, and nothing but the given bytes is read.
Elements are known by their local name, whatever the prefix or the namespace. A file that breaks off keeps the points before
the break. Points of ``trk`` only: routes and waypoints carry no flight.
"""

from __future__ import annotations

import math
from array import array
from collections import deque
from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from pyexpat import ExpatError, ParserCreate
from typing import NoReturn

import numpy as np
from numpy.typing import NDArray

from analyser.errors import FormatError, NoFixesError
from analyser.importers.raw import RawFixes
from analyser.importers.recording import Note

__all__ = ["parse_time", "read_gpx"]

MAX_DEPTH = 64
MOST_PIECES = 64  # of text in an element that is read, each of a block at most; more is none
MAX_TAG_BYTES = 4_000_000
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_INVALID_TOKEN = 4
_ROWS = ("time", "lat", "lon", "ele", "speed", "course")


def parse_time(text: str) -> tuple[float, bool]:
    """Seconds since 1970-01-01 UTC (NaN where unreadable) and whether the text names its zone (else read as UTC)."""
    try:
        moment = datetime.fromisoformat(text.strip().upper())
        zoned = moment.tzinfo is not None
        return ((moment if zoned else moment.replace(tzinfo=UTC)) - _EPOCH).total_seconds(), zoned
    except (ValueError, OverflowError):
        return math.nan, True


def _number(text: str | None) -> float:
    """A plain decimal number; NaN for anything else, also for what only Python calls a number."""
    if text is None:
        return math.nan
    try:
        value = float(text)
    except ValueError:
        return math.nan
    return value if "_" not in text and text.isascii() and math.isfinite(value) else math.nan


class _Broken(Exception):
    """A guard refused the file."""


class _Points:
    """The handlers of the parser and what they have collected."""

    def __init__(self, parser: object) -> None:
        self.parser = parser
        self.rows = {name: array("d") for name in _ROWS}
        self.append = [row.append for row in self.rows.values()]
        self.segment = array("q")
        self.part = -1
        self.depth = 0
        self.point_depth = 0
        self.local: dict[str, str] = {}
        self.text: deque[str] = deque(maxlen=MOST_PIECES)
        self.wanted = ""
        self.wanted_depth = 0
        self.point = [math.nan] * 6
        self.zoneless = 0
        self.bad_times = 0
        self.bad_heights = 0
        self.root: str | None = None
        self.creator: str | None = None
        self.name: str | None = None
        self.created: float | None = None
        self.other_points = 0

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        name = self.local.get(tag)
        if name is None:
            name = self._learn(tag)
        self.depth = depth = self.depth + 1
        if depth > MAX_DEPTH:
            raise _Broken("its elements are nested too deeply")
        if self.point_depth:
            if name in _LEAVES:
                self._begin(name, depth)
        elif name == "trkpt":
            self.point_depth = depth
            self.point = [math.nan] * 6
            self.point[1] = _number(attributes.get("lat"))
            self.point[2] = _number(attributes.get("lon"))
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
            self.creator = attributes.get("creator")
            if name != "gpx":
                raise _Broken(f"it is XML, but its root is <{name[:40]}>, not <gpx>")
        elif name in ("trk", "trkseg"):
            self.part += 1
        elif name in ("rtept", "wpt"):
            self.other_points += 1
        elif name in ("name", "time") and depth <= 3:
            self._begin(name, depth)

    def end(self, tag: str) -> None:
        depth = self.depth
        if self.wanted and depth == self.wanted_depth:
            self._leaf()
        elif depth == self.point_depth:
            for append, value in zip(self.append, self.point):
                append(value)
            self.segment.append(self.part)
            self.point_depth = 0
        self.depth = depth - 1

    def _leaf(self) -> None:
        name, text = self.wanted, "".join(self.text) if len(self.text) < MOST_PIECES else ""
        self.parser.CharacterDataHandler = None  # type: ignore[attr-defined]
        self.wanted = ""
        if not self.point_depth:
            self._header(name, text)
            return
        direct = self.wanted_depth == self.point_depth + 1
        if name == "time" and direct:
            self.point[0], zoned = parse_time(text)
            self.zoneless += not zoned
            self.bad_times += self.point[0] != self.point[0]
        elif name == "ele" and direct:
            self.point[3] = _number(text)
            self.bad_heights += self.point[3] != self.point[3] and not text.isspace() and text != ""
        elif name == "speed":
            self.point[4] = _number(text)
        elif name == "course":
            self.point[5] = _number(text)

    def _header(self, name: str, text: str) -> None:
        if name == "name" and self.name is None:
            self.name = text.strip()[:200] or None
        elif name == "time" and self.created is None:
            moment = parse_time(text)[0]
            self.created = moment if math.isfinite(moment) else None


_LEAVES = frozenset(("ele", "time", "speed", "course"))


def _refuse(*_: object) -> NoReturn:
    raise _Broken("it declares a document type or entities")


def read_gpx(chunks: Callable[[], Iterable[bytes]]) -> RawFixes:
    """The track points of a GPX document; ``chunks()`` gives its bytes from the start, in order.

    Raises FormatError where it is no GPX or unsafe, NoFixesError where it holds no track point.
    """
    points, error = _parse(chunks(), None)
    notes = []
    if error is not None and error.code == _INVALID_TOKEN and not points.rows["lat"]:
        second, second_error = _parse(chunks(), "iso-8859-1")
        if second.rows["lat"]:
            points, error = second, second_error
            notes.append(
                Note("encoding-guessed", "the text is not in the encoding it declares; read as ISO 8859-1")
            )
    count = len(points.rows["lat"])
    if count == 0:
        raise _nothing(points, error)
    if error is not None:
        notes.append(
            Note(
                "file-cut",
                f"the file breaks off or is damaged at line {error.lineno}; the points before were kept",
                count,
            )
        )
    if points.bad_times:
        notes.append(Note("bad-time", f"{points.bad_times} times could not be read", points.bad_times))
    if points.bad_heights:
        text = f"{points.bad_heights} altitudes could not be read (a decimal comma?)"
        notes.append(Note("unreadable-altitude", text, points.bad_heights))
    if points.zoneless:
        notes.append(
            Note("no-time-zone", f"{points.zoneless} times name no zone; taken as UTC", points.zoneless)
        )
    column = {name: np.frombuffer(row, dtype=np.float64) for name, row in points.rows.items()}
    return RawFixes(
        format="gpx",
        time_s=column["time"],
        lat_deg=column["lat"],
        lon_deg=column["lon"],
        altitude_m=column["ele"],
        speed_mps=column["speed"],
        course_deg=column["course"],
        segment=_as_int(points.segment),
        device=(points.creator or "").strip()[:200] or None,
        name=points.name,
        created_s=points.created,
        notes=tuple(notes),
    )


def _as_int(values: array[int]) -> NDArray[np.int64]:
    return np.array(values, dtype=np.int64)


def _parse(chunks: Iterable[bytes], encoding: str | None) -> tuple[_Points, ExpatError | None]:
    parser = ParserCreate(encoding)
    parser.buffer_text = True
    points = _Points(parser)
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
        raise FormatError(f"not a usable GPX file: {broken}", "export the track again as plain GPX") from None
    except (LookupError, ValueError):
        raise FormatError(
            "not a usable GPX file: its text encoding is unknown", "export the track again as UTF-8"
        ) from None
    return points, None


def _nothing(points: _Points, error: ExpatError | None) -> FormatError | NoFixesError:
    if error is not None and points.root is None:
        return FormatError("not a GPX file: its XML can not be read", "give a GPX or FIT track")
    if error is not None:
        return FormatError(
            f"the GPX file breaks at line {error.lineno} before its first track point",
            "export the track again",
        )
    if points.other_points:
        return NoFixesError(
            "the GPX file holds waypoints or a route, but no track", "export the recorded track"
        )
    return NoFixesError("the GPX file holds no track point", "export the recorded track")
