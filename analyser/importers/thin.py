"""Tracks faster than any stage needs, averaged on reading; and two tracks mixed in one file, refused."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analyser.errors import FormatError
from analyser.importers.raw import RawFixes
from analyser.importers.recording import Note

__all__ = ["refuse_mixed", "thin"]

Vector = NDArray[np.float64]

FASTEST_HZ: Final = 20.0  # ours: the quickest a canopy answers is about a second; more only costs
_LONGEST_STEP_S: Final = 1.0
MIXED_SHARE: Final = (
    0.2  # ours: of all fixes, that stand beside the line from the one before to the one after
)
_ASIDE_M: Final = 20.0  # ours: beyond what receivers scatter from one fix to the next
_AHEAD: Final = 1.5
_EARTH_M: Final = 111_195.0  # per degree on a sphere: enough to tell one place from another


def thin(raw: RawFixes) -> RawFixes:
    """``raw`` with runs of fixes averaged so that at most 20 a second are left, and a note; as it is where it is not faster.

    Fixes that repeat their place do not count: a log that runs faster than its receiver has nothing to average.
    """
    good = np.isfinite(raw.time_s) & (np.abs(raw.lat_deg) <= 90.0) & (np.abs(raw.lon_deg) <= 180.0)
    good &= (np.abs(raw.lat_deg) > 1e-6) | (np.abs(raw.lon_deg) > 1e-6)
    moved = good.copy()
    moved[1:] &= (np.diff(raw.lat_deg) != 0.0) | (np.diff(raw.lon_deg) != 0.0)
    seconds = np.unique(np.floor(raw.time_s[moved])).size
    rate = np.count_nonzero(moved) / seconds if seconds else 0.0
    if rate <= FASTEST_HZ + 0.5:
        return raw
    many = math.ceil(rate / FASTEST_HZ)
    begins = _begins(raw, good, many)
    note = Note("thinned", f"{rate:.0f} fixes a second were averaged, {many} to one", len(raw) - begins.size)
    return _averaged(raw, begins, note)


def _begins(raw: RawFixes, good: NDArray[np.bool_], many: int) -> NDArray[np.intp]:
    """Where each group begins: ``many`` good fixes of one stretch without a gap; what is not good stays alone."""
    step = np.diff(raw.time_s)
    broken = np.ones(len(raw), dtype=bool)
    broken[1:] = (np.diff(raw.segment) != 0) | ~((step >= 0.0) & (step <= _LONGEST_STEP_S))
    broken[1:] |= ~good[1:] | ~good[:-1]
    places = np.arange(len(raw))
    first = np.maximum.accumulate(np.where(broken, places, 0))
    return np.flatnonzero((places - first) % many == 0)


def _averaged(raw: RawFixes, begins: NDArray[np.intp], note: Note) -> RawFixes:
    group = np.repeat(np.arange(begins.size), np.diff(np.append(begins, len(raw))))

    def mean(values: Vector) -> Vector:
        known = np.isfinite(values)
        count = np.bincount(group, known, begins.size)
        total = np.bincount(group, np.where(known, values, 0.0), begins.size)
        return np.where(count > 0, total / np.maximum(count, 1.0), np.nan)

    def about_first(values: Vector, turn: float = math.inf) -> Vector:
        """Mean as the first value and what the others differ from it: no digits are lost, no turn of 360° either."""
        first = values[begins]
        rest = values - first[group]
        with np.errstate(invalid="ignore"):
            rest = rest if math.isinf(turn) else (rest + turn / 2.0) % turn - turn / 2.0
        return np.asarray(first + mean(rest))

    return replace(
        raw,
        time_s=about_first(raw.time_s),
        lat_deg=about_first(raw.lat_deg),
        lon_deg=(about_first(raw.lon_deg, 360.0) + 180.0) % 360.0 - 180.0,
        altitude_m=mean(raw.altitude_m),
        speed_mps=mean(raw.speed_mps),
        course_deg=about_first(raw.course_deg, 360.0) % 360.0,
        segment=raw.segment[begins],
        gps_altitude_m=None if raw.gps_altitude_m is None else mean(raw.gps_altitude_m),
        climb_mps=None if raw.climb_mps is None else mean(raw.climb_mps),
        notes=(*raw.notes, note),
    )


def refuse_mixed(lat: Vector, lon: Vector) -> None:
    """Raise FormatError where fixes in time order jump to and fro between two places: the tracks of two receivers in one file.

    Of one receiver the next fix but one is farther away than the next; of two in turn the next is the other one's.
    """
    if lat.size < 30:
        return
    north = lat * _EARTH_M
    east = lon * _EARTH_M * math.cos(math.radians(float(np.median(lat))))
    next_m = np.hypot(np.diff(east), np.diff(north))[:-1]
    second_m = np.hypot(east[2:] - east[:-2], north[2:] - north[:-2])
    aside = (next_m > _ASIDE_M) & (next_m > _AHEAD * second_m)
    if float(np.mean(aside)) > MIXED_SHARE:
        raise FormatError("the fixes of two tracks are mixed in it", "export each track on its own")
