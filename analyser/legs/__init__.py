"""find_legs: Track + WindProfile -> flown Pattern with turn heights."""

from analyser.legs.find import (
    find_legs,
)

__all__ = [
    "find_legs",
]
