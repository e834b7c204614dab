"""What ``save`` writes: one writer per suffix."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from pathlib import PurePath
from typing import TypeVar

from analyser.errors import OutputError
from analyser.writing import write_text

__all__ = ["save_as"]

T = TypeVar("T")


def save_as(path: str | os.PathLike[str], what: T, writers: Mapping[str, Callable[[T], str]]) -> None:
    """Write ``what`` by the writer of the suffix, whole or not at all. Raises OutputError, also for a suffix without one."""
    suffix = PurePath(path).suffix.lower()
    if suffix not in writers:
        known = ", ".join(writers)
        raise OutputError(
            f"there is no writer for {suffix or 'a name without suffix'}", f"end it in {known}", str(path)
        )
    write_text(path, writers[suffix](what))
