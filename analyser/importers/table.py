"""A track as a table: any text with a row of titles and a column each for time, latitude, longitude and altitude.

The titles name quantity and unit (``altitude_m``, ``Speed (km/h)``; see :mod:`analyser.track_titles`), or a mapping says which
is which. Cells are parted by commas, semicolons or tabs; lines that begin with # before the titles are comments.
"""

from __future__ import annotations

import csv
import math
from array import array
from collections.abc import Callable, Iterable, Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analyser.errors import FormatError, NoFixesError
from analyser.importers.lines import lines
from analyser.importers.numbers import decimal
from analyser.importers.raw import RawFixes
from analyser.importers.recording import AltitudeSource, Note
from analyser.importers.xml import parse_time
from analyser.track_titles import Column, find_columns

__all__ = ["is_table", "read_table", "titles_in"]

BLANK = ' \t\r\n,;"'  # a row of empty cells, as spreadsheets write them by the thousand below the last one

Vector = NDArray[np.float64]
_HEIGHTS: Final = ("altitude", "pressure_altitude", "gps_altitude")
_NUMBERS: Final = ("lat", "lon", *_HEIGHTS, "speed", "course", "east", "north", "climb")
MAX_COLUMNS: Final = 2000


def is_table(text: str, mapped: Mapping[str, str] | None = None) -> bool:
    """Whether the first line that counts has titles of which one is a latitude or a longitude."""
    titles = titles_in(text)
    return bool({"lat", "lon"} & set(find_columns(titles[:MAX_COLUMNS], mapped)[0]))


def titles_in(text: str) -> list[str]:
    """The cells of the first line that counts; none where they are fewer than a track needs."""
    for line in text[:200_000].splitlines():
        if line.strip() and not line.startswith("#"):
            titles = [title.strip() for title in _cells(line, _delimiter(line))]
            return titles if len(titles) > 2 and line.isprintable() else []
    return []


class _Rows:
    """Columns as they grow, and what could not be read."""

    def __init__(self, columns: Mapping[str, Column], delimiter: str) -> None:
        self.columns = columns
        self.delimiter = delimiter
        self.numbers = [(columns[n].index, columns[n].factor, array("d")) for n in _NUMBERS if n in columns]
        self.names = [n for n in _NUMBERS if n in columns]
        self.time = array("d")
        self.width = 1 + max(column.index for column in columns.values())
        self.bad_lines = self.bad_times = self.zoneless = self.bad_heights = 0
        self.heights = {columns[n].index for n in _HEIGHTS if n in columns}

    def take(self, line: str) -> None:
        cells = _cells(line, self.delimiter)
        if len(cells) < self.width:
            self.bad_lines += 1
            return
        self.time.append(self._moment(cells))
        for index, factor, column in self.numbers:
            text = cells[index].strip()
            value = self._number(text)
            self.bad_heights += value != value and text != "" and index in self.heights
            column.append(value * factor)

    def _number(self, text: str) -> float:
        if self.delimiter != "," and "," in text:
            text = text.replace(",", ".")
        return decimal(text)

    def _moment(self, cells: list[str]) -> float:
        column = self.columns["time"]
        text = cells[column.index]
        if column.unit:
            return self._number(text.strip()) * column.factor
        if "date" in self.columns:
            text = f"{cells[self.columns['date'].index].strip()}T{text.strip()}"
        moment, zoned = parse_time(text)
        self.zoneless += not zoned
        self.bad_times += moment != moment
        return moment

    def notes(self) -> tuple[Note, ...]:
        counted = (
            ("unreadable-line", self.bad_lines, "lines have too few cells"),
            ("bad-time", self.bad_times, "times could not be read"),
            ("unreadable-altitude", self.bad_heights, "altitudes could not be read"),
            ("no-time-zone", self.zoneless, "times name no zone; taken as UTC"),
        )
        return tuple(Note(code, f"{count} {text}", count) for code, count, text in counted if count)


def read_table(
    chunks: Callable[[], Iterable[bytes]], encoding: str, mapped: Mapping[str, str] | None = None
) -> RawFixes:
    """The fixes of a table; ``chunks()`` gives its bytes from the start, in order, ``mapped`` the user's names of columns.

    Raises FormatError where a column is missing or has no unit, NoFixesError where no row follows the titles.
    """
    rows: _Rows | None = None
    for line in lines(chunks, encoding):
        if not line.strip(BLANK) or (rows is None and line.startswith("#")):
            continue
        if rows is None:
            delimiter = _delimiter(line)
            rows = _Rows(_columns(_cells(line, delimiter), mapped), delimiter)
            continue
        if not rows.time:
            _check_time(line, rows)
        rows.take(line)
    if rows is None or not rows.time:
        raise NoFixesError("the table holds no row under its titles", "export the recorded track")
    return _fixes(rows)


def _fixes(rows: _Rows) -> RawFixes:
    found = {n: np.frombuffer(c[2], dtype=np.float64) for n, c in zip(rows.names, rows.numbers)}
    time = np.frombuffer(rows.time, dtype=np.float64)
    blank = np.full(time.shape, np.nan)
    height, beside, source = _height(found)
    speed, course = found.get("speed", blank), found.get("course", blank)
    if "east" in found and "north" in found:
        speed = np.hypot(found["east"], found["north"])
        course = np.mod(np.degrees(np.arctan2(found["east"], found["north"])), 360.0)
    return RawFixes(
        format="csv",
        time_s=time,
        lat_deg=found["lat"],
        lon_deg=found["lon"],
        altitude_m=height,
        gps_altitude_m=beside,
        speed_mps=speed,
        course_deg=course.copy(),
        climb_mps=found.get("climb"),
        segment=np.zeros(time.size, dtype=np.int64),
        altitude_source=source,
        notes=rows.notes(),
    )


def _height(found: Mapping[str, Vector]) -> tuple[Vector, Vector | None, AltitudeSource]:
    """The height to go by, a satellite height beside it, and where the first comes from."""
    if "pressure_altitude" in found:
        return found["pressure_altitude"], found.get("gps_altitude", found.get("altitude")), "barometric"
    if "altitude" in found:
        return found["altitude"], None, "unknown"
    return found["gps_altitude"], None, "gps"


def _columns(titles: list[str], mapped: Mapping[str, str] | None) -> dict[str, Column]:
    if len(titles) > MAX_COLUMNS:
        raise FormatError(f"the table has more than {MAX_COLUMNS} columns", "keep those of the track")
    found, without = find_columns(titles, mapped)
    if without:
        raise FormatError(
            f"the column {without[0][:40]!r} names no unit",
            "end its name in one (_m, _ft, _mps, _kmh, _kt), or map it in [columns] of logbook.toml",
        )
    for name, example in (("time", "time"), ("lat", "lat"), ("lon", "lon")):
        if name not in found:
            raise _missing(example, titles)
    if not any(name in found for name in _HEIGHTS):
        raise _missing("altitude_m", titles)
    return found


def _missing(name: str, titles: list[str]) -> FormatError:
    there = ", ".join(title.strip() for title in titles)[:120]
    return FormatError(
        f"the table has no column {name} (it has {there})",
        "name it so, or map it in [columns] of logbook.toml",
    )


def _check_time(line: str, rows: _Rows) -> None:
    """A bare number under a title without unit is no time."""
    column, cells = rows.columns["time"], _cells(line, rows.delimiter)
    if column.unit or len(cells) < rows.width or math.isfinite(parse_time(cells[column.index])[0]):
        return
    if math.isfinite(decimal(cells[column.index].strip())):
        raise FormatError(
            "the times are numbers without a unit",
            "call the column time_s or time_ms (since 1970-01-01 UTC), or write ISO 8601",
        )


def _delimiter(line: str) -> str:
    return max(",;\t", key=line.count)


def _cells(line: str, delimiter: str) -> list[str]:
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True))
    except (csv.Error, StopIteration):
        return []
