"""Which jumps the words of a command line mean: files, ``FILE#2``, ``-`` for standard input, all of them; and their settings."""

from __future__ import annotations

import re
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import typer

from analyser.debrief import debrief_every, debrief_recording
from analyser.errors import AnalyserError, UnreadableError
from analyser.importers.read import read
from analyser.importers.source import MAX_FILE_BYTES
from analyser.jump import Debrief
from analyser.logbook.plans import Plans
from analyser.report.plain import plain
from analyser.settings import Settings
from analyser.settings.picture import picture_files
from analyser.settings.toml import build_settings, merge_given, parse_target, read_given

__all__ = ["Wanted", "debriefed", "say", "settings_for", "wanted"]

STDIN: Final = "-"
_NUMBERED: Final = re.compile(r"(.+)#([1-9]\d{0,3})")


@dataclass(frozen=True, slots=True)
class Wanted:
    """One track of the command line: its path (``-`` is standard input) and which jump of it: a number, all (0) or the last (None)."""

    path: Path
    jump: int | None

    @property
    def stdin(self) -> bool:
        """Whether it comes from standard input."""
        return str(self.path) == STDIN


def say(text: str, *, quiet: bool = False) -> None:
    """One line of progress or warning, on stderr; nothing where the user wants to hear nothing."""
    if not quiet:
        print(plain(text), file=sys.stderr)


def wanted(track: Path, jump: str | None) -> Wanted:
    """What a TRACK means with ``--jump``: ``FILE#2`` is jump 2 of FILE where no file has that whole name. Wrong usage: BadParameter."""
    found = _NUMBERED.fullmatch(str(track))
    if found is not None and not track.exists():
        if jump is not None:
            raise typer.BadParameter(f"{track} already says which jump", param_hint="--jump")
        return Wanted(Path(found[1]), int(found[2]))
    if jump is None or jump == "all":
        return Wanted(track, None if jump is None else 0)
    if not (jump.isascii() and jump.isdigit() and int(jump) > 0):
        raise typer.BadParameter(f"{jump!r} is neither a number from 1 nor all", param_hint="--jump")
    return Wanted(track, int(jump))


def settings_for(
    folder: Path | None, plans: Sequence[Path], target: str | None, *, quiet: bool = False
) -> tuple[Settings, list[Path]]:
    """Settings of ``logbook.toml`` at or above ``folder`` (said on stderr), then of the plan files, later wins, then the target.

    With them every file that they were read from: plans, cards, tables and pictures.
    """
    try:
        place = None if target is None else parse_target(target)
    except AnalyserError as error:
        raise typer.BadParameter(f"{error.what}; {error.hint}", param_hint="--target") from None
    found = Plans()
    given, files = ({}, ()) if folder is None else found.of_folder(folder)
    for file in files[-1:]:
        say(f"settings from {file}" + (f" and {len(files) - 1} above" if len(files) > 1 else ""), quiet=quiet)
    given = merge_given([given, *(read_given(path) for path in plans)])
    return build_settings(given, target=place), [*plans, *found.files(), *picture_files(given)]


def debriefed(track: Wanted, settings: Settings, *, quiet: bool = False) -> tuple[Debrief, ...]:
    """The debriefs that were asked for of one track, at least one; says where there are more jumps than are debriefed."""
    if track.stdin:
        recording = read(_standard_input(), columns=settings.columns, name="standard input")
    else:
        recording = read(track.path, columns=settings.columns)
    if track.jump == 0:
        return debrief_every(recording, settings)
    result = debrief_recording(recording, settings, jump=track.jump)
    if track.jump is None and result.jumps > 1:
        text = f"{recording.file}: holds {result.jumps} jumps, this is the last; --jump N picks another, --jump all all"
        say(text, quiet=quiet)
    return (result,)


def _standard_input() -> bytes:
    if sys.stdin is None or sys.stdin.isatty():
        raise UnreadableError(
            "nothing comes in", "pipe a track into it: … | crabline debrief -", "standard input"
        )
    data = sys.stdin.buffer.read(MAX_FILE_BYTES + 1)
    if not data:
        raise UnreadableError(
            "nothing came in", "pipe a track into it: … | crabline debrief -", "standard input"
        )
    return data
