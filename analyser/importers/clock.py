"""Time order: clock shifts undone, equal stamps spread, duplicates and fixes that go back in time dropped."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analyser.importers.leaps import ROLLOVER_S, distance_m, undo_leaps
from analyser.importers.recording import Note

__all__ = ["Clock", "in_order"]

Vector = NDArray[np.float64]
Index = NDArray[np.intp]

DISORDER: Final = 0.2  # ours: share of steps back in time from which a file is not in order at all
FEW: Final = 20  # ours: so few fixes, days away from the rest, are a stray date and no jump
_OLD: Final = datetime(
    2010, 1, 1, tzinfo=UTC
).timestamp()  # ours: no consumer recorder worn for this is older


@dataclass(frozen=True, slots=True, eq=False)
class Clock:
    """Strictly increasing times (m,) and the indices (m,) of the fixes they belong to; notes on what was done."""

    time_s: Vector
    order: Index
    notes: tuple[Note, ...]


def in_order(
    time: Vector,
    lat: Vector,
    lon: Vector,
    altitude: Vector,
    segment: NDArray[np.int64],
    created_s: float | None = None,
) -> Clock:
    """Times (n,) of fixes in file order -> the largest set in strict time order. All but the altitude finite, n ≥ 1."""
    notes: list[Note] = []
    order = np.arange(time.size)
    if time.size > 1:
        order = _segments_in_order(time, segment)
        if np.count_nonzero(np.diff(time[order]) < 0) > DISORDER * time.size:
            order = np.argsort(time, kind="stable")
            notes.append(Note("reordered", "the fixes do not stand in the order of their times; sorted"))
        shifted, leaps = undo_leaps(time[order], lat[order], lon[order], altitude[order])
        notes.extend(leaps)
        shifted = _spread_stamps(shifted, lat[order], lon[order], notes)
        kept = _increasing(shifted, lat[order], lon[order], altitude[order], notes)
        order, time = order[kept], shifted[kept]
        time, leaps = undo_leaps(
            time, lat[order], lon[order], altitude[order]
        )  # those that stray fixes had hidden
        notes.extend(leaps)
        near = _in_company(time)
        if not near.all():
            lost = int(np.count_nonzero(~near))
            notes.append(
                Note("far-date", f"{lost} fixes dated more than a day from all others dropped", lost)
            )
            order, time = order[near], time[near]
    notes.extend(_date_note(time, created_s))
    return Clock(time.copy(), order, tuple(notes))


def _segments_in_order(time: Vector, segment: NDArray[np.int64]) -> Index:
    """Whole segments sorted by their start where they do not overlap; else the order of the file."""
    starts = np.concatenate([[0], np.flatnonzero(np.diff(segment)) + 1, [time.size]])
    rows = sorted((float(time[a]), float(time[a:b].max()), int(a), int(b)) for a, b in pairwise(starts))
    if all(row[1] <= after[0] for row, after in pairwise(rows)):
        return np.concatenate([np.arange(a, b) for _, _, a, b in rows])
    return np.arange(time.size)


def _spread_stamps(time: Vector, lat: Vector, lon: Vector, notes: list[Note]) -> Vector:
    """Several fixes per whole-second stamp, throughout the file: spread evenly from each stamp to the next."""
    starts = np.concatenate([[0], np.flatnonzero(np.diff(time) != 0) + 1])
    sizes = np.diff(np.concatenate([starts, [time.size]]))
    usual = float(np.median(sizes))
    if usual < 2.0 or starts.size < 3:
        return time
    same = (np.diff(lat) == 0) & (np.diff(lon) == 0) & (np.diff(time) == 0)
    if np.count_nonzero(same) > 0.8 * np.count_nonzero(np.diff(time) == 0):
        return time
    stamps = time[starts]
    steps = np.diff(stamps)
    length = float(np.median(steps[steps > 0])) if np.any(steps > 0) else 1.0
    rank = np.arange(time.size) - np.repeat(starts, sizes)
    late = np.repeat(np.where(np.arange(starts.size) == 0, np.maximum(usual - sizes, 0.0), 0.0), sizes)
    slots = np.repeat(np.maximum(sizes, usual), sizes)
    notes.append(
        Note(
            "stamps-spread",
            f"about {usual:.0f} fixes share each time stamp; spread evenly over {length:.3g} s",
        )
    )
    return np.asarray(time + length * (rank + late) / slots)


def _increasing(time: Vector, lat: Vector, lon: Vector, altitude: Vector, notes: list[Note]) -> Index:
    """Indices of the longest strictly increasing run of times; the rest counted as duplicates or as going backwards."""
    if bool(np.all(np.diff(time) > 0)):
        return np.arange(time.size)
    kept = _longest_increasing(time)
    dropped = np.ones(time.size, dtype=bool)
    dropped[kept] = False
    lost = np.flatnonzero(dropped)
    near = kept[np.clip(np.searchsorted(time[kept], time[lost]), 0, kept.size - 1)]
    twice = (time[near] == time[lost]) & (distance_m(lat, lon, near, lost) < 1.0)
    doubles = int(np.count_nonzero(twice))
    backwards = lost.size - doubles
    if doubles:
        a, b = near[twice], lost[twice]
        alike = (lat[a] == lat[b]) & (lon[a] == lon[b])
        alike &= (altitude[a] == altitude[b]) | (np.isnan(altitude[a]) & np.isnan(altitude[b]))
        exact = int(np.count_nonzero(alike))
        of_them = f", {'all' if exact == doubles else exact} of them exact copies" if exact else ""
        notes.append(Note("duplicate", f"{doubles} fixes that were already there dropped{of_them}", doubles))
    if backwards:
        notes.append(
            Note("backwards", f"{backwards} fixes whose time goes back or stands still dropped", backwards)
        )
    return kept


def _longest_increasing(time: Vector) -> Index:
    """Longest strictly increasing subsequence (patience sorting, n log n)."""
    tops: list[float] = []
    at: list[int] = []
    before = np.full(time.size, -1, dtype=np.intp)
    for i, value in enumerate(time.tolist()):
        pile = bisect_left(tops, value)
        if pile == len(tops):
            tops.append(value)
            at.append(i)
        else:
            tops[pile], at[pile] = value, i
        before[i] = at[pile - 1] if pile else -1
    chain = [at[-1]]
    while before[chain[-1]] >= 0:
        chain.append(int(before[chain[-1]]))
    return np.array(chain[::-1], dtype=np.intp)


def _in_company(time: Vector) -> NDArray[np.bool_]:
    """Fixes (times increasing) that are not a few, apart from the others by more than a day."""
    edges = np.flatnonzero(np.diff(time) > 86400.0) + 1
    sizes = np.diff(np.concatenate([[0], edges, [time.size]]))
    few = (sizes < FEW) & (sizes < np.max(sizes))
    return np.repeat(~few, sizes)


def _date_note(time: Vector, created_s: float | None) -> list[Note]:
    first = float(time[0])
    if created_s is not None and abs(abs(created_s - first) - ROLLOVER_S) < 30 * 86400.0:
        return [
            Note(
                "odd-date",
                "the date lies 1024 weeks from the one in the file's header: a week-counter rollover",
            )
        ]
    if first < _OLD:
        return [
            Note(
                "odd-date",
                "the date is very old: the receiver's week counter may have rolled over (1024 weeks)",
            )
        ]
    return []
