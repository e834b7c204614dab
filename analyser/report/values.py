"""Numbers, times and angles as they stand in the JSON documents."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime, timedelta
from typing import Any

__all__ = ["Json", "angle", "number", "to_json", "utc"]

Json = dict[str, Any]


def number(value: float | None, digits: int = 2) -> float | None:
    """A finite number rounded to ``digits``, or None."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), digits) + 0.0


def utc(seconds: float | None) -> str | None:
    """Seconds since 1970 as ISO 8601 with ``Z``, to the millisecond where there is a fraction."""
    if seconds is None or not math.isfinite(seconds):
        return None
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=round(seconds * 1000.0))
    kind = "milliseconds" if moment.microsecond else "seconds"
    return moment.isoformat(timespec=kind).replace("+00:00", "Z")


def angle(value: float | None) -> float | None:
    """Degrees true in 0…360, or None."""
    rounded = number(value, 1)
    return None if rounded is None else rounded % 360.0


def to_json(document: Json) -> str:
    """The document as text (to be written as UTF-8), one space of indent, identical for identical input.

    Raises ValueError for a number that is not finite: documents say null.
    """
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
