"""The keys a plan file may hold, with the kind, units and bounds of each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, TypeAlias

from analyser.track_titles import column_keys
from analyser.units import FOOT_M, KMH_MPS, KNOT_MPS, MPH_MPS, POUND_KG, SQUARE_FOOT_M2

__all__ = [
    "PLAN_KEYS",
    "UNITS",
    "Choice",
    "Day",
    "Flag",
    "Keys",
    "Lines",
    "Pixel",
    "Position",
    "Positions",
    "Quantity",
    "Rows",
    "Spec",
    "Table",
    "Text",
    "Texts",
    "Whole",
    "known_keys",
    "listed_keys",
]

UNITS: Final[dict[str, dict[str, float]]] = {
    "height": {"ft": FOOT_M, "m": 1.0},
    "speed": {"kt": KNOT_MPS, "mph": MPH_MPS, "kmh": KMH_MPS, "mps": 1.0},
    "angle": {"deg": 1.0},
    "area": {"ft2": SQUARE_FOOT_M2, "m2": 1.0},
    "mass": {"lb": POUND_KG, "kg": 1.0},
    "temperature": {"c": 1.0},
    "pressure": {"hpa": 1.0},
}


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number whose key ends in a unit; bounds in SI, both allowed. The bounds are ours: they catch a wrong unit."""

    kind: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text."""


@dataclass(frozen=True, slots=True)
class Lines:
    """A text of several lines."""


@dataclass(frozen=True, slots=True)
class Texts:
    """One text or a list of texts."""


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number from ``low`` up to ``high``."""

    low: int
    high: int = 1_000_000


@dataclass(frozen=True, slots=True)
class Flag:
    """true or false."""


@dataclass(frozen=True, slots=True)
class Day:
    """A day: a date of TOML (``2026-06-14``), or the same in quotes."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One of the given words."""

    options: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Position:
    """[latitude, longitude] in degrees."""


@dataclass(frozen=True, slots=True)
class Positions:
    """A polygon: at least three [latitude, longitude]."""


@dataclass(frozen=True, slots=True)
class Rows:
    """An array of tables with these keys; ``required`` names those that may not be left out, ``most`` how many there may be."""

    keys: Keys
    required: tuple[str, ...] = ()
    most: int = 500


@dataclass(frozen=True, slots=True)
class Pixel:
    """[column, row] in a picture, counted from its top left corner."""


@dataclass(frozen=True, slots=True)
class Table:
    """A table within a table, with these keys."""

    keys: Keys


Spec: TypeAlias = "Pixel | Table | Quantity | Text | Lines | Texts | Whole | Flag | Day | Choice | Position | Positions | Rows | Mapping[str, Spec]"
Keys: TypeAlias = Mapping[str, "Spec"]

_GATE: Final = Quantity("height", 15.0, 3000.0)
_DIRECTION: Final = Quantity("angle", 0.0, 360.0)

PLAN_KEYS: Final[Keys] = {
    "site": {
        "name": Text(),
        "target": Position(),
        "elevation": Quantity("height", -450.0, 6000.0),
        "min_final_turn": Quantity("height", 0.0, 1000.0),
        "direction": Rows(
            {"landing": _DIRECTION, "hand": Choice(("left", "right"))},
            ("landing",),
        ),
        "keep_out": Rows(
            {"name": Text(), "below": Quantity("height", 0.0, 10_000.0), "polygon": Positions()},
            ("below", "polygon"),
        ),
        "areas": Texts(),
        "picture": Table(
            {
                "file": Text(),
                "world": Text(),
                "point": Rows({"pixel": Pixel(), "place": Position()}, ("pixel", "place")),
            }
        ),
        "standard": Rows(
            {"name": Text(), "radius": Quantity("height", 0.5, 1000.0), "source": Text()},
            ("name", "radius", "source"),
        ),
    },
    "jumper": {"name": Text()},
    "canopy": {
        "name": Text(),
        "area": Quantity("area", 3.0, 60.0),
        "exit_weight": Quantity("mass", 25.0, 300.0),
        "airspeed": Quantity("speed", 3.0, 40.0),
        "sink": Quantity("speed", 0.5, 20.0),
        "airspeed_sd": Quantity("speed", 0.0, 10.0),
        "sink_sd": Quantity("speed", 0.0, 5.0),
        "bank": Quantity("angle", 5.0, 75.0),
    },
    "pattern": {
        "preset": Text(),
        "hand": Choice(("left", "right", "as flown")),
        "landing": _DIRECTION,
        "crosswind": _GATE,
        "downwind": _GATE,
        "base": _GATE,
        "final": _GATE,
    },
    "wind": Rows(
        {
            "agl": Quantity("height", 0.0, 10_000.0),
            "speed": Quantity("speed", 0.0, 100.0),
            "from": _DIRECTION,
            "metar": Lines(),
            "aloft": Lines(),
            "taf": Lines(),
            "station": Text(),
            "at": Text(),
        },
    ),
    "air": {
        "temperature": Quantity("temperature", -60.0, 60.0),
        "pressure": Quantity("pressure", 850.0, 1100.0),
    },
    "columns": {key: Text() for key in column_keys()},
}


def known_keys(keys: Keys) -> list[str]:
    """Every way to write the keys of a table, with units."""
    names: list[str] = []
    for name, spec in keys.items():
        if isinstance(spec, Quantity):
            names += [f"{name}_{unit}" for unit in UNITS[spec.kind]]
        else:
            names.append(name)
    return names


def listed_keys(keys: Keys) -> str:
    """The keys of a table for a sentence: ``name, area_ft2/_m2``."""
    names = []
    for name, spec in keys.items():
        units = "/".join(f"_{unit}" for unit in UNITS[spec.kind]) if isinstance(spec, Quantity) else ""
        names.append(f"{name}{units}")
    return ", ".join(names)
