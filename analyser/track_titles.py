"""What the columns of a table may be called: quantity, the words for it, and the unit its name ends in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from analyser.units import FOOT_M, KMH_MPS, KNOT_MPS, MPH_MPS

__all__ = ["COLUMNS", "TIME_UNITS", "Column", "column_keys", "find_columns", "split_unit"]

TIME_UNITS: Final = {"s": 1.0, "ms": 1e-3}
_KINDS: Final[Mapping[str, Mapping[str, float]]] = {
    "time": TIME_UNITS,
    "angle": {"deg": 1.0},
    "height": {"m": 1.0, "ft": FOOT_M},
    "speed": {"mps": 1.0, "kmh": KMH_MPS, "kt": KNOT_MPS, "mph": MPH_MPS},
    "text": {},
}
_SPELT: Final[Mapping[str, str]] = {
    "°": "deg", "degree": "deg", "degrees": "deg", "metre": "m", "metres": "m", "meter": "m", "meters": "m", "feet": "ft", "foot": "ft",
    "m/s": "mps", "km/h": "kmh", "kph": "kmh", "kn": "kt", "kts": "kt", "knot": "kt", "knots": "kt", "sec": "s", "seconds": "s",
}  # fmt: skip
_BRACKETS: Final = re.compile(r"^(.*?)\s*[(\[]\s*([^()\[\]]*?)\s*[)\]]\s*$")


@dataclass(frozen=True, slots=True)
class Quantity:
    """One quantity of a track: its kind of unit, whether a name without a unit will do, and other words for it."""

    kind: str
    bare: bool
    words: tuple[str, ...] = ()


COLUMNS: Final[Mapping[str, Quantity]] = {
    "time": Quantity("time", True, ("utc", "time_utc", "timestamp", "datetime", "t", "unix", "unix_utc", "unix_time", "date_time")),
    "date": Quantity("text", True, ("date_utc",)),
    "lat": Quantity("angle", True, ("latitude",)),
    "lon": Quantity("angle", True, ("longitude", "lng", "long")),
    "altitude": Quantity(
        "height",
        False,
        ("alt", "elevation", "ele", "height", "altitude_msl", "height_msl", "height_above_ellipsoid", "agl"),
    ),
    "pressure_altitude": Quantity("height", False, ("baro_altitude", "barometric_altitude", "altitude_baro")),
    "gps_altitude": Quantity("height", False, ("gnss_altitude", "altitude_gps", "satellite_altitude")),
    "speed": Quantity("speed", False, ("ground_speed", "speed_over_ground")),
    "course": Quantity("angle", True, ("track", "course_over_ground", "track_true", "course_true")),
    "east": Quantity("speed", False, ("v_east", "ground_east", "velocity_east", "speed_east")),
    "north": Quantity("speed", False, ("v_north", "ground_north", "velocity_north", "speed_north")),
    "climb": Quantity("speed", False, ("v_up", "vertical_speed", "climb_rate", "velocity_up")),
}  # fmt: skip
_WORDS: Final = {word: name for name, q in COLUMNS.items() for word in (name, *q.words)}


@dataclass(frozen=True, slots=True)
class Column:
    """Where a quantity stands in a row, and what brings it to SI; ``unit`` is empty where the name gives none."""

    index: int
    unit: str
    factor: float


def column_keys() -> list[str]:
    """Every key that may be mapped: each quantity with each of its units, and alone where it needs none."""
    return [
        key
        for name, quantity in COLUMNS.items()
        for key in [*([name] if quantity.bare else []), *(f"{name}_{u}" for u in _KINDS[quantity.kind])]
    ]


def split_unit(title: str) -> tuple[str, str]:
    """Name and unit of a column's title: ``Ground speed [km/h]`` → ``("ground_speed", "kmh")``; the unit may be empty."""
    text = title.strip().casefold()
    found = _BRACKETS.match(text)
    name, unit = found.groups() if found else (text, "")
    name = re.sub(r"[\s_.\-]+", "_", name).strip("_")
    if not found:
        stem, _, last = name.rpartition("_")
        if stem and (last in _SPELT or any(last in units for units in _KINDS.values())):
            name, unit = stem, last
    return name, _SPELT.get(unit, unit)


def find_columns(
    titles: list[str], mapped: Mapping[str, str] | None = None
) -> tuple[dict[str, Column], list[str]]:
    """Quantity → its column, and the titles that name a quantity without the unit it needs.

    ``mapped`` (key of :func:`column_keys` → title) goes before what the titles say themselves.
    """
    found: dict[str, Column] = {}
    without: list[str] = []
    plain = [title.strip().casefold() for title in titles]
    for key, title in (mapped or {}).items():
        if title.strip().casefold() in plain:
            name, unit = split_unit(key)
            found[name] = _column(plain.index(title.strip().casefold()), name, unit)
    for index, title in enumerate(titles):
        word, unit = split_unit(title)
        name = _WORDS.get(word, "")
        if not name or name in found:
            continue
        units = _KINDS[COLUMNS[name].kind]
        if unit in units or (not unit and COLUMNS[name].bare):
            found[name] = _column(index, name, unit)
        elif not unit:
            without.append(title.strip())
    return found, without


def _column(index: int, name: str, unit: str) -> Column:
    return Column(index, unit, _KINDS[COLUMNS[name].kind].get(unit, 1.0))
