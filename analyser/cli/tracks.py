"""Which jumps the words of a command line mean: files, ``FILE#2``, ``-`` for standard input, all of them; and their settings."""

from __future__ import annotations

import os
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
from analyser.importers.recording import Recording
from analyser.importers.source import MAX_FILE_BYTES
from analyser.jump import Debrief
from analyser.logbook.plans import Plans
from analyser.report.plain import plain
from analyser.settings import Settings
from analyser.settings.areas import area_files
from analyser.settings.picture import picture_files
from analyser.settings.toml import build_settings, given_target, merge_given, parse_target, read_given

__all__ = [
    "Sources",
    "Wanted",
    "debriefed",
    "folder_of",
    "recorded",
    "say",
    "settings_for",
    "standard_input",
    "wanted",
]

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


def folder_of(track: Wanted) -> Path:
    """Where the settings of a track are looked for: its folder; of standard input where the command is given."""
    return Path.cwd() if track.stdin else Path(os.path.abspath(track.path)).parent


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
    """What :class:`Sources` says for a folder, and every file it comes from: plans, cards, tables, areas and pictures."""
    found = Sources(folder, plans, target, quiet=quiet)
    return found.settings, found.files()


class Sources:
    """Settings of ``logbook.toml`` at or above ``folder`` (said on stderr), of corrections of single tracks there, of the plan files,
    later wins, then the target. Wrong usage where the target is no place; raises SettingsError."""

    def __init__(
        self, folder: Path | None, plans: Sequence[Path], target: str | None, *, quiet: bool = False
    ) -> None:
        try:
            place = given_target(None if target is None else parse_target(target))
        except AnalyserError as error:
            raise typer.BadParameter(f"{error.what}; {error.hint}", param_hint="--target") from None
        self._above = merge_given([*(read_given(path) for path in plans), place])
        self._named, self._plans = list(plans), Plans(above=self._above)
        self.settings = build_settings(self._above)
        if folder is not None:
            _, files = self._plans.of_folder(folder)
            self.settings = self._plans.assign(folder / "track", "").settings
            for file in files[-1:]:
                above = f" and {len(files) - 1} above" if len(files) > 1 else ""
                say(f"settings from {file}{above}", quiet=quiet)

    def files(self) -> list[Path]:
        """Every file read: plans, cards, tables, areas and pictures."""
        return [*self._named, *self._plans.files(), *picture_files(self._above), *area_files(self._above)]

    def of_track(self, path: Path, sha256: str) -> tuple[Settings, dict[int, Settings]]:
        """What holds for a track, corrections of it told, and for single jumps in it where they have corrections of their own."""
        found = self._plans.assign(Path(os.path.abspath(path)), sha256)
        return found.settings, dict(found.overrides)


def recorded(track: Wanted, sources: Sources) -> Recording:
    """A track as it was recorded, from its file or standard input; columns of a table by the names that the settings give them."""
    columns = sources.settings.columns
    if track.stdin:
        return read(standard_input(MAX_FILE_BYTES), columns=columns, name="standard input")
    return read(track.path, columns=columns)


def debriefed(track: Wanted, sources: Sources, *, quiet: bool = False) -> tuple[Debrief, ...]:
    """The debriefs that were asked for of one track, at least one; says where there are more jumps than are debriefed."""
    settings, own = sources.settings, dict[int, Settings]()
    recording = recorded(track, sources)
    if not track.stdin:
        settings, own = sources.of_track(track.path, recording.sha256)
        if own or settings != sources.settings:
            say(f"{recording.file}: a correction ([[jump]] or logbook.csv) holds for it", quiet=quiet)
    if track.jump == 0:
        return debrief_every(recording, settings, overrides=own)
    result = debrief_recording(recording, own.get(track.jump or 0, settings), jump=track.jump)
    if track.jump is None and result.jump in own:
        result = debrief_recording(recording, own[result.jump], jump=result.jump)
    if track.jump is None and result.jumps > 1:
        text = f"{recording.file}: holds {result.jumps} jumps, this is the last; --jump N picks another, --jump all all"
        say(text, quiet=quiet)
    return (result,)


def standard_input(most: int, hint: str = "pipe a track into it: … | crabline debrief -") -> bytes:
    """What comes in by standard input, a byte more than ``most`` where it is longer. Raises UnreadableError where nothing does."""
    if sys.stdin is None or sys.stdin.isatty():
        raise UnreadableError("nothing comes in", hint, "standard input")
    data = sys.stdin.buffer.read(most + 1)
    if not data:
        raise UnreadableError("nothing came in", hint, "standard input")
    return data
