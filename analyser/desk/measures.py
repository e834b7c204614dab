"""Measures: the units in which a reader sees and types heights and speeds, and how they are called in a plan file."""

from __future__ import annotations

from typing import Final, NamedTuple

from starlette.requests import Request

from analyser.desk.work import DISPLAY_SYSTEMS, KEY_UNITS

__all__ = ["COOKIE", "UNITS", "Measure", "Measures", "measures_of", "units_of"]

UNITS: Final = "uk"
"""What a browser that never chose sees."""

COOKIE: Final = "crabline-units"
"""Set by the desk's script when another display system is chosen; cookies know no ports, so it holds the next evening too."""


class Measure(NamedTuple):
    """A unit of a form: what it measures, its label, its SI value, the ending of a plan file's keys that mean it."""

    quantity: str
    label: str
    si: float
    ending: str

    def shown(self, si: float | None) -> str:
        """An SI value as it stands in a field: at most two decimals, "" for none."""
        return "" if si is None else f"{si / self.si:.2f}".rstrip("0").rstrip(".")


class Measures(NamedTuple):
    """The units of a display system's forms."""

    units: str
    height: Measure
    speed: Measure


def measures_of(units: str) -> Measures:
    """The measures of a display system."""
    system = DISPLAY_SYSTEMS[units]
    found = {}
    for quantity, unit in (("height", system.height), ("speed", system.speed)):
        ending = next(name for name, si in KEY_UNITS[quantity].items() if si == unit.si)
        found[quantity] = Measure(quantity, unit.label, unit.si, ending)
    return Measures(units, found["height"], found["speed"])


def units_of(request: Request) -> str:
    """The display system that the browser of a request remembers, else UNITS."""
    kept = request.cookies.get(COOKIE, "")
    return kept if kept in DISPLAY_SYSTEMS else UNITS
