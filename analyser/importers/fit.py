"""Read the fixes of FIT activity files: ``record`` or ``gps_metadata`` messages with position and time.

Field numbers, scales and offsets come from fitparse's copy of the FIT profile; the bytes are walked by
:mod:`analyser.importers.fit_chain`. Sub-second time comes from ``timestamp_ms``; an ``enhanced_`` field wins over its short
form, which overflows at 65.5 m/s and 12,607 m.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from fitparse.profile import FIELD_TYPES, MESSAGE_TYPES
from numpy.typing import NDArray

from analyser.errors import NoFixesError
from analyser.importers.fit_chain import Definition, walk_fit
from analyser.importers.raw import RawFixes
from analyser.importers.recording import AltitudeSource, Note

__all__ = ["FIT_EPOCH_S", "read_fit"]

Vector = NDArray[np.float64]

FIT_EPOCH_S: Final = 631065600.0  # 1989-12-31T00:00:00Z
_SYSTEM_TIME = 0x10000000  # a smaller stamp counts from the device's start, not from the epoch
_FILE_ID, _RECORD, _DEVICE, _GPS, _PRESSURE = 0, 20, 23, 160, 209
_LOCAL_SOURCE, _BAROMETER = 5, 4  # device_info: source_type "local", local device type "barometer"
# base type number: numpy type, invalid value (None: not a number by itself)
_BASE: Final[dict[int, tuple[str, int | None]]] = {
    0x00: ("u1", 0xFF),
    0x01: ("i1", 0x7F),
    0x02: ("u1", 0xFF),
    0x0D: ("u1", 0xFF),
    0x0A: ("u1", 0),
    0x03: ("i2", 0x7FFF),
    0x04: ("u2", 0xFFFF),
    0x0B: ("u2", 0),
    0x05: ("i4", 0x7FFFFFFF),
    0x06: ("u4", 0xFFFFFFFF),
    0x0C: ("u4", 0),
    0x08: ("f4", None),
    0x09: ("f8", None),
    0x0E: ("i8", 0x7FFFFFFFFFFFFFFF),
    0x0F: ("u8", 0xFFFFFFFFFFFFFFFF),
    0x10: ("u8", 0),
}


@dataclass(frozen=True, slots=True, eq=False)
class _Table:
    """Data messages of one kind in file order: offset, time stamp [s] (NaN: none), chained file, and their values."""

    order: NDArray[np.int64]
    stamp: Vector
    chain: NDArray[np.int64]
    values: dict[str, Vector]

    def __len__(self) -> int:
        return int(self.order.shape[0])

    def get(self, *names: str) -> Vector:
        """The first of the named fields that has a value, fix by fix."""
        found = np.full(len(self), np.nan)
        for name in names:
            found = np.where(np.isfinite(found), found, self.values.get(name, np.nan))
        return found


def read_fit(data: bytes) -> RawFixes:
    """The fixes in FIT ``data``. Raises FormatError for bytes that are no FIT, NoFixesError where no fix has a position."""
    walk = walk_fit(data, (_FILE_ID, _RECORD, _DEVICE, _GPS, _PRESSURE))
    record = _table(data, walk.definitions, _RECORD)
    gps = _table(data, walk.definitions, _GPS)
    notes = list(walk.notes)
    placed = [int(np.count_nonzero(np.isfinite(_position(t)[0]))) for t in (record, gps)]
    if max(placed) == 0:
        what = "records without a position" if len(record) or len(gps) else "no record of a track"
        raise NoFixesError(
            f"the FIT file holds {what}", "record with satellite reception, and give the activity file"
        )
    source = _altitude_source(data, walk.definitions)
    device = _device(data, walk.definitions)
    if placed[1] >= placed[0]:
        return _from_gps(gps, record, source, device, notes)
    lat, lon = _position(record)
    return RawFixes(
        format="fit",
        time_s=record.stamp,
        lat_deg=lat,
        lon_deg=lon,
        altitude_m=record.get("enhanced_altitude", "altitude"),
        speed_mps=record.get("enhanced_speed", "speed"),
        course_deg=np.full(len(record), np.nan),
        climb_mps=_or_none(record.get("vertical_speed")),
        segment=record.chain,
        altitude_source=source,
        device=device,
        notes=tuple(notes),
    )


def _from_gps(
    gps: _Table, record: _Table, source: AltitudeSource, device: str | None, notes: list[Note]
) -> RawFixes:
    """Fixes of ``gps_metadata``: time to the millisecond, velocity; a barometric height comes from the records beside."""
    fraction = np.nan_to_num(gps.get("timestamp_ms")) / 1000.0
    whole, utc = gps.values.get("timestamp_s", gps.stamp), gps.get("utc_timestamp") + FIT_EPOCH_S
    system = ~np.isfinite(gps.stamp) & np.isfinite(whole)
    time = gps.stamp + fraction
    if np.any(system) and np.any(np.isfinite(utc)):
        shift = float(np.nanmedian(utc - whole))
        time = np.where(system, whole + shift + fraction, time)
        notes.append(Note("system-time", "time stamps count from the device's start; set by its UTC stamps"))
    lat, lon = _position(gps)
    east, north, up = gps.get("velocity"), gps.get("velocity_1"), gps.get("velocity_2")
    speed, course = np.hypot(east, north), np.mod(np.degrees(np.arctan2(east, north)), 360.0)
    height = gps.get("enhanced_altitude")
    barometric = _beside(time, record) if source == "barometric" else None
    return RawFixes(
        format="fit",
        time_s=time,
        lat_deg=lat,
        lon_deg=lon,
        altitude_m=height if barometric is None else barometric,
        gps_altitude_m=None if barometric is None else height,
        speed_mps=np.where(np.isfinite(speed), speed, gps.get("enhanced_speed")),
        course_deg=np.where(np.isfinite(speed), course, gps.get("heading")),
        climb_mps=_or_none(up),
        segment=gps.chain,
        altitude_source="gps" if barometric is None else "barometric",
        device=device,
        notes=tuple(notes),
    )


def _beside(time: Vector, record: _Table) -> Vector | None:
    """The records' height at the given times, interpolated over at most 3 s; None where they have none."""
    height = record.get("enhanced_altitude", "altitude")
    good = np.isfinite(height) & np.isfinite(record.stamp)
    if np.count_nonzero(good) < 2:
        return None
    at, first = np.unique(record.stamp[good], return_index=True)
    near = np.clip(np.searchsorted(at, time), 1, max(1, at.size - 1))
    close = (
        np.minimum(
            np.abs(time - at[near - 1]), np.abs(at[min(at.size - 1, 1) if at.size == 1 else near] - time)
        )
        <= 3.0
    )
    return np.where(close, np.interp(time, at, height[good][first]), np.nan)


def _or_none(values: Vector) -> Vector | None:
    return values if np.any(np.isfinite(values)) else None


def _position(table: _Table) -> tuple[Vector, Vector]:
    half_circle = 180.0 / 2**31
    return table.get("position_lat") * half_circle, table.get("position_long") * half_circle


def _table(data: bytes, definitions: Iterable[Definition], message: int) -> _Table:
    """Every data message of one kind, decoded, in file order."""
    used = [d for d in definitions if d.message == message and d.offsets]
    if not used:
        return _Table(np.zeros(0, np.int64), np.zeros(0), np.zeros(0, np.int64), {})
    order = np.concatenate([np.array(d.offsets, dtype=np.int64) for d in used])
    stamps = np.concatenate([np.array(d.stamps, dtype=np.float64) for d in used])
    chain = np.concatenate([np.array(d.chain, dtype=np.int64) for d in used])
    decoded = [dict(_decode(data, d)) for d in used]
    names = sorted({name for row in decoded for name in row})
    sort = np.argsort(order, kind="stable")
    blank = [np.full(len(d.offsets), np.nan) for d in used]
    values = {n: np.concatenate([row.get(n, b) for row, b in zip(decoded, blank)])[sort] for n in names}
    values["timestamp_s"] = np.where(stamps[sort] >= 0, stamps[sort], np.nan)
    time = np.where(stamps[sort] >= _SYSTEM_TIME, stamps[sort] + FIT_EPOCH_S, np.nan)
    return _Table(order[sort], time, chain[sort], values)


def _decode(data: bytes, definition: Definition) -> Iterator[tuple[str, Vector]]:
    """Name and values of each numeric field the profile knows; of an array the first, further ones as ``name_1`` …"""
    profile = MESSAGE_TYPES[definition.message].fields
    rows = np.array(definition.offsets, dtype=np.int64)
    raw = np.frombuffer(data, dtype=np.uint8)
    for number, offset, size, base in definition.fields:
        kind = _BASE.get(base & 0x1F)
        if kind is None or number not in profile:
            continue
        dtype = np.dtype(kind[0]).newbyteorder(">" if definition.big_endian else "<")
        known = profile[number]
        for item in range(min(size // dtype.itemsize, 3)):
            at = rows[:, None] + (offset + item * dtype.itemsize) + np.arange(dtype.itemsize)
            number_of = raw[at].view(dtype)[:, 0]
            value = number_of.astype(np.float64)
            if kind[1] is not None:
                value[number_of == kind[1]] = np.nan
            value[~np.isfinite(value)] = np.nan
            yield (
                (known.name if item == 0 else f"{known.name}_{item}"),
                value / (known.scale or 1) - (known.offset or 0),
            )


def _altitude_source(data: bytes, definitions: Iterable[Definition]) -> AltitudeSource:
    """The kind of altitude: "barometric" where the file names a barometer, its pressure or its readings; else not known."""
    known = tuple(definitions)
    info = _table(data, known, _DEVICE)
    local = (info.get("source_type") == _LOCAL_SOURCE) & (info.get("device_type") == _BAROMETER)
    pressure = _table(data, known, _RECORD).get("absolute_pressure")
    if np.any(local) or np.any(np.isfinite(pressure)) or len(_table(data, known, _PRESSURE)):
        return "barometric"
    return "unknown"


def _device(data: bytes, definitions: Iterable[Definition]) -> str | None:
    """Maker and product number as the file's first ``file_id`` names them."""
    table = _table(data, definitions, _FILE_ID)
    if not len(table):
        return None
    maker, product = float(table.get("manufacturer")[0]), float(table.get("product")[0])
    if math.isnan(maker):
        return None
    name = str(FIELD_TYPES["manufacturer"].values.get(int(maker), int(maker)))
    return name if math.isnan(product) else f"{name} {int(product)}"
