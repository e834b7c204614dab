"""Numbers as files write them."""

from __future__ import annotations

import math

__all__ = ["decimal"]


def decimal(text: str | None) -> float:
    """A plain decimal number; NaN for anything else, also for what only Python calls a number."""
    if text is None:
        return math.nan
    try:
        value = float(text)
    except ValueError:
        return math.nan
    return value if "_" not in text and text.isascii() and math.isfinite(value) else math.nan
