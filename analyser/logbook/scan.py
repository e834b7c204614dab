"""The tracks below some folders: found in a fixed order, told apart by content, nothing but plain files opened."""

from __future__ import annotations

import hashlib
import os
import stat
import zlib
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Final, NamedTuple

from analyser.errors import UnreadableError
from analyser.importers.read import track_format
from analyser.importers.source import path_text

__all__ = ["SUFFIXES", "Found", "check_folders", "content_hash", "refused_folders", "scan", "walk_folders"]

HEAD_BYTES = 4096
SUFFIXES: Final = tuple(
    f".{kind}{packed}" for kind in ("gpx", "fit", "igc", "nmea", "tcx") for packed in ("", ".gz")
)
_OURS: Final = b"air_east_mps"  # a table that debrief --samples-csv wrote: not a second track of that jump
# never looked into: reading a database that this process has open would drop its locks (POSIX)
_DATABASES = (".sqlite", ".sqlite-wal", ".sqlite-shm", ".sqlite-journal")


Columns = Callable[[Path], Mapping[str, str]]


class Found(NamedTuple):
    """A file that may hold a track: its path, size and times of last change."""

    path: Path
    size: int
    mtime_ns: int
    ctime_ns: int


def walk_folders(folders: Sequence[Path], refused: list[str] | None = None) -> Iterator[Path]:
    """Every folder at and below the given ones, sorted, none twice, links not followed.

    Those that can not be listed go into ``refused``, each with the reason. Raises UnreadableError where one of the given folders is missing or not a folder.
    """
    check_folders(folders)
    seen: set[str] = set()
    for top in sorted(os.path.abspath(folder) for folder in folders):
        if any(top == s or top.startswith(s + os.sep) for s in seen):
            continue
        seen.add(top.rstrip(os.sep))
        yield from _walk(top, refused)


def check_folders(folders: Sequence[Path]) -> None:
    """Raise UnreadableError where one of these is no folder."""
    for folder in folders:
        if not os.path.isdir(folder):
            what = "is not a folder" if os.path.lexists(folder) else "no such folder"
            raise UnreadableError(what, "give a folder that holds tracks", str(folder))


def _walk(top: str, refused: list[str] | None) -> Iterator[Path]:
    """Top down without recursion: ``os.walk`` of Python 3.11 gives up where folders lie a thousand deep."""
    waiting = [top]
    while waiting:
        folder = waiting.pop()
        try:
            with os.scandir(folder) as listing:
                below = sorted(entry.path for entry in listing if entry.is_dir(follow_symlinks=False))
        except OSError as error:
            if refused is not None:
                reason = f"can not be read: {error.strerror}; its tracks were left out"
                refused.append(f"{path_text(folder)}: {reason}")
            continue
        yield Path(folder)
        waiting += reversed(below)


def refused_folders(folders: Sequence[Path]) -> list[str]:
    """The folders at and below the given ones that can not be listed, as ``FOLDER: why``."""
    refused: list[str] = []
    deque(walk_folders(folders, refused), maxlen=0)
    return refused


def scan(folders: Sequence[Path], columns: Columns | None = None) -> Iterator[Found]:
    """Every plain file below the folders that holds a track or is named like one, in a fixed order.

    ``columns`` gives the titles of tables that hold in a folder; without it only tables whose titles speak for themselves are found.
    """
    for folder in walk_folders(folders):
        mapped = None if columns is None else columns(folder)
        try:
            with os.scandir(folder) as listing:
                entries = sorted(listing, key=lambda entry: os.fsencode(entry.name))
        except OSError:
            continue
        for entry in entries:
            found = _found(entry, mapped)
            if found is not None:
                yield found


def _found(entry: os.DirEntry[str], mapped: Mapping[str, str] | None) -> Found | None:
    if entry.name.startswith(".") or entry.name.lower().endswith(_DATABASES):
        return None
    try:
        status = entry.stat(follow_symlinks=False)
    except OSError:
        return None
    if not stat.S_ISREG(status.st_mode):
        return None
    path = Path(entry.path)
    if not entry.name.lower().endswith(SUFFIXES) and not _holds_track(path, mapped):
        return None
    return Found(path, status.st_size, status.st_mtime_ns, status.st_ctime_ns)


def _holds_track(path: Path, mapped: Mapping[str, str] | None) -> bool:
    """Whether the first bytes (unpacked where they are gzip) begin a track."""
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
    except OSError:
        return False
    if head[:2] == b"\x1f\x8b":
        try:
            head = zlib.decompressobj(31).decompress(head, HEAD_BYTES)
        except zlib.error:
            return False
    match track_format(head, mapped):
        case "xml":
            return any(root in head.replace(b"\0", b"") for root in (b"<gpx", b"TrainingCenterDatabase"))
        case "csv":
            return _OURS not in head
        case other:
            return other is not None


def content_hash(path: Path) -> str:
    """SHA-256 of a file's bytes, as hexadecimal text. Raises UnreadableError."""
    try:
        descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with open(descriptor, "rb") as file:
            if not stat.S_ISREG(os.fstat(descriptor).st_mode):
                raise UnreadableError("is not a plain file", "", path_text(path))
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise UnreadableError(
            f"can not be read: {reason}", "check the permissions", path_text(path)
        ) from None
