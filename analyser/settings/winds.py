"""read_winds: a wind for `plan` from a table (CSV) or from a debrief's JSON -> WindProfile."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple, NoReturn, cast, get_args

import numpy as np
from numpy.typing import NDArray

from analyser.angles import wind_vector
from analyser.errors import SettingsError
from analyser.settings.aloft import is_aloft
from analyser.settings.model import Air, WindReport
from analyser.settings.nearest_key import near
from analyser.settings.read_keys import read_text
from analyser.settings.reports import is_report, read_report
from analyser.settings.schema import UNITS
from analyser.wind.profile import WindProfile, WindStatus

__all__ = [
    "MeasuredTrim",
    "air_of",
    "measured_trim_of",
    "read_air",
    "read_measured_trim",
    "read_reports",
    "read_winds",
    "reports_of",
    "winds_of",
]

DEBRIEF_SCHEMA = "crabline.debrief/"
MAX_ROWS = 2_000  # memory and time grow with the square: 2,000 take a quarter of a gigabyte
LEAST_CORRELATION = 1e-6


class MeasuredTrim(NamedTuple):
    """Airspeed and sink of an earlier jump with their standard deviations (0: none given) [m/s at sea-level density]."""

    airspeed_mps: float
    sink_mps: float
    airspeed_sd_mps: float
    sink_sd_mps: float


def read_winds(
    path: str | Path,
    *,
    elevation_m: float | None = None,
    station: str | None = None,
    at: str | None = None,
) -> WindProfile:
    """The wind by height above the landing area from a CSV table, the JSON of ``debrief``, a METAR, a TAF or a bulletin of winds aloft.

    ``elevation_m`` of the landing area above sea level and ``station`` are for a bulletin of winds aloft, ``at`` (``141500Z``) for a TAF.

    A table has a column ``agl_m`` or ``agl_ft`` and either ``speed_…`` (kt, mph, kmh, mps) with ``from_deg``, or
    ``east_mps`` and ``north_mps``; also ``sd_mps`` or ``sd_east_mps``, ``sd_north_mps`` and ``correlation``; case and blanks
    around a name do not matter. A JSON gives its ``winds``, those without a value left out. ``correlation_above`` says how
    the error of a height hangs together with
    that of the next one up; without it the errors of all heights are taken to be one, the wide side for whatever is summed
    over heights. Raises SettingsError naming file, line and rule.
    """
    return winds_of(read_text(path), str(path), elevation_m=elevation_m, station=station, at=at)


def winds_of(
    text: str,
    file: str,
    *,
    elevation_m: float | None = None,
    station: str | None = None,
    at: str | None = None,
) -> WindProfile:
    """As :func:`read_winds`, of a text that was read already; ``file`` is what errors call it."""
    if is_report(text):
        return WindProfile.from_points(read_report(text, elevation_m, station, file, at).points)
    reader = _json if text.lstrip()[:1] in ("{", "[") else _csv
    return reader(text, file)


def read_reports(
    path: str | Path, *, elevation_m: float | None = None, station: str | None = None, at: str | None = None
) -> tuple[WindReport, ...]:
    """The report or forecast in a file of winds, with station, time and gusts; none in a table or a debrief. Raises as :func:`read_winds`."""
    return reports_of(read_text(path), str(path), elevation_m=elevation_m, station=station, at=at)


def reports_of(
    text: str,
    file: str,
    *,
    elevation_m: float | None = None,
    station: str | None = None,
    at: str | None = None,
) -> tuple[WindReport, ...]:
    """As :func:`read_reports`, of a text that was read already."""
    return (read_report(text, elevation_m, station, file, at),) if is_report(text) else ()


def read_air(path: str | Path) -> Air:
    """Temperature and pressure of a METAR in a file of winds; neither where it is none. Raises SettingsError as :func:`read_winds`."""
    return air_of(read_text(path), str(path))


def air_of(text: str, file: str) -> Air:
    """As :func:`read_air`, of a text that was read already."""
    return read_report(text, file=file).air if is_report(text) and not is_aloft(text) else Air()


def read_measured_trim(path: str | Path) -> MeasuredTrim | None:
    """Airspeed and sink [m/s at sea-level density] measured on an earlier jump, from its debrief's JSON; None where it has none."""
    return measured_trim_of(read_text(path))


def measured_trim_of(text: str) -> MeasuredTrim | None:
    """As :func:`read_measured_trim`, of a text that was read already."""
    if text.lstrip()[:1] != "{":
        return None
    try:
        canopy = json.loads(text).get("canopy")
    except (ValueError, RecursionError):
        return None
    if not isinstance(canopy, dict):
        return None
    speeds = [_positive(canopy.get(key)) for key in ("airspeed_mps", "sink_mps")]
    errors = [_positive(canopy.get(key)) or 0.0 for key in ("airspeed_sd_mps", "sink_sd_mps")]
    if speeds[0] is None or speeds[1] is None:
        return None
    return MeasuredTrim(speeds[0], speeds[1], *errors)


def _positive(value: object) -> float | None:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0.0 < value < 100.0:
        return None
    return float(value)


def _fail(file: str, what: str, hint: str = "") -> NoReturn:
    raise SettingsError(what, hint, file)


def _json(text: str, file: str) -> WindProfile:
    try:
        document = json.loads(text)
    except (ValueError, RecursionError) as error:
        _fail(file, f"not valid JSON: {error}")
    schema = document.get("schema") if isinstance(document, dict) else None
    if not isinstance(schema, str) or not schema.startswith(DEBRIEF_SCHEMA):
        _fail(file, "this JSON is not a debrief", "give a debrief's JSON or a CSV table of winds")
    winds = document.get("winds")
    if not isinstance(winds, list):
        _fail(file, 'this debrief has no list "winds"')
    rows, states = [], []
    for i, wind in enumerate(winds):
        if not isinstance(wind, dict):
            _fail(file, f"winds[{i}] is not an object")
        if wind.get("east_mps") is None or wind.get("north_mps") is None:
            continue
        names = ("agl_m", "east_mps", "north_mps", "sd_east_mps", "sd_north_mps", "correlation")
        above = wind.get("correlation_above")
        above = 1.0 if above is None else _number(file, f"winds[{i}].correlation_above", above)
        rows.append([*(_number(file, f"winds[{i}].{n}", wind.get(n)) for n in names), above])
        status = wind.get("status")
        if status not in get_args(WindStatus):
            _fail(file, f"winds[{i}].status {status!r} is not known")
        states.append((cast(WindStatus, status), str(wind.get("reason") or "")))
    return _profile(file, rows, states)


def _number(file: str, name: str, value: object) -> float:
    if value is None and name.endswith(("correlation", "sd_east_mps", "sd_north_mps")):
        return 0.0
    try:
        number = math.nan if isinstance(value, bool) or not isinstance(value, (int, float)) else float(value)
    except OverflowError:  # an integer of hundreds of digits
        number = math.nan
    if not math.isfinite(number):
        _fail(file, f"{name} must be a number, not {str(value)[:40]}")
    return number


def _csv(text: str, file: str) -> WindProfile:
    lines = [
        (n, line) for n, line in enumerate(text.splitlines(), 1) if line.strip() and line.lstrip()[0] != "#"
    ]
    if not lines:
        _fail(file, "an empty table", "give columns such as agl_ft,speed_kt,from_deg")
    if len(lines) > MAX_ROWS:
        _fail(file, f"more than {MAX_ROWS} rows in a table of winds")
    delimiter = max(",;\t", key=lines[0][1].count)
    header = [name.strip().casefold() for name in _cells(file, *lines[0], delimiter)]
    columns = _columns(file, header)
    rows = []
    for number, line in lines[1:]:
        cells = _cells(file, number, line, delimiter)
        if len(cells) != len(header):
            _fail(file, f"line {number}: {len(cells)} cells under {len(header)} columns")
        blank = [not cells[i].strip() for name, (i, _) in columns.items() if name != "agl"]
        if all(blank):
            continue  # a height without a wind, as the table of recovered winds has them
        rows.append(_row(file, number, cells, columns, ";" in delimiter))
    return _profile(file, rows, [("measured", "")] * len(rows))


def _cells(file: str, number: int, line: str, delimiter: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True))
    except csv.Error as error:
        _fail(file, f"line {number}: not a table ({error})")


def _columns(file: str, header: list[str]) -> dict[str, tuple[int, float]]:
    kinds = {"agl": "height", "speed": "speed", "from": "angle", "east": "speed", "north": "speed"}
    kinds |= {"sd": "speed", "sd_east": "speed", "sd_north": "speed"}
    known = [f"{name}_{unit}" for name, kind in kinds.items() for unit in UNITS[kind]] + [
        "correlation",
        "correlation_above",
    ]
    found: dict[str, tuple[int, float]] = {}
    for i, column in enumerate(header):
        name, _, unit = column.rpartition("_")
        if column in known:
            key = column if column.startswith("correlation") else name
            if key in found:
                _fail(file, f"column {column} gives {key} a second time")
            found[key] = (i, UNITS[kinds[key]][unit] if key in kinds else 1.0)
    wanted = ("agl", "east", "north") if "east" in found or "north" in found else ("agl", "speed", "from")
    for name in wanted:
        if name not in found:
            units = " or ".join(f"{name}_{u}" for u in UNITS[kinds[name]])
            guess = near(name, [column for column in header if column not in known])
            there = f"is it {guess[:40]!r}?" if guess else f"its columns are {', '.join(header)[:200]};"
            _fail(file, f"no column {units}", f"{there} the unit is the end of the name")
    return found


def _row(
    file: str, number: int, cells: list[str], columns: Mapping[str, tuple[int, float]], decimal_comma: bool
) -> list[float]:
    values: dict[str, float] = {}
    for name, (i, factor) in columns.items():
        cell = cells[i].strip()
        if name == "correlation_above" and not cell:
            continue
        try:
            values[name] = float(cell.replace(",", ".") if decimal_comma else cell) * factor
        except ValueError:
            values[name] = math.nan
        if not math.isfinite(values[name]):
            _fail(file, f"line {number}: {name} must be a number, not {cell[:40]!r}")
    if "speed" in values and values["speed"] < 0:
        _fail(file, f"line {number}: a wind speed can not be negative", "turn from_deg by 180 instead")
    if not -180.0 <= values.get("from", 0.0) <= 360.0:
        _fail(
            file, f"line {number}: a direction of {values['from']:g} degrees", "give 0 to 360, or -180 to 180"
        )
    if "east" in values:
        east, north = values["east"], values["north"]
    else:
        e, n = wind_vector(values["speed"], values["from"])
        east, north = float(e), float(n)
    both = values.get("sd", 0.0)
    sd_east, sd_north = values.get("sd_east", both), values.get("sd_north", both)
    return [
        values["agl"],
        east,
        north,
        sd_east,
        sd_north,
        values.get("correlation", 0.0),
        values.get("correlation_above", 1.0),
    ]


def _profile(file: str, rows: list[list[float]], states: list[Any]) -> WindProfile:
    if not rows:
        _fail(file, "holds no wind", "give at least one height with its wind")
    order = sorted(range(len(rows)), key=lambda i: rows[i][0])
    table: NDArray[np.float64] = np.array([rows[i] for i in order], dtype=np.float64)
    for before, here in zip(table[:-1, 0], table[1:, 0], strict=True):
        if not here > before:
            _fail(file, f"the height {here:g} m stands there twice", "keep one wind per height")
    if np.any(np.hypot(table[:, 1], table[:, 2]) > 100.0) or np.any(np.abs(table[:, 0]) > 20_000.0):
        _fail(file, "a wind over 100 m/s or a height over 20,000 m", "check the units in the column names")
    if np.any(table[:, 3:5] < 0) or np.any(np.abs(table[:, 5:7]) > 1):
        _fail(file, "a negative standard deviation or a correlation beyond ±1")
    covariance = _covariance(table[:, 3:])
    status = tuple(states[j][0] for j in order)
    reason = tuple(states[j][1] for j in order)
    return WindProfile(table[:, 0].copy(), table[:, 1].copy(), table[:, 2].copy(), covariance, status, reason)


def _covariance(table: NDArray[np.float64]) -> NDArray[np.float64]:
    """(2k, 2k) of (east…, north…) from rows of sd east, sd north, their correlation, and that with the next height: a chain of Markov."""
    east, north, both, above = table.T
    away = np.concatenate([[0.0], -np.cumsum(np.log(np.clip(above[:-1], LEAST_CORRELATION, 1.0)))])
    heights = np.exp(-np.abs(away[:, None] - away))
    zero = np.zeros_like(east)
    first, second = np.append(east, both * north), np.append(zero, np.sqrt(1.0 - both**2) * north)
    return np.asarray((np.outer(first, first) + np.outer(second, second)) * np.tile(heights, (2, 2)))
