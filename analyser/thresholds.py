"""Tables of the numbers that a stage decides by: each with its unit, what it means and where it comes from.

A stage keeps its table in a module ``thresholds``; the numbers a user may dispute in a report are those of ``settings.Method``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import field, fields
from typing import Any, Final, NamedTuple, TypeVar

__all__ = ["OURS", "PRACTICE", "Row", "number", "rows"]

T = TypeVar("T")

OURS: Final = "ours"
"""Chosen by us, on made-up jumps; nothing outside the project says it."""
PRACTICE: Final = "common practice, no source"


class Row(NamedTuple):
    """One number, or the numbers of one scale."""

    name: str
    value: Any
    unit: str
    meaning: str
    source: str


def number(value: T, unit: str, meaning: str, source: str = OURS) -> T:
    """A field of a table (a frozen dataclass) with its value, its unit ("1" where it has none), what it means and its source."""
    told: Any = field(default=value, metadata={"unit": unit, "meaning": meaning, "source": source})
    return told  # type: ignore[no-any-return]


def rows(table: Any) -> Iterator[Row]:
    """The numbers of a table in their order."""
    for one in fields(table):
        yield Row(
            one.name, getattr(table, one.name), *(one.metadata[k] for k in ("unit", "meaning", "source"))
        )
