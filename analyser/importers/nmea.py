"""NMEA 0183: RMC, GGA and VTG sentences of any talker, joined by their time of day.

RMC gives date, place, speed and course, GGA the height above mean sea level, VTG speed and course where RMC has none. A sentence
whose checksum is wrong is left out; a fix that the receiver itself calls void has no position. Text around a sentence is no matter.
"""

from __future__ import annotations

import math
import re
from array import array
from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from functools import reduce
from operator import xor
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analyser.errors import FormatError, NoFixesError
from analyser.importers.lines import lines
from analyser.importers.numbers import decimal
from analyser.importers.raw import RawFixes
from analyser.importers.recording import Note
from analyser.units import KMH_MPS, KNOT_MPS

__all__ = ["FIRST_SENTENCE", "read_nmea"]

FIRST_SENTENCE: Final = re.compile(r"\$[A-Z]{2}(?:RMC|GGA|VTG),")
_SENTENCE: Final = re.compile(r"\$([A-Z]{2}(RMC|GGA|VTG),[^*$]*)(?:\*([0-9A-Fa-f]{2}))?")
_COLUMNS: Final = ("day", "second", "lat", "lon", "altitude", "speed", "course")
_DAY_S: Final = 86_400.0
_NOTHING: Final = (math.nan, math.nan)

Vector = NDArray[np.float64]


class _Epochs:
    """Sentences of one time of day become one fix."""

    def __init__(self) -> None:
        self.rows = {name: array("d") for name in _COLUMNS}
        self.append = [row.append for row in self.rows.values()]
        self.now: dict[str, float] = {}
        self.wrong = 0

    def take(self, line: str) -> None:
        for text, kind, checksum in _SENTENCE.findall(line):
            if checksum and reduce(xor, text.encode("latin-1")) != int(checksum, 16):
                self.wrong += 1
                continue
            cells = text.split(",")
            if kind == "RMC":
                self._rmc(cells)
            elif kind == "GGA":
                self._gga(cells)
            else:
                self._vtg(cells)

    def _at(self, text: str) -> bool:
        """Begin another fix where the time of day is another; False where it can not be read."""
        second = _second(text)
        if second != second:
            return False
        if self.now.get("second") != second:
            self.close()
            self.now = {"second": second}
        return True

    def _rmc(self, cells: list[str]) -> None:
        if len(cells) < 10 or not self._at(cells[1]):
            return
        self.now["day"] = _day(cells[9])
        if cells[2] == "A":
            lat, lon = _place(cells[3:7])
            self.now |= {"lat": lat, "lon": lon}
            self.now |= {"speed": decimal(cells[7]) * KNOT_MPS, "course": decimal(cells[8])}
        elif cells[2] == "V":
            self.now["void"] = 1.0

    def _gga(self, cells: list[str]) -> None:
        if len(cells) < 11 or not self._at(cells[1]):
            return
        if cells[6] == "0":
            self.now["void"] = 1.0
            return
        lat, lon = _place(cells[2:6])
        self.now.setdefault("lat", lat)
        self.now.setdefault("lon", lon)
        self.now["altitude"] = decimal(cells[9]) if cells[10] in ("M", "") else math.nan

    def _vtg(self, cells: list[str]) -> None:
        """Speed and course of the fix the sentence follows; the letters after the numbers came with version 2."""
        if "second" not in self.now or len(cells) < 5:
            return
        lettered = len(cells) >= 9 and cells[2] == "T"
        knots, kmh = (cells[5], cells[7]) if lettered else (cells[3], cells[4])
        speed = decimal(kmh) * KMH_MPS if kmh else decimal(knots) * KNOT_MPS
        for name, value in (("speed", speed), ("course", decimal(cells[1]))):
            if math.isnan(self.now.get(name, math.nan)):
                self.now[name] = value

    def close(self) -> None:
        """Write down the fix that is complete."""
        if "second" not in self.now:
            return
        if "void" in self.now:
            self.now = {"second": self.now["second"], "day": self.now.get("day", math.nan)}
        for name, append in zip(_COLUMNS, self.append):
            append(self.now.get(name, math.nan))
        self.now = {}


def read_nmea(chunks: Callable[[], Iterable[bytes]]) -> RawFixes:
    """The fixes of a log of NMEA 0183 sentences; ``chunks()`` gives its bytes from the start, in order.

    Raises FormatError where no sentence gives a date, NoFixesError where none gives a fix.
    """
    epochs = _Epochs()
    for line in lines(chunks, "iso-8859-1"):
        if "$" in line:
            epochs.take(line)
    epochs.close()
    column = {name: np.frombuffer(row, dtype=np.float64) for name, row in epochs.rows.items()}
    if column["second"].size == 0:
        raise NoFixesError("the NMEA log holds no fix", "record RMC and GGA sentences")
    blank = np.zeros(column["second"].size, dtype=np.int64)
    text = f"{epochs.wrong} sentences with a wrong checksum left out"
    return RawFixes(
        format="nmea",
        time_s=_times(column["day"], column["second"]),
        lat_deg=column["lat"],
        lon_deg=column["lon"],
        altitude_m=column["altitude"],
        speed_mps=column["speed"],
        course_deg=column["course"],
        segment=blank,
        altitude_source="gps",
        notes=(Note("wrong-checksum", text, epochs.wrong),) if epochs.wrong else (),
    )


def _times(day: Vector, second: Vector) -> Vector:
    """Seconds since 1970: a fix without date has that of the nearest one before it that has one, and midnight counted between."""
    dated = np.flatnonzero(np.isfinite(day))
    if dated.size == 0:
        raise FormatError("the NMEA log gives no date (RMC)", "record RMC and GGA sentences")
    steps = np.diff(second, prepend=second[0])
    count = np.cumsum((steps < -0.5 * _DAY_S).astype(np.float64) - (steps > 0.5 * _DAY_S))
    at = dated[np.clip(np.searchsorted(dated, np.arange(day.size), side="right") - 1, 0, None)]
    return np.asarray(day[at] + (count - count[at]) * _DAY_S + second)


def _second(text: str) -> float:
    """Second of the day from ``hhmmss.ss``."""
    if not (text[:6].isascii() and text[:6].isdigit() and len(text) >= 6):
        return math.nan
    seconds = decimal(text[4:])
    hour, minute = int(text[:2]), int(text[2:4])
    return (
        hour * 3600 + minute * 60 + seconds if hour < 24 and minute < 60 and 0 <= seconds < 61 else math.nan
    )


def _day(text: str) -> float:
    """Seconds since 1970 at the beginning of the day ``ddmmyy``."""
    if len(text) != 6 or not (text.isascii() and text.isdigit()):
        return math.nan
    year = int(text[4:])
    try:
        day = datetime((1900 if year >= 80 else 2000) + year, int(text[2:4]), int(text[:2]), tzinfo=UTC)
    except ValueError:
        return math.nan
    return day.timestamp()


def _place(cells: list[str]) -> tuple[float, float]:
    """Latitude and longitude in degrees from ``ddmm.mmmm, N, dddmm.mmmm, E``."""
    lat, lon = _degrees(cells[0], 2), _degrees(cells[2], 3)
    if cells[1] not in ("N", "S") or cells[3] not in ("E", "W"):
        return _NOTHING
    return lat if cells[1] == "N" else -lat, lon if cells[3] == "E" else -lon


def _degrees(text: str, whole: int) -> float:
    minutes = decimal(text[whole:])
    if not (text[:whole].isascii() and text[:whole].isdigit()) or not 0 <= minutes < 60:
        return math.nan
    return int(text[:whole]) + minutes / 60.0
