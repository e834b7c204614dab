"""What a season reads, so that none of its outputs is written over any of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path

from analyser.errors import OutputError
from analyser.logbook.plans import FILE_NAME, Plans
from analyser.logbook.scan import scan
from analyser.logbook.table import TABLE_NAME
from analyser.writing import identity, refuse_inputs

__all__ = ["refuse_in_folder", "refuse_outputs", "season_inputs"]


def season_inputs(folders: Sequence[Path], plans: Plans, logbook: Path) -> Iterator[Path]:
    """Every file that a season of these folders reads: tracks, plans, cards, tables and the logbook.

    Raises what :class:`Plans` raises where one of them is not as it should be.
    """
    plans.check(folders)
    yield from plans.files()
    yield from (Path(f"{logbook}{end}") for end in ("", "-wal", "-shm", "-journal"))
    yield from (found.path for found in scan(folders, plans.columns))


def refuse_outputs(outputs: Iterable[Path], inputs: Iterable[Path]) -> None:
    """Raise OutputError where an output is a file that is read, by whatever name, or has a name that the logbook reads."""
    outputs = list(outputs)
    for path in outputs:
        if path.name in (FILE_NAME, TABLE_NAME):
            raise OutputError("is a name that the logbook reads", "choose another name", str(path))
    refuse_inputs(outputs, inputs)


def refuse_in_folder(folder: Path, ours: Callable[[str], bool], inputs: Iterable[Path]) -> None:
    """Raise OutputError where a file that is read lies in ``folder`` under a name that is ``ours`` to write there."""
    place = identity(folder)
    for path in inputs:
        if ours(path.name) and identity(path.parent) == place:
            raise OutputError(f"holds {path.name}, which is read", "name another folder", str(folder))
