"""Numbers, times and angles as they stand in the JSON documents."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any, Final, Literal

__all__ = ["ANGLE", "AS_IT_IS", "Fields", "Json", "angle", "number", "span", "take", "to_json", "utc"]

Json = dict[str, Any]
ANGLE: Final = "degrees true"
AS_IT_IS: Final = "text or truth"
Fields = Mapping[str, int | Literal["degrees true", "text or truth"]]


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


def take(row: object | None, fields: Fields) -> Json:
    """Fields of a result under their own names: numbers with their digits, angles in degrees true; all None where there is no row."""
    return {name: None if row is None else _told(getattr(row, name), how) for name, how in fields.items()}


def _told(value: Any, how: int | str) -> Any:
    if how == AS_IT_IS:
        return value
    return angle(value) if how == ANGLE else number(value, int(how))


def span(at: float, row: Any) -> Json:
    """Begin and end of a row as times; ``at`` [s since 1970] is where its seconds count from."""
    return {"start_utc": utc(at + row.start_s), "end_utc": utc(at + row.end_s)}


def to_json(document: Json) -> str:
    """The document as text (to be written as UTF-8), one space of indent, identical for identical input.

    Raises ValueError for a number that is not finite: documents say null.
    """
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
