"""The logbook: one SQLite file with a row and a JSON document per jump, safe against kills and against two runs at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from analyser.logbook.book import Content, Failure, Logbook, Result

__all__ = ["Content", "Failure", "Logbook", "Result"]


def __getattr__(name: str) -> Any:
    """The book itself loads when it is asked for: a single debrief reads ``logbook.toml`` and opens no database."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from analyser.logbook import book

    return getattr(book, name)
