"""find_legs: Track + WindProfile -> flown Pattern with turn heights."""

from analyser.legs.find import (
    S_TURN_DEG,
    find_legs,
)

__all__ = [
    "S_TURN_DEG",
    "find_legs",
]
