"""plan_pattern: PatternSetup + Trim + WindProfile -> the pattern that ends on the target."""

from __future__ import annotations

from analyser.flight import Trim
from analyser.pattern import Hand, Pattern
from analyser.settings import PatternSetup
from analyser.wind.profile import WindProfile

__all__ = ["plan_pattern"]


def plan_pattern(
    setup: PatternSetup,
    trim: Trim,
    wind: WindProfile,
    *,
    hand: Hand,
    landing_deg: float,
    instant_turns: bool = False,
) -> Pattern:
    """Ground places of the gates, east/north from the target, such that the pattern flown at the planned heights ends on it."""
    raise NotImplementedError
