"""What ``save`` writes: one writer per suffix."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping
from pathlib import PurePath
from typing import TypeVar

from analyser.errors import OutputError
from analyser.writing import refuse_inputs, write_text

__all__ = ["save_as"]

T = TypeVar("T")


def save_as(
    path: str | os.PathLike[str],
    what: T,
    writers: Mapping[str, Callable[[T], str]],
    read: Iterable[str | os.PathLike[str]] = (),
) -> None:
    """Write ``what`` by the writer of the suffix, whole or not at all and over nothing of what was ``read``.

    Raises OutputError, also for a suffix without a writer.
    """
    suffix = PurePath(path).suffix.lower()
    if suffix not in writers:
        known = ", ".join(writers)
        raise OutputError(
            f"there is no writer for {suffix or 'a name without suffix'}", f"end it in {known}", str(path)
        )
    refuse_inputs([path], read)
    write_text(path, writers[suffix](what))
