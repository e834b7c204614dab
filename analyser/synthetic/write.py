"""Track files and truth files of made-up jumps: GPX as text, FIT through ``struct``, JSON. The same input gives the same bytes."""

from __future__ import annotations

import json
import math
import struct
from collections.abc import Iterable
from typing import Any
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

from analyser.synthetic.truth import Fixes

__all__ = ["fit_bytes", "fit_crc", "gpx_bytes", "truth_bytes"]

Vector = NDArray[np.float64]

FIT_EPOCH_S = 631_065_600
UINT8, ENUM, UINT16, SINT16, UINT32, SINT32 = 0x02, 0x00, 0x84, 0x83, 0x86, 0x85
CRC_TABLE = (
    0x0000, 0xCC01, 0xD801, 0x1400, 0xF001, 0x3C00, 0x2800, 0xE401,
    0xA001, 0x6C00, 0x7800, 0xB401, 0x5000, 0x9C01, 0x8801, 0x4400,
)  # fmt: skip


def gpx_bytes(fixes: Fixes, *, name: str, creator: str = "crabline sample") -> bytes:
    """A GPX file with one track of one segment: version 1.1, or 1.0 with ``course`` and ``speed`` where the rows have them."""
    speeds = bool(np.any(np.isfinite(fixes.speed_mps)))
    version = "1.0" if speeds else "1.1"
    space = f"http://www.topografix.com/GPX/{'1/0' if speeds else '1/1'}"
    head = f'<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="{version}" creator="{escape(creator)}" xmlns="{space}">\n'
    rows = [head, f"<trk><name>{escape(name)}</name><trkseg>\n"]
    columns = (fixes.lat_deg, fixes.lon_deg, fixes.altitude_m, fixes.course_deg, fixes.speed_mps)
    for stamp, *values in zip(_iso(fixes.time_s), *(c.tolist() for c in columns)):
        lat, lon, altitude, course, speed = values
        ele = f"<ele>{altitude:.10g}</ele>" if math.isfinite(altitude) else ""
        moving = (
            f"<course>{course:.1f}</course><speed>{speed:.3f}</speed>"
            if speeds and math.isfinite(speed)
            else ""
        )
        rows.append(f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}">{ele}<time>{stamp}</time>{moving}</trkpt>\n')
    rows.append("</trkseg></trk>\n</gpx>\n")
    return "".join(rows).encode()


def _iso(time_s: Vector) -> list[str]:
    """Stamps in ISO 8601 with ``Z``; milliseconds only where the rows have any."""
    ms = np.round(time_s * 1000.0).astype(np.int64)
    moments = ms.astype("datetime64[ms]")
    whole = bool(np.all(ms % 1000 == 0))
    stamps = np.datetime_as_string(moments, unit="s") if whole else np.datetime_as_string(moments, unit="ms")
    return [f"{s}Z" for s in stamps.tolist()]


def fit_crc(data: bytes, crc: int = 0) -> int:
    """The CRC of the FIT protocol (CRC-16, polynomial 0xA001, four bits at a time)."""
    for byte in data:
        crc = (crc >> 4) ^ CRC_TABLE[crc & 0xF] ^ CRC_TABLE[byte & 0xF]
        crc = (crc >> 4) ^ CRC_TABLE[crc & 0xF] ^ CRC_TABLE[byte >> 4]
    return crc


def fit_bytes(fixes: Fixes, *, barometer: bool = False) -> bytes:
    """A FIT activity: ``file_id``, then one ``record`` a fix; ``gps_metadata`` (milliseconds, velocity) where the fixes have
    sub-second times; ``barometer`` names one as a local source. Little endian, header of 14 bytes with its CRC, CRC at the end."""
    body = bytearray(_definition(0, 0, ((0, 1, ENUM), (1, 2, UINT16), (2, 2, UINT16), (4, 4, UINT32))))
    body += struct.pack("<BBHHI", 0, 4, 255, 1, _stamp(float(fixes.time_s[0])))
    if barometer:
        body += _definition(2, 23, ((253, 4, UINT32), (0, 1, UINT8), (1, 1, UINT8), (25, 1, ENUM)))
        body += struct.pack("<BIBBB", 2, _stamp(float(fixes.time_s[0])), 1, 4, 5)
    ms = np.round(fixes.time_s * 1000.0).astype(np.int64)
    body += b"".join(_records(fixes, ms) if bool(np.all(ms % 1000 == 0)) else _gps_rows(fixes, ms))
    header = struct.pack("<BBHI4s", 14, 0x20, 2187, len(body), b".FIT")
    header += struct.pack("<H", fit_crc(header))
    return header + bytes(body) + struct.pack("<H", fit_crc(bytes(body), fit_crc(header)))


def _definition(local: int, message: int, fields: tuple[tuple[int, int, int], ...]) -> bytes:
    head = struct.pack("<BBBHB", 0x40 | local, 0, 0, message, len(fields))
    return head + b"".join(struct.pack("<BBB", *f) for f in fields)


def _stamp(time_s: float) -> int:
    return int(time_s) - FIT_EPOCH_S


def _semicircles(deg: Vector) -> list[int]:
    units = np.clip(np.round(deg * (2.0**31 / 180.0)), -(2.0**31), 2.0**31 - 1.0)
    return [int(u) for u in units.tolist()]


def _scaled(values: Vector, scale: float, offset: float, invalid: int) -> list[int]:
    scaled = np.round((values + offset) * scale)
    return [int(s) for s in np.where(np.isfinite(scaled), scaled, float(invalid)).tolist()]


def _records(fixes: Fixes, ms: NDArray[np.int64]) -> Iterable[bytes]:
    """``record``: time, position, enhanced altitude (0.2 m), enhanced speed (1 mm/s)."""
    yield _definition(
        1, 20, ((253, 4, UINT32), (0, 4, SINT32), (1, 4, SINT32), (78, 4, UINT32), (73, 4, UINT32))
    )
    for row in zip(
        (ms // 1000 - FIT_EPOCH_S).tolist(),
        _semicircles(fixes.lat_deg),
        _semicircles(fixes.lon_deg),
        _scaled(fixes.altitude_m, 5.0, 500.0, 0xFFFFFFFF),
        _scaled(fixes.speed_mps, 1000.0, 0.0, 0xFFFFFFFF),
    ):
        yield struct.pack("<BIiiII", 1, *row)


def _gps_rows(fixes: Fixes, ms: NDArray[np.int64]) -> Iterable[bytes]:
    """``gps_metadata``: time and milliseconds, position, enhanced altitude, velocity east, north (up is not given)."""
    angle = np.radians(fixes.course_deg)
    yield _definition(
        1,
        160,
        ((253, 4, UINT32), (0, 2, UINT16), (1, 4, SINT32), (2, 4, SINT32), (3, 4, UINT32), (7, 6, SINT16)),
    )
    for row in zip(
        (ms // 1000 - FIT_EPOCH_S).tolist(),
        (ms % 1000).tolist(),
        _semicircles(fixes.lat_deg),
        _semicircles(fixes.lon_deg),
        _scaled(fixes.altitude_m, 5.0, 500.0, 0xFFFFFFFF),
        _scaled(fixes.speed_mps * np.sin(angle), 100.0, 0.0, 0x7FFF),
        _scaled(fixes.speed_mps * np.cos(angle), 100.0, 0.0, 0x7FFF),
    ):
        yield struct.pack("<BIHiiIhhh", 1, *row, 0x7FFF)


def truth_bytes(data: dict[str, Any]) -> bytes:
    """Truth as JSON, one entry a line at the top level."""
    rows = [f"{json.dumps(k)}: {json.dumps(v, ensure_ascii=False)}" for k, v in data.items()]
    return ("{\n" + ",\n".join(rows) + "\n}\n").encode()
