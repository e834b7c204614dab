"""What every rule works with: the sentence it makes, and when a value is clearly beyond a threshold."""

from __future__ import annotations

from analyser.jump import Finding, Level, Values

__all__ = ["Finding", "Level", "Values", "clearly"]


def clearly(value: float, sd: float | None, threshold: float, certainty: float) -> bool:
    """Whether a value lies beyond its threshold by ``certainty`` standard deviations."""
    return value - certainty * (sd or 0.0) > threshold
