"""A small FIT writer for tests: good files and every broken variant, from struct alone.

Written after the published FIT protocol (header, definition and data records, CRC-16); shares nothing with the reader.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field

EPOCH = 631065600  # 1989-12-31T00:00:00Z as Unix time
# name: (base type byte, struct letter)
BASE = {
    "enum": (0x00, "B"),
    "sint8": (0x01, "b"),
    "uint8": (0x02, "B"),
    "sint16": (0x83, "h"),
    "uint16": (0x84, "H"),
    "sint32": (0x85, "i"),
    "uint32": (0x86, "I"),
    "float32": (0x88, "f"),
    "float64": (0x89, "d"),
    "byte": (0x0D, "B"),
    "string": (0x07, "s"),
}
# record fields: name -> (number, base, scale, offset)
RECORD = {
    "timestamp": (253, "uint32", 1, 0),
    "position_lat": (0, "sint32", 2**31 / 180.0, 0),
    "position_long": (1, "sint32", 2**31 / 180.0, 0),
    "altitude": (2, "uint16", 5, 500),
    "speed": (6, "uint16", 1000, 0),
    "vertical_speed": (32, "sint16", 1000, 0),
    "enhanced_speed": (73, "uint32", 1000, 0),
    "enhanced_altitude": (78, "uint32", 5, 500),
    "absolute_pressure": (91, "uint32", 1, 0),
}
GPS = {
    "timestamp": (253, "uint32", 1, 0),
    "timestamp_ms": (0, "uint16", 1, 0),
    "position_lat": (1, "sint32", 2**31 / 180.0, 0),
    "position_long": (2, "sint32", 2**31 / 180.0, 0),
    "enhanced_altitude": (3, "uint32", 5, 500),
    "enhanced_speed": (4, "uint32", 1000, 0),
    "heading": (5, "uint16", 100, 0),
    "utc_timestamp": (6, "uint32", 1, 0),
    "velocity": (7, "sint16", 100, 0),
}
INVALID = {
    "sint32": 0x7FFFFFFF,
    "uint32": 0xFFFFFFFF,
    "uint16": 0xFFFF,
    "sint16": 0x7FFF,
    "uint8": 0xFF,
    "sint8": 0x7F,
    "enum": 0xFF,
}


def crc(data: bytes) -> int:
    """CRC-16, polynomial 0x8005 reflected, bit by bit."""
    value = 0
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = (value >> 1) ^ (0xA001 if value & 1 else 0)
    return value


@dataclass
class FitFile:
    """Collects records; :meth:`build` puts header and checksum round them."""

    big_endian: bool = False
    body: bytearray = field(default_factory=bytearray)
    layouts: dict[int, list[tuple[int, str, int, int]]] = field(default_factory=dict)

    @property
    def order(self) -> str:
        return ">" if self.big_endian else "<"

    def define(
        self,
        local: int,
        message: int,
        fields: list[tuple[int, int, int]],
        developer: list[tuple[int, int, int]] | None = None,
    ) -> FitFile:
        """A raw definition: (number, size, base type byte) per field, (number, size, index) per developer field."""
        head = 0x40 | local | (0x20 if developer is not None else 0)
        self.body += (
            bytes([head, 0, int(self.big_endian)])
            + struct.pack(self.order + "H", message)
            + bytes([len(fields)])
        )
        for row in fields:
            self.body += bytes(row)
        if developer is not None:
            self.body += bytes([len(developer)])
            for row in developer:
                self.body += bytes(row)
        return self

    def data(self, local: int, raw: bytes, *, compressed_offset: int | None = None) -> FitFile:
        """A raw data record; with ``compressed_offset`` under a compressed time stamp header."""
        head = local if compressed_offset is None else 0x80 | (local & 3) << 5 | (compressed_offset & 31)
        self.body += bytes([head]) + raw
        return self

    def table(
        self,
        rows: list[dict[str, float | list[float] | None]],
        names: list[str],
        *,
        message: int = 20,
        known: dict[str, tuple[int, str, float, float]] | None = None,
        local: int = 0,
        counts: dict[str, int] | None = None,
    ) -> FitFile:
        """Define a message of the named fields and write a data record per row; None is written as invalid."""
        known = known or RECORD
        counts = counts or {}
        size = {n: struct.calcsize(BASE[known[n][1]][1]) * counts.get(n, 1) for n in names}
        self.define(local, message, [(known[n][0], size[n], BASE[known[n][1]][0]) for n in names])
        for row in rows:
            self.data(local, b"".join(self.pack(row.get(n), known[n], counts.get(n, 1)) for n in names))
        return self

    def pack(
        self, value: float | list[float] | None, kind: tuple[int, str, float, float], count: int
    ) -> bytes:
        number, base, scale, offset = kind
        values = value if isinstance(value, list) else [value] * count
        raw = [
            INVALID[base]
            if v is None
            else int(v) - EPOCH
            if number in (253,) and v > EPOCH
            else round((v + offset) * scale)
            for v in values
        ]
        return struct.pack(f"{self.order}{count}{BASE[base][1]}", *raw)

    def build(
        self,
        *,
        header: int = 14,
        length: int | None = None,
        wrong_crc: bool = False,
        crc_bytes: int = 2,
        header_crc: int | None = None,
    ) -> bytes:
        """The file; by default a correct one."""
        size = len(self.body) if length is None else length
        head = struct.pack("<BBHI4s", header, 0x20, 2158, size, b".FIT")
        if header >= 14:
            head += struct.pack("<H", crc(head) if header_crc is None else header_crc)
            head += bytes(header - 14)
        data = head + bytes(self.body)
        check = crc(data) ^ (0x5555 if wrong_crc else 0)
        return data + struct.pack("<H", check)[:crc_bytes]


def fall(
    n: int = 60, *, start: float = 1_780_000_000.0, hz: float = 1.0
) -> list[dict[str, float | list[float] | None]]:
    """Rows of a slow spiral down from 600 m that rests on the ground for its last third."""
    rows: list[dict[str, float | list[float] | None]] = []
    for i in range(n):
        u = min(i / (2 * n / 3), 1.0)
        rows.append(
            {
                "timestamp": start + i / hz,
                "position_lat": 47.0 + 0.004 * u,
                "position_long": 8.0 + 0.003 * u * u,
                "altitude": 1000.0 - 600.0 * u,
                "enhanced_altitude": 1000.0 - 600.0 * u,
                "speed": 10.0 if u < 1.0 else 0.0,
                "enhanced_speed": 10.0 if u < 1.0 else 0.0,
            }
        )
    return rows


NAMES = ["timestamp", "position_lat", "position_long", "enhanced_altitude", "enhanced_speed"]


def good(n: int = 60, **options: bool) -> bytes:
    """A plain good file of ``n`` records."""
    return FitFile(**options).table(fall(n), NAMES).build()
