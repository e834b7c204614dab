"""The logbook: one SQLite file with a row and a JSON document per jump, safe against kills and against two runs at once."""

from analyser.logbook.book import (
    Content,
    Failure,
    Logbook,
    Result,
)

__all__ = [
    "Content",
    "Failure",
    "Logbook",
    "Result",
]
