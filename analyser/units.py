"""Conversion constants, display systems and rounding by error: the only module that knows feet and knots.

Foot and nautical mile: exact international definitions (0.3048 m, 1852 m); statute mile 1609.344 m;
pound 0.45359237 kg.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

__all__ = [
    "DISPLAY_SYSTEMS",
    "FAR_M",
    "FOOT_M",
    "KMH_MPS",
    "KNOT_MPS",
    "MPH_MPS",
    "POUND_KG",
    "DisplaySystem",
    "Unit",
    "rounded",
]

FOOT_M: Final = 0.3048
KNOT_MPS: Final = 1852.0 / 3600.0
MILE_M: Final = 1609.344
MPH_MPS: Final = MILE_M / 3600.0
KMH_MPS: Final = 1.0 / 3.6
POUND_KG: Final = 0.45359237
FAR_M: Final = 10_000.0  # from here on a distance is shown in kilometres or miles
SQUARE_FOOT_M2: Final = FOOT_M**2


@dataclass(frozen=True, slots=True)
class Unit:
    """A display unit: ``value_si / si`` is the shown number, ``step`` its usual finest step."""

    label: str
    si: float
    step: float = 1.0

    def show(self, value_si: float | None) -> float | None:
        """The SI value in this unit (None and NaN give None)."""
        if value_si is None or not math.isfinite(value_si):
            return None
        return value_si / self.si

    def text(self, value_si: float | None, sd_si: float | None = None, *, signed: bool = False) -> str:
        """``12 ft`` or ``12 ± 3 ft``, rounded by the error; ``–`` where there is no value.

        >>> DISPLAY_SYSTEMS["us"].height.text(100.0, 5.0)
        '328 ± 16 ft'
        """
        value = self.show(value_si)
        if value is None:
            return "–"
        sd = self.show(sd_si)
        number, error = rounded(value, sd, step=self.step, signed=signed)
        return f"{number} ± {error} {self.label}" if error else f"{number} {self.label}"


FEET: Final = Unit("ft", FOOT_M, 10.0)
METRES: Final = Unit("m", 1.0, 1.0)
KNOTS: Final = Unit("kt", KNOT_MPS, 1.0)
MPH: Final = Unit("mph", MPH_MPS, 1.0)
MPS: Final = Unit("m/s", 1.0, 0.1)
FEET_DISTANCE: Final = Unit("ft", FOOT_M, 1.0)
KILOMETRES: Final = Unit("km", 1000.0, 1.0)
MILES: Final = Unit("mi", MILE_M, 1.0)


@dataclass(frozen=True, slots=True)
class DisplaySystem:
    """Units for height, speed and distance, by country custom; ``far`` for distances from :data:`FAR_M` on."""

    name: str
    height: Unit
    speed: Unit
    distance: Unit
    far: Unit = KILOMETRES


DISPLAY_SYSTEMS: Final[dict[str, DisplaySystem]] = {
    "us": DisplaySystem("us", FEET, MPH, FEET_DISTANCE, MILES),
    "uk": DisplaySystem("uk", FEET, KNOTS, METRES),
    "nordic": DisplaySystem("nordic", FEET, KNOTS, METRES),
    "metric": DisplaySystem("metric", METRES, MPS, METRES),
}


def rounded(value: float, sd: float | None, *, step: float = 1.0, signed: bool = False) -> tuple[str, str]:
    """Value and error as text, rounded by the error (Particle Data Group rule), never finer than needed.

    The three leading digits of the error decide: up to 354 keep two digits, up to 949 one, above that
    round up to 1000 and keep two. Without an error the value is rounded to ``step``.

    The examples of the rule itself (Review of Particle Physics, introduction, section on rounding):

    >>> rounded(0.827, 0.119), rounded(0.827, 0.367)
    (('0.83', '0.12'), ('0.8', '0.4'))
    """
    sign = "+" if signed else ""
    if sd is None or not math.isfinite(sd) or sd <= 0.0:
        digits = max(0, -math.floor(math.log10(step) + 1e-9))
        number = round(value / step) * step if step >= 1.0 else value
        return _clean(f"{number:{sign}.{digits}f}"), ""
    exponent = math.floor(math.log10(sd))
    leading = round(sd / 10.0 ** (exponent - 2))
    place = exponent - 1 if leading <= 354 else exponent  # 950…999 becomes 1000, of which two digits stay
    digits = max(0, -place)
    scale = 10.0**place
    return _clean(
        f"{round(value / scale) * scale:{sign}.{digits}f}"
    ), f"{round(sd / scale) * scale:.{digits}f}"


def _clean(text: str) -> str:
    stripped = text.lstrip("+-").replace("0", "").replace(".", "")
    return text if stripped or not text.startswith("-") else text[1:]
