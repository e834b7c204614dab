"""The lines of a text file, guarded: pieces of bytes in, lines out, none of them endless."""

from __future__ import annotations

import codecs
from collections.abc import Callable, Iterable, Iterator
from typing import Final

from analyser.errors import FormatError

__all__ = ["MAX_LINE_CHARACTERS", "decoded", "head_text", "lines", "text_encoding"]

MAX_LINE_CHARACTERS: Final = 100_000  # ours: a table of a thousand columns
_MARKS: Final = ((b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))


def text_encoding(head: bytes) -> str | None:
    """The encoding a text begins in, by its mark or its bytes: UTF-8, UTF-16, else ISO 8859-1; None where it is no text."""
    for mark, name in _MARKS:
        if head.startswith(mark):
            return name
    if b"\0" in head:
        return None
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head)
    except UnicodeDecodeError:
        return "iso-8859-1"
    return "utf-8"


def head_text(head: bytes) -> str:
    """The beginning of a file as text; empty where it is none."""
    name = text_encoding(head)
    return "" if name is None else head.decode(name, "replace").lstrip("\ufeff")


def decoded(chunks: Iterable[bytes], encoding: str) -> Iterator[str]:
    """Pieces of text; what the encoding can not read becomes U+FFFD."""
    machine = codecs.getincrementaldecoder(encoding)("replace")
    first = True
    for chunk in chunks:
        piece = machine.decode(chunk)
        if first and piece:
            piece, first = piece.lstrip("\ufeff"), False
        yield piece
    yield machine.decode(b"", True)


def lines(chunks: Callable[[], Iterable[bytes]], encoding: str) -> Iterator[str]:
    """Every line without its end, which may be LF, CR LF or CR. Raises FormatError where one is longer than any track's."""
    rest = ""
    for piece in decoded(chunks(), encoding):
        text = rest + piece
        if text.endswith("\r"):  # its LF may follow
            rest, text = "\r", text[:-1]
        else:
            rest = ""
        rows = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
        rest = rows.pop() + rest
        if len(rest) > MAX_LINE_CHARACTERS or any(len(row) > MAX_LINE_CHARACTERS for row in rows):
            raise FormatError(
                f"one of its lines has more than {MAX_LINE_CHARACTERS:,} characters", "export the track again"
            )
        yield from rows
    yield rest.rstrip("\r")
