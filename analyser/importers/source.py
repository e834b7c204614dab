"""The bytes of one file, guarded: a regular file of bearable size, plain or gzip, read in pieces."""

from __future__ import annotations

import errno
import hashlib
import os
import stat
import zlib
from collections.abc import Iterator
from typing import Final

from analyser.errors import FormatError, UnreadableError

__all__ = ["MAX_FILE_BYTES", "MAX_FIT_BYTES", "MAX_UNPACKED_BYTES", "Source", "path_text"]

MAX_FILE_BYTES: Final = 1_000_000_000  # three million GPX points with every element: a week at 5 Hz
MAX_FIT_BYTES: Final = 128_000_000
MAX_UNPACKED_BYTES: Final = (
    45_000_000  # a larger track can be unpacked first; keeps 20 MB of gzip within ten seconds
)
MAX_RATIO: Final = 150.0  # ours: repetitive GPX packs 10-40 times
_RATIO_FREE_BYTES: Final = 10_000_000
_CHUNK: Final = 1 << 18


class Source:
    """A checked file, or the bytes of one; :meth:`chunks` reads it from the start, unpacked, as often as wanted.

    ``sha256`` is of the bytes on the disk, known once :meth:`digest` was asked. Raises UnreadableError for what is no readable regular file
    of at most 1 GB, FormatError for an empty file and a broken or bloated gzip.
    """

    def __init__(self, path: str | os.PathLike[str] | bytes) -> None:
        self.data = path if isinstance(path, bytes) else None
        self.path = "" if isinstance(path, bytes) else os.fspath(path)
        self.size = self._check_size(len(path)) if isinstance(path, bytes) else self._check()
        self.cut = False
        self.head = b""
        self.packed = self._first(2) == b"\x1f\x8b"
        self.head = next(iter(self.chunks()), b"")

    def _check(self) -> int:
        try:
            found = os.stat(self.path)
        except (OSError, ValueError) as error:
            raise _unreadable(error) from None
        if stat.S_ISDIR(found.st_mode):
            raise UnreadableError("it is a folder", "give one track file; crabline season reads folders")
        if not stat.S_ISREG(found.st_mode):
            raise UnreadableError("it is not a regular file", "give a track file")
        return self._check_size(found.st_size)

    def _check_size(self, size: int) -> int:
        if size == 0:
            raise FormatError("the file is empty", "copy it from the device again")
        if size > MAX_FILE_BYTES:
            raise UnreadableError(f"the file is too large ({size / 1e6:.0f} MB)", "cut it into single days")
        return size

    def _raw(self) -> Iterator[bytes]:
        if self.data is not None:
            yield from (self.data[i : i + _CHUNK] for i in range(0, self.size, _CHUNK))
            return
        try:
            handle = os.open(
                self.path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
            )
            with open(handle, "rb", buffering=0) as file:
                if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                    raise UnreadableError("it is not a regular file", "give a track file")
                while chunk := file.read(_CHUNK):
                    yield chunk
        except OSError as error:
            raise _unreadable(error) from None

    def _first(self, count: int) -> bytes:
        return next(iter(self._raw()), b"")[:count]

    def digest(self) -> str:
        """SHA-256 of the file's bytes, as hexadecimal text."""
        total = hashlib.sha256()
        for chunk in self._raw():
            total.update(chunk)
        return total.hexdigest()

    def chunks(self) -> Iterator[bytes]:
        """The bytes in pieces, unpacked where the file is gzip. A gzip that breaks off sets ``cut`` and ends there."""
        return self._unpacked() if self.packed else self._raw()

    def _unpacked(self) -> Iterator[bytes]:
        machine, read, made = zlib.decompressobj(31), 0, 0
        for packed in self._raw():
            read += len(packed)
            rest = packed
            while rest:
                if machine.eof:  # another member follows; padding with zeros is usual
                    rest = rest.lstrip(b"\0")
                    machine = zlib.decompressobj(31) if rest else machine
                    continue
                before = machine.copy()
                try:
                    piece = machine.decompress(rest, _CHUNK)
                except zlib.error:
                    for piece in _up_to_the_damage(before, rest):
                        made += len(piece)
                        _check_bloat(read, made)
                        yield piece
                    self._broken(made)
                    return
                made += len(piece)
                _check_bloat(read, made)
                if piece:
                    yield piece
                rest = machine.unused_data if machine.eof else machine.unconsumed_tail
        if not machine.eof:
            self._broken(made)

    def _broken(self, made: int) -> None:
        if made == 0:
            raise FormatError("the gzip file is damaged", "copy it from the device again")
        self.cut = True


def path_text(path: str | os.PathLike[str]) -> str:
    r"""A path as text that any document, database and terminal can hold; bytes that are no UTF-8 as ``\xNN``."""
    return os.fsencode(path).decode("utf-8", "backslashreplace")


def _up_to_the_damage(machine: zlib._Decompress, packed: bytes) -> Iterator[bytes]:
    """What a broken piece still gives, fed byte by byte: a whole file where but its last checksum is wrong."""
    for at in range(len(packed)):
        try:
            piece = machine.decompress(packed[at : at + 1])
        except zlib.error:
            return
        if piece:
            yield piece


def _check_bloat(read: int, made: int) -> None:
    if made > MAX_UNPACKED_BYTES:
        raise FormatError(
            f"the gzip file unpacks to more than {MAX_UNPACKED_BYTES / 1e6:.0f} MB",
            "unpack it and give what it holds",
        )
    if made > _RATIO_FREE_BYTES and made > MAX_RATIO * read:
        raise FormatError(
            "the gzip file unpacks to far more than a track", "unpack it and look at what it holds"
        )


def _unreadable(error: OSError | ValueError) -> UnreadableError:
    code = error.errno if isinstance(error, OSError) else None
    if code in (errno.ENOENT, errno.ENOTDIR):
        return UnreadableError("no such file", "check the path")
    if code in (errno.EACCES, errno.EPERM):
        return UnreadableError("no permission to read it", "check its permissions")
    if code == errno.ELOOP:
        return UnreadableError("its symbolic links go round in a circle", "give the file itself")
    if code == errno.ENAMETOOLONG or code is None:
        return UnreadableError("no file can have that name", "check the path")
    return UnreadableError(f"it can not be read ({os.strerror(code)})", "check the disk")
