"""Walk the record structure of FIT bytes: definitions, data messages, compressed time stamps, chained files.

Own code instead of fitparse's, because a reader in pure Python objects takes minutes for a hostile file of a few megabytes
and gives up on real files with wrong field sizes or missing developer descriptions. The structure is that of the
FIT protocol (header, definition and data records, CRC-16); fitparse is the reference in the tests.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from struct import Struct, unpack_from

import numpy as np

from analyser.errors import FormatError
from analyser.importers.recording import Note

__all__ = ["Definition", "Walk", "crc16", "walk_fit"]

MAX_MESSAGES = 8_000_000
MAX_DEFINITIONS = 5_000
MAX_CHAIN = 20_000
_TIMESTAMP = 253


@dataclass(slots=True, eq=False)
class Definition:
    """A message's layout and where its data messages lie: offsets into the bytes, their time stamp (-1: none), their file."""

    message: int
    big_endian: bool
    fields: tuple[tuple[int, int, int, int], ...]  # number, offset, size, base type
    size: int
    stamp: tuple[Struct, int] | None
    wanted: bool
    offsets: list[int] = field(default_factory=list)
    stamps: list[int] = field(default_factory=list)
    chain: list[int] = field(default_factory=list)


@dataclass(frozen=True, slots=True, eq=False)
class Walk:
    """The definitions met, in order, with the places of the wanted messages; and what was odd."""

    definitions: tuple[Definition, ...]
    notes: tuple[Note, ...]


@cache
def _crc_table() -> list[int]:
    """CRC-16 with polynomial 0xA001 (reflected 0x8005) of every two-byte word, as FIT uses it."""
    table = np.arange(65536, dtype=np.uint32)
    for _ in range(16):
        table = (table >> np.uint32(1)) ^ (table & np.uint32(1)) * np.uint32(0xA001)
    return [int(v) for v in table]


def crc16(data: bytes | memoryview) -> int:
    """FIT's CRC-16 of the bytes."""
    table, crc = _crc_table(), 0
    view = memoryview(data)
    even = len(view) // 2 * 2
    for word in np.frombuffer(view[:even], dtype="<u2").tolist():
        crc = table[crc ^ word]
    for byte in view[even:]:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ (0xA001 if crc & 1 else 0)
    return crc


def walk_fit(data: bytes, wanted: Sequence[int]) -> Walk:
    """Find every data message of the ``wanted`` global message numbers.

    A length field of zero or past the end, a wrong CRC and a file that breaks off are noted, and what comes before is kept.
    Raises FormatError where the header is no FIT header, or messages and definitions never end.
    """
    walker = _Walker(data, frozenset(wanted))
    at = 0
    while at < len(data):
        end = walker.file(at)
        if end is None:
            break
        at = end
    return Walk(tuple(walker.cache.values()), tuple(walker.notes.values()))


class _Walker:
    def __init__(self, data: bytes, wanted: frozenset[int]) -> None:
        self.data, self.wanted = data, wanted
        self.cache: dict[bytes, Definition] = {}
        self.notes: dict[str, Note] = {}
        self.chain = 0

    def note(self, code: str, text: str, count: int | None = None) -> None:
        self.notes.setdefault(code, Note(code, text, count))

    def file(self, at: int) -> int | None:
        """Walk the FIT file that starts at ``at``; where the next one starts, or None to stop."""
        data = self.data
        header = data[at] if at < len(data) else 0
        if len(data) - at < 12 or header < 12 or data[at + 8 : at + 12] != b".FIT":
            if at == 0:
                raise FormatError(
                    "not a FIT file, or its header is damaged", "copy the file from the device again"
                )
            self.note("trailing-bytes", f"{len(data) - at} bytes after the end of the FIT data were left out")
            return None
        (length,) = unpack_from("<I", data, at + 4)
        start, end = at + header, at + header + length
        whole = length > 0 and end + 2 <= len(data)
        if whole and crc16(memoryview(data)[at : end + 2]) != 0:
            self.note("wrong-crc", "the checksum of the file is wrong: some values may be damaged")
        if not whole:
            end = self._mend(length, end)
        self.chain += 1
        if self.chain > MAX_CHAIN:
            raise FormatError(
                "thousands of FIT files are chained in one", "copy the file from the device again"
            )
        broken, place = self._records(min(start, len(data)), end)
        if broken and not (length == 0 and place >= end - 3):  # what is left there is the checksum
            self.note(
                "file-cut", f"the FIT data break off or are damaged {broken}; the messages before were kept"
            )
        return end + 2 if whole else None

    def _mend(self, length: int, end: int) -> int:
        size = len(self.data)
        if length == 0:
            self.note(
                "length-missing",
                "the length in the file header is zero (not closed properly); read to the end",
            )
            return size
        if end > size:
            self.note(
                "file-cut", "the file is shorter than its header says; the messages before the end were kept"
            )
            return size
        self.note("crc-missing", "the checksum at the end of the file is missing")
        return end

    def _records(self, at: int, end: int) -> tuple[str, int]:
        """Walk the messages from ``at`` to ``end``; what is broken, or an empty text, and where."""
        data = self.data
        table: list[Definition | None] = [None] * 16
        now, count, chain = -1, 0, self.chain
        while at < end:
            head = data[at]
            at += 1
            if head & 0x80:
                slot = (head >> 5) & 3
                if now >= 0:
                    now += ((head & 31) - now) & 31
            elif head & 0x40:
                step = self._define(at, end, head, table)
                if step < 0:
                    return "in a definition", at
                at += step
                continue
            else:
                slot = head & 15
            known = table[slot]
            if known is None:
                return "at a message without definition", at
            if at + known.size > end:
                return "in a message", at
            stamped = now if head & 0x80 else -1
            if known.stamp is not None:
                value = known.stamp[0].unpack_from(data, at + known.stamp[1])[0]
                if value != 0xFFFFFFFF:
                    stamped = now = value
            if known.wanted:
                known.offsets.append(at)
                known.stamps.append(stamped)
                known.chain.append(chain)
            at += known.size
            count += 1
            if count > MAX_MESSAGES:
                raise FormatError(
                    "the FIT file holds millions of empty messages", "copy the file from the device again"
                )
        return "", at

    def _define(self, at: int, end: int, head: int, table: list[Definition | None]) -> int:
        """Take in a definition; its length in bytes, or -1 where it is cut off."""
        data = self.data
        if at + 5 > end:
            return -1
        length = 5 + 3 * data[at + 4]
        if head & 0x20:
            if at + length >= end:
                return -1
            length += 1 + 3 * data[at + length]
        if at + length > end:
            return -1
        key = data[at : at + length] + bytes((head & 0x20,))
        known = self.cache.get(key)
        if known is None:
            if len(self.cache) >= MAX_DEFINITIONS:
                raise FormatError(
                    "the FIT file defines messages without end", "copy the file from the device again"
                )
            known = self.cache[key] = self._compile(key[:-1])
        table[head & 15] = known
        return length

    def _compile(self, raw: bytes) -> Definition:
        big = bool(raw[1] & 1)
        (message,) = unpack_from(">H" if big else "<H", raw, 2)
        fields, size, stamp = [], 0, None
        for i in range(5, 5 + 3 * raw[4], 3):
            number, width, base = raw[i : i + 3]
            fields.append((number, size, width, base))
            if number == _TIMESTAMP and width == 4:
                stamp = (Struct(">I" if big else "<I"), size)
            size += width
        for i in range(6 + 3 * raw[4], len(raw), 3):  # developer fields: their bytes are stepped over
            size += raw[i + 1]
        return Definition(message, big, tuple(fields), size, stamp, message in self.wanted)
