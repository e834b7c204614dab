"""find_legs: Track + WindProfile -> flown Pattern with turn heights."""

from __future__ import annotations

from analyser.pattern import Pattern
from analyser.track import Track
from analyser.wind.profile import WindProfile

__all__ = ["find_legs"]


def find_legs(track: Track, start: int, stop: int, wind: WindProfile) -> Pattern:
    """Segment the air heading of the canopy flight ``start:stop`` (``stop`` at the landing) and name the legs backwards from it."""
    raise NotImplementedError
