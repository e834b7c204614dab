"""How the path of a track stands in a logbook: as it is read, or percent-encoded where its bytes are no UTF-8."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final
from urllib.parse import quote_from_bytes, unquote_to_bytes

from analyser.importers.source import path_text

__all__ = ["is_gone", "key_path", "key_text", "shown_key"]

_ENCODED: Final = "file:"
_NEAR: Final = 3  # folders up to the one that holds both


def key_text(path: str) -> str:
    """A text for every path, and another for every other path; whole UTF-8 stays as it is (``/`` between folders)."""
    plain = path.replace(os.sep, "/")
    try:
        plain.encode("utf-8")
    except UnicodeEncodeError:
        return _ENCODED + quote_from_bytes(os.fsencode(plain))
    return _ENCODED + quote_from_bytes(plain.encode()) if plain.startswith(_ENCODED) else plain


def shown_key(key: str, folder: str) -> str:
    """A key as documents and pages show it: never the whole path of a machine.

    A track that lies beside ``folder`` (of the logbook) is named from there (``../tracks/a.gpx``), one far away by its
    folder and its name.
    """
    path = key_path(key)
    if os.path.isabs(path):
        drive, _ = os.path.splitdrive(path)
        top = os.path.commonpath([path, folder]) if os.path.splitdrive(folder)[0] == drive else drive
        near = len(os.path.relpath(folder, top or os.sep).split(os.sep)) <= _NEAR and top not in (
            drive,
            drive + os.sep,
        )
        path = os.path.relpath(path, folder) if near else os.sep.join(path.split(os.sep)[-2:])
    return path_text(path).replace(os.sep, "/")


def key_path(key: str) -> str:
    """The path that :func:`key_text` was given."""
    return os.fsdecode(unquote_to_bytes(key.removeprefix(_ENCODED))) if key.startswith(_ENCODED) else key


def is_gone(place: Path) -> bool:
    """Whether nothing is there; a folder that may not be looked into hides its tracks, it does not delete them."""
    try:
        os.lstat(place)
    except (FileNotFoundError, NotADirectoryError):
        return True
    except OSError:
        return False
    return False
