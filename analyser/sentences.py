"""Sentences with numbers: templates over SI values, filled in the units of a display system."""

from __future__ import annotations

import re
from collections.abc import Mapping

from analyser.units import DISPLAY_SYSTEMS, DisplaySystem, Unit

__all__ = ["fill"]

FIELD = re.compile(r"\{(\w+):(\w+)([+~]*)\}")
ENDINGS = ("mps", "m", "deg", "s")
PLAIN: dict[str, Unit] = {
    "angle": Unit("°", 1.0, 1.0),
    "seconds": Unit("s", 1.0, 1.0),
    "percent": Unit("%", 0.01, 1.0),
    "count": Unit("", 1.0, 1.0),
}


def fill(
    template: str,
    values: Mapping[str, float | str | None],
    display: DisplaySystem = DISPLAY_SYSTEMS["metric"],
) -> str:
    """The sentence in the display's units.

    A field is ``{key:kind}``; ``kind`` is height, distance, speed, angle, seconds, percent, count or text. The standard deviation
    of ``turn_agl_m`` is looked up as ``turn_agl_sd_m`` and shown with ±, unless the field ends in ``~``; ``+`` shows the sign.
    Raises ``KeyError`` for an unknown key or kind.
    """

    def one(match: re.Match[str]) -> str:
        key, kind, flags = match.groups()
        value = values[key]
        if kind == "text" or isinstance(value, str):
            return str(value)
        sd = None if "~" in flags else values.get(sd_key(key))
        unit = unit_of(kind, display)
        text = unit.text(value, sd if isinstance(sd, (int, float)) else None, signed="+" in flags)
        return text.replace(" °", "°").strip()

    return FIELD.sub(one, template)


def unit_of(kind: str, display: DisplaySystem) -> Unit:
    """The unit in which a kind of number is shown."""
    units = {"height": display.height, "distance": display.distance, "speed": display.speed} | PLAIN
    return units[kind]


def sd_key(key: str) -> str:
    """Where the standard deviation of a value stands: ``turn_agl_m`` -> ``turn_agl_sd_m``."""
    stem, _, ending = key.rpartition("_")
    return f"{stem}_sd_{ending}" if stem and ending in ENDINGS else f"{key}_sd"
