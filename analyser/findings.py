"""findings: small rules, each with threshold, unit and source, that turn numbers into at most a few neutral sentences."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

__all__ = ["CAUTIONS", "Finding"]


@dataclass(frozen=True, slots=True)
class Finding:
    """A stable ``code``, a level, a neutral sentence (SI in it only through the report's units), and its evidence (SI numbers with sds).

    ``text`` is a ``str.format`` template over ``evidence`` values already formatted by the report; ``metres`` ranks the causes.
    """

    code: str
    level: Literal["good", "note", "caution"]
    text: str
    evidence: dict[str, float | str | None] = field(default_factory=dict)
    metres: float = 0.0
    group: str = ""


CAUTIONS: tuple[str, ...] = (
    "For debriefing on the ground, after landing. Not an altimeter, not for use in the air, not an instructor: "
    "licensed instructors and the rules of your association and drop zone decide.",
    "Numbers are estimates with the errors shown. Nothing here counts for a licence; a witness signs those.",
    "A missed target is corrected in the next plan, not on final. A landing across or down wind in the clear is safer than a low turn.",
    "The wind found is a mean for this jump and height. It is not the gust measured near the ground that wind limits speak of, and says nothing about the next load.",
)
