"""replay: budget and advice: where the metres went, and which gate would have hit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from analyser.pattern import LegName

__all__ = ["Advice", "BudgetRow", "Cause"]

Cause = Literal["wind", "entry", "downwind leg", "base leg", "final leg"]


@dataclass(frozen=True, slots=True)
class BudgetRow:
    """One cause of the miss: metres along/across (signs as the landing's) with sd."""

    cause: Cause
    along_m: float
    across_m: float
    along_sd_m: float
    across_sd_m: float


@dataclass(frozen=True, slots=True)
class Advice:
    """The change of one gate that would have put the landing on the target, everything else as flown."""

    gate: LegName | None
    change_agl_m: float | None
    change_along_m: float | None
    change_across_m: float | None
    text: str
    blocked_by: str | None = None
