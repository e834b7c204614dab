"""The cautions that stand on every report and every plan."""

from __future__ import annotations

__all__ = ["CAUTIONS", "PLAN_CAUTIONS"]

CAUTIONS: tuple[str, ...] = (
    "For debriefing on the ground, after landing. Not an altimeter, not for use in the air, not an instructor: "
    "licensed instructors and the rules of your association and drop zone decide.",
    "Numbers are estimates with the errors shown. Nothing here counts for a licence; a witness signs those.",
    "A missed target is corrected in the next plan, not on final. A landing across or down wind in the clear is safer than a low turn.",
    "The wind found is a mean for this jump and height. It is not the gust measured near the ground that wind limits speak of, and says nothing about the next load.",
)

PLAN_CAUTIONS: tuple[str, ...] = (
    "Made on the ground, before the jump, for the wind that was given: the air may differ. Not an altimeter, not for use in the air, "
    "not an instructor: licensed instructors and the rules of your association and drop zone decide.",
    "The wind up to which a leg can be held is where the pattern ends, not a limit to jump in.",
    CAUTIONS[2],
)
