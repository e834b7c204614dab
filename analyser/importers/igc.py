"""IGC flight recorder files: B records, after the FAI's technical specification of IGC-approved recorders, appendix A.

Pressure height (against 1013.25 hPa) and GNSS height stand beside each other; further digits of the minutes (LAD, LOD) and of the
second (TDS) come from the additions that the I record announces. A fix marked V has no height from satellites; where its place is
also the one before, the receiver had none and the fix has no position. Names of people are not read.
"""

from __future__ import annotations

import math
import re
from array import array
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analyser.errors import FormatError, NoFixesError
from analyser.importers.lines import lines
from analyser.importers.raw import RawFixes
from analyser.importers.recording import Note

__all__ = ["FIRST_FIX", "read_igc"]

FIRST_FIX: Final = re.compile(r"^B\d{6}\d{7}[NS]\d{8}[EW][AV][-\d]\d{4}[-\d]\d{4}", re.M)
_B: Final = re.compile(
    r"B(\d\d)(\d\d)(\d\d)(\d\d)(\d{5})([NS])(\d{3})(\d{5})([EW])([AV])([-\d]\d{4})([-\d]\d{4})"
)
_DATE: Final = re.compile(r"HFDTE(?:DATE)?:?\s*(\d\d)(\d\d)(\d\d)")
_HALF_DAY_S: Final = 43_200.0
_COLUMNS: Final = ("time", "lat", "lon", "pressure", "gnss")


@dataclass(slots=True)
class _State:
    """What the records read so far say about the next ones."""

    day_s: float = math.nan
    last_s: float = -1.0
    additions: dict[str, slice] = field(default_factory=dict)
    device: str | None = None
    place: tuple[float, float] | None = None
    bad: int = 0


def read_igc(chunks: Callable[[], Iterable[bytes]]) -> RawFixes:
    """The fixes of an IGC file; ``chunks()`` gives its bytes from the start, in order.

    Raises FormatError where the file gives no date, NoFixesError where it holds no fix.
    """
    rows = {name: array("d") for name in _COLUMNS}
    append = [row.append for row in rows.values()]
    state = _State()
    for line in lines(chunks, "iso-8859-1"):
        kind = line[:1]
        if kind == "B":
            fix = _fix(line, state)
            if fix is None:
                state.bad += 1
                continue
            for add, value in zip(append, fix):
                add(value)
        elif kind == "H":
            _header(line, state)
        elif kind == "I":
            state.additions = _additions(line)
    if not rows["lat"]:
        raise NoFixesError("the IGC file holds no fix", "export the recorded flight")
    return _fixes({name: np.frombuffer(row, dtype=np.float64) for name, row in rows.items()}, state)


def _fixes(column: dict[str, NDArray[np.float64]], state: _State) -> RawFixes:
    if not np.any(np.isfinite(column["time"])):
        raise FormatError("the IGC file gives no date (HFDTE)", "export the flight again")
    barometric = bool(np.any(column["pressure"] != 0.0))
    text = f"{state.bad} fixes could not be read"
    blank = np.full(column["lat"].shape, np.nan)
    return RawFixes(
        format="igc",
        time_s=column["time"],
        lat_deg=column["lat"],
        lon_deg=column["lon"],
        altitude_m=column["pressure"] if barometric else column["gnss"],
        gps_altitude_m=column["gnss"] if barometric else None,
        altitude_source="barometric" if barometric else "gps",
        speed_mps=blank,
        course_deg=blank.copy(),
        segment=np.zeros(blank.size, dtype=np.int64),
        device=state.device,
        notes=(Note("unreadable-line", text, state.bad),) if state.bad else (),
    )


def _fix(line: str, state: _State) -> tuple[float, float, float, float, float] | None:
    """Time, latitude, longitude, pressure height, GNSS height of one B record; None where it can not be read."""
    found = _B.match(line)
    if found is None:
        return None
    hour, minute, second, north, north_part, ns, east, east_part, ew, valid, pressure, gnss = found.groups()
    moment = int(hour) * 3600 + int(minute) * 60 + int(second) + _addition(line, state, "TDS")
    if moment < state.last_s - _HALF_DAY_S:
        state.day_s += 86_400.0
    state.last_s = moment
    lat = _degrees(north, north_part, _digits(line, state, "LAD")) * (1 if ns == "N" else -1)
    lon = _degrees(east, east_part, _digits(line, state, "LOD")) * (1 if ew == "E" else -1)
    height = float(gnss)
    if valid == "V":
        height = math.nan
        if (lat, lon) == state.place:
            lat = lon = math.nan
    if lat == lat:
        state.place = (lat, lon)
    return state.day_s + moment, lat, lon, float(pressure), height


def _degrees(degrees: str, thousandths: str, further: str) -> float:
    """Degrees from whole degrees, minutes in thousandths, and the digits that follow those."""
    minutes = int(thousandths + further) / 10 ** (3 + len(further))
    return int(degrees) + minutes / 60.0 if minutes < 60.0 else math.nan


def _digits(line: str, state: _State, name: str) -> str:
    place = state.additions.get(name)
    text = line[place] if place else ""
    return text if text.isascii() and text.isdigit() else ""


def _addition(line: str, state: _State, name: str) -> float:
    text = _digits(line, state, name)
    return int(text) / 10 ** len(text) if text else 0.0


def _additions(line: str) -> dict[str, slice]:
    """Code → its place in a B record, from an I record (bytes counted from 1)."""
    found = re.findall(r"(\d\d)(\d\d)([A-Z0-9]{3})", line[3:])
    return {code: slice(int(a) - 1, int(b)) for a, b, code in found if 36 <= int(a) <= int(b) < int(a) + 8}


def _header(line: str, state: _State) -> None:
    found = _DATE.match(line)
    if found is not None:
        day, month, year = (int(x) for x in found.groups())
        try:
            start = datetime((1900 if year >= 80 else 2000) + year, month, day, tzinfo=UTC).timestamp()
        except ValueError:
            return
        if start != state.day_s:  # a recorder may write its date again in flight
            state.day_s, state.last_s = start, -1.0
    elif line.startswith("HFFTY"):
        state.device = line.partition(":")[2].strip().replace(",", " ")[:200] or None
