"""Numbers and sentences: how one is rounded and given its unit, for every screen, file and document that shows it."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from analyser.angles import bearing_text
from analyser.units import DISPLAY_SYSTEMS, FAR_M, DisplaySystem, Unit, rounded

__all__ = ["FIELD", "METRIC", "Number", "fill", "pieces"]

FIELD = re.compile(r"\{(\w+)(?::(\w+)([+~]*)(?:\|([^|{}]*)\|([^|{}]*))?)?\}")
ENDINGS = ("mps", "m", "deg", "s")
METRIC = DISPLAY_SYSTEMS["metric"]
SWITCHED = ("height", "distance", "speed")
FIXED: dict[str, Unit] = {
    "angle": Unit("°", 1.0, 1.0),
    "bearing": Unit("°", 1.0, 1.0),
    "seconds": Unit("s", 1.0, 1.0),
    "percent": Unit("%", 0.01, 1.0),
    "count": Unit("", 1.0, 1.0),
    "days": Unit("days", 1.0, 1.0),
    "rate": Unit("", 1.0, 0.1),
    "ratio": Unit("", 1.0, 0.1),
    "loading": Unit("lb/ft²", 1.0, 0.01),
}


@dataclass(frozen=True, slots=True)
class Number:
    """One number as it is shown: its kind, SI value and standard deviation.

    ``kind``: height, distance or speed (their unit is the reader's choice), or angle, bearing, seconds, percent, count, days, rate,
    ratio or loading. ``signed`` shows a plus; ``sides`` gives the size with a word for either sign; ``bare`` rounds by the error
    without showing it; ``alone`` shows the error and nothing else.
    """

    kind: str
    value: float | None
    sd: float | None = None
    signed: bool = False
    sides: tuple[str, str] | None = None
    bare: bool = False
    alone: bool = False

    @property
    def switched(self) -> bool:
        """Whether its unit is the reader's choice."""
        return self.kind in SWITCHED

    @property
    def quantity(self) -> str:
        """The kind by which its unit is chosen: a distance of many kilometres is ``far``."""
        known = self.kind == "distance" and self.value is not None and math.isfinite(self.value)
        return "far" if known and abs(self.value or 0.0) >= FAR_M else self.kind

    @property
    def word(self) -> str:
        """The word for its sign, or nothing."""
        if self.sides is None or self.value is None or not math.isfinite(self.value):
            return ""
        return self.sides[0] if self.value >= 0.0 else self.sides[1]

    @property
    def size(self) -> float | None:
        """The value that is shown: without its sign where a word says it."""
        return abs(self.value) if self.sides is not None and self.value is not None else self.value

    def text(self, display: DisplaySystem = METRIC) -> str:
        """Value, error and unit; ``–`` where there is no value. Raises ``KeyError`` for an unknown kind.

        >>> Number("distance", -12.34, 1.5, sides=("long", "short")).text()
        '12.3 ± 1.5 m short'
        """
        unit = unit_of(self.quantity, display)
        if self.kind == "bearing":
            text = bearing_text(self.value, None if self.bare else self.sd)
        elif self.alone:
            sd = unit.show(self.sd)
            text = f"{rounded(sd, sd)[1]} {unit.label}" if sd else "–"
        elif self.bare:
            text = re.sub(
                r" ± \S+", "", unit.text(self.size, self.sd if self.switched else None, signed=self.signed)
            )
        else:
            text = unit.text(self.size, self.sd, signed=self.signed)
        if self.signed and not self.switched and not text.strip("+0. °"):
            text = text.lstrip("+")
        return f"{text.replace(' °', '°').strip()} {self.word}".rstrip()


def pieces(template: str, values: Mapping[str, Number | float | str | None]) -> Iterator[str | Number]:
    """The parts of a sentence in order: plain words and numbers.

    A field is ``{key}`` for a :class:`Number` or a text, or ``{key:kind}`` for an SI value of that kind, whose standard deviation is
    looked up (of ``turn_agl_m`` under ``turn_agl_sd_m``) and shown with ± unless the field ends in ``~``; ``+`` shows the sign and
    ``{key:kind|long|short}`` a word for it. Raises ``KeyError`` for an unknown key.
    """
    end = 0
    for match in FIELD.finditer(template):
        if match.start() > end:
            yield template[end : match.start()]
        end = match.end()
        key, kind, flags, positive, negative = match.groups()
        value = values[key]
        if isinstance(value, (str, Number)):
            yield value
        elif kind is None or kind == "text":
            yield "–" if value is None else str(value)
        else:
            sd = values.get(sd_key(key))
            sides = None if positive is None else (positive, negative)
            known = float(sd) if isinstance(sd, (int, float)) else None
            yield Number(kind, value, known, "+" in flags, sides, "~" in flags)
    if end < len(template):
        yield template[end:]


def fill(
    template: str,
    values: Mapping[str, Number | float | str | None],
    display: DisplaySystem = METRIC,
) -> str:
    """The sentence in the display's units (see :func:`pieces`). Raises ``KeyError`` for an unknown key or kind."""
    return "".join(p if isinstance(p, str) else p.text(display) for p in pieces(template, values))


def unit_of(kind: str, display: DisplaySystem) -> Unit:
    """The unit in which a kind of number is shown."""
    if kind in (*SWITCHED, "far"):
        unit: Unit = getattr(display, kind)
        return unit
    return FIXED[kind]


def sd_key(key: str) -> str:
    """Where the standard deviation of a value stands: ``turn_agl_m`` -> ``turn_agl_sd_m``."""
    stem, _, ending = key.rpartition("_")
    return f"{stem}_sd_{ending}" if stem and ending in ENDINGS else f"{key}_sd"
