"""How the path of a track stands in a logbook: as it is read, or percent-encoded where its bytes are no UTF-8."""

from __future__ import annotations

import os
from typing import Final
from urllib.parse import quote_from_bytes, unquote_to_bytes

__all__ = ["key_path", "key_text"]

_ENCODED: Final = "file:"


def key_text(path: str) -> str:
    """A text for every path, and another for every other path; whole UTF-8 stays as it is (``/`` between folders)."""
    plain = path.replace(os.sep, "/")
    try:
        plain.encode("utf-8")
    except UnicodeEncodeError:
        return _ENCODED + quote_from_bytes(os.fsencode(plain))
    return _ENCODED + quote_from_bytes(plain.encode()) if plain.startswith(_ENCODED) else plain


def key_path(key: str) -> str:
    """The path that :func:`key_text` was given."""
    return os.fsdecode(unquote_to_bytes(key.removeprefix(_ENCODED))) if key.startswith(_ENCODED) else key
