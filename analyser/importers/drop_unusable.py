"""Cleaning: raw fixes in file order -> a Recording in strict time order, everything dropped counted in a note."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.errors import NoFixesError
from analyser.importers.altitudes import mend_altitude
from analyser.importers.clock import in_order
from analyser.importers.places import keep_places
from analyser.importers.raw import RawFixes
from analyser.importers.recording import Note, Recording
from analyser.importers.thin import refuse_mixed, thin

__all__ = ["clean"]

EARLIEST_S, LATEST_S = 0.0, 4_102_444_800.0  # 1970-01-01, 2100-01-01

Vector = NDArray[np.float64]
Index = NDArray[np.intp]


def clean(raw: RawFixes, *, file: str = "", sha256: str = "") -> Recording:
    """The usable fixes of ``raw`` in time order, as a Recording whose notes count what was dropped and why.

    Raises NoFixesError where no fix has both time and position, or none has an altitude; FormatError where the fixes of two
    tracks are mixed.
    """
    raw = thin(raw)
    usable, notes = _usable(raw)
    at = usable
    if at.size == 0:
        raise _nothing_left(raw)
    height = _within(raw.altitude_m, -1e5, 1e5)
    clock = in_order(
        raw.time_s[at], raw.lat_deg[at], raw.lon_deg[at], height[at], raw.segment[at], raw.created_s
    )
    at, time = at[clock.order], clock.time_s
    refuse_mixed(raw.lat_deg[at], raw.lon_deg[at])
    places = keep_places(time, raw.lat_deg[at], raw.lon_deg[at], height[at])
    repeats = at[places.repeats]
    at, time = at[places.keep], time[places.keep]
    mended = mend_altitude(
        time,
        raw.lat_deg[at],
        raw.lon_deg[at],
        raw.altitude_m[at],
        None if raw.gps_altitude_m is None else raw.gps_altitude_m[at],
        raw.altitude_source,
    )
    if not np.any(np.isfinite(mended.altitude_m)):
        reason = next(
            (n.text for n in mended.notes if n.code.endswith("-altitude")), "no fix has an altitude"
        )
        raise NoFixesError(f"no usable heights: {reason}", "record with altitude; a debrief needs heights")
    return Recording(
        time_s=time,
        lat_deg=raw.lat_deg[at],
        lon_deg=raw.lon_deg[at],
        altitude_m=mended.altitude_m,
        speed_mps=_within(raw.speed_mps[at], 0.0, 350.0),
        course_deg=_within(raw.course_deg[at], -360.0, 360.0),
        gps_altitude_m=mended.gps_altitude_m,
        climb_mps=None if raw.climb_mps is None else _within(raw.climb_mps[at], -350.0, 350.0),
        altitude_source=mended.source,
        format=raw.format,
        device=raw.device,
        name=raw.name,
        file=file,
        sha256=sha256,
        notes=(*raw.notes, *notes, *clock.notes, *places.notes, *mended.notes),
        copies=_copies(raw, usable, at, repeats),
    )


def _within(values: Vector, low: float, high: float) -> Vector:
    with np.errstate(invalid="ignore"):
        return np.where((values >= low) & (values <= high), values, np.nan)


def _usable(raw: RawFixes) -> tuple[Index, list[Note]]:
    """Indices of the fixes with a time and a possible position; a note per reason for the others."""
    with np.errstate(invalid="ignore"):
        placed = np.isfinite(raw.lat_deg) & np.isfinite(raw.lon_deg)
        inside = placed & (np.abs(raw.lat_deg) <= 90.0) & (np.abs(raw.lon_deg) <= 180.0)
        null = inside & (np.abs(raw.lat_deg) < 1e-6) & (np.abs(raw.lon_deg) < 1e-6)
        dated = (raw.time_s >= EARLIEST_S) & (raw.time_s < LATEST_S)
    known = np.isfinite(raw.time_s)
    timed = known & dated
    rows = (
        ("no-time", ~known, "without time"),
        ("impossible-date", known & ~dated, "dated before 1970 or after 2100"),
        ("no-position", timed & ~placed, "without a readable position"),
        ("out-of-range", timed & placed & ~inside, "beyond ±90° of latitude or ±180° of longitude"),
        ("null-position", timed & null, "at latitude 0, longitude 0 (no reception)"),
    )
    notes = [
        Note(code, f"{count} fixes {text} dropped", count)
        for code, flag, text in rows
        if (count := int(np.count_nonzero(flag)))
    ]
    return np.flatnonzero(timed & inside & ~null), notes


def _copies(raw: RawFixes, usable: Index, kept: Index, repeats: Index) -> int:
    """How many usable fixes were dropped that have time, place and altitude in common with one that was kept, or are ``repeats``."""
    if kept.size == usable.size:
        return 0
    altitude = np.nan_to_num(raw.altitude_m[usable], nan=np.inf)
    rows = np.stack([altitude, raw.lon_deg[usable], raw.lat_deg[usable], raw.time_s[usable]])
    order = np.lexsort(rows)
    other = np.any(rows[:, order[1:]] != rows[:, order[:-1]], axis=0)
    group = np.empty(usable.size, dtype=np.intp)
    group[order] = np.concatenate([[0], np.cumsum(other)])
    stays = np.isin(usable, kept)
    copy = np.isin(group, group[stays]) | np.isin(usable, repeats)
    return int(np.count_nonzero(copy & ~stays))


def _nothing_left(raw: RawFixes) -> NoFixesError:
    if len(raw) and not np.any(np.isfinite(raw.time_s)):
        return NoFixesError("no point of the track has a time", "export the recorded track, not a drawn one")
    return NoFixesError("no fix has both a time and a position", "record with satellite reception")
