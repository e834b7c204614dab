"""Numbers and sentences as HTML in a display system, so marked that the page can change the units later."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from analyser.report.page.shell import escape, json_for_script
from analyser.units import DISPLAY_SYSTEMS, DisplaySystem, rounded

__all__ = ["Words", "degrees", "plain_number"]

Quantity = Literal["height", "speed", "distance"]


@dataclass(frozen=True, slots=True)
class Words:
    """Writes quantities in the display system named ``units``."""

    units: str

    @property
    def system(self) -> DisplaySystem:
        """The display system."""
        return DISPLAY_SYSTEMS[self.units]

    def value(
        self, quantity: Quantity, si: float | None, sd: float | None = None, *, signed: bool = False
    ) -> str:
        """``<span>`` with the number, its error and unit; an en dash where there is no number."""
        if si is None or not math.isfinite(si):
            return "–"
        unit = getattr(self.system, quantity)
        known_sd = sd if sd is not None and math.isfinite(sd) and sd > 0.0 else None
        data = f'data-q="{quantity}" data-v="{si:.3f}"'
        data += f' data-sd="{known_sd:.3f}"' if known_sd is not None else ""
        data += " data-signed" if signed else ""
        text = str(unit.text(si, known_sd, signed=signed)).replace("-", "\N{MINUS SIGN}")
        return f"<span {data}>{escape(text)}</span>"

    def height(self, si: float | None, sd: float | None = None, *, signed: bool = False) -> str:
        """A height or a difference of heights [m]."""
        return self.value("height", si, sd, signed=signed)

    def speed(self, si: float | None, sd: float | None = None, *, signed: bool = False) -> str:
        """A speed [m/s]."""
        return self.value("speed", si, sd, signed=signed)

    def distance(self, si: float | None, sd: float | None = None, *, signed: bool = False) -> str:
        """A horizontal distance [m]."""
        return self.value("distance", si, sd, signed=signed)

    def error(self, quantity: Quantity, sd: float | None) -> str:
        """An error alone, rounded by itself."""
        if sd is None or not math.isfinite(sd) or sd <= 0.0:
            return "–"
        unit = getattr(self.system, quantity)
        text = f"{rounded(sd / unit.si, sd / unit.si)[1]} {unit.label}"
        return f'<span data-q="{quantity}" data-sd="{sd:.3f}">{escape(text)}</span>'

    def sides(self, si: float | None, sd: float | None, positive: str, negative: str) -> str:
        """``25 ± 6 m long``: the size with a word for the sign; the sign stays where the error allows both."""
        if si is None or not math.isfinite(si):
            return "–"
        return f"{self.distance(abs(si), sd)} {positive if si >= 0 else negative}"

    def said(self, say: Callable[[DisplaySystem], str]) -> str:
        """A sentence that ``say`` words for each display system."""
        texts = {name: say(system) for name, system in DISPLAY_SYSTEMS.items()}
        here = escape(texts[self.units])
        if len(set(texts.values())) == 1:
            return here
        return f'<span data-say="{escape(json_for_script(texts))}">{here}</span>'


def degrees(deg: float | None, sd: float | None = None) -> str:
    """A direction as three digits, with its error."""
    if deg is None or not math.isfinite(deg):
        return "–"
    error = f" ± {sd:.0f}" if sd is not None and math.isfinite(sd) else ""
    return f"{round(deg) % 360:03d}{error}°"


def plain_number(value: float | None, digits: int = 0, unit: str = "", *, signed: bool = False) -> str:
    """A number that has the same unit everywhere (seconds, degrees); no line breaks between the two."""
    if value is None or not math.isfinite(value):
        return "–"
    sign = "+" if signed else ""
    text = f"{value:{sign}.{digits}f}"
    if not text.strip("+-0."):
        text = text.lstrip("+-")
    return text.replace("-", "\N{MINUS SIGN}") + unit.replace(" ", "\N{NO-BREAK SPACE}")
