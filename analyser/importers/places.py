"""Positions that are none: spikes, and places held still while the jump moves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.importers.leaps import distance_m
from analyser.importers.recording import Note

__all__ = ["Places", "keep_places"]

Vector = NDArray[np.float64]
Flags = NDArray[np.bool_]

SPIKE_M = 30.0  # ours: nearer is noise
SPIKE_MPS = 60.0  # ours: faster there and back than the way past it
FROZEN_S = 2.0  # ours: shorter repeats are rounding or a receiver slower than its log
FLIGHT_M = 60.0  # ours: as for the flight in a track; a rise or a fall of less is a walk, a hill or drift
WALK_MPS = 2.0  # ours: nobody walks faster with a canopy over the shoulder


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Indices (m,) of the fixes to keep and notes on the others; ``repeats`` those dropped because the log runs faster than its receiver."""

    keep: NDArray[np.intp]
    notes: tuple[Note, ...]
    repeats: NDArray[np.intp]


def keep_places(time: Vector, lat: Vector, lon: Vector, altitude: Vector) -> Places:
    """Drop spikes, then positions repeated while height or track show that the jump moved. Times strictly increasing."""
    at = np.arange(time.size)
    notes, repeats = [], at[:0]
    for find, code, text in (
        (_spikes, "spike", "fixes far off their neighbours dropped"),
        (
            _oversampled,
            "repeated-position",
            "repeats of a position dropped: the log runs faster than the receiver",
        ),
        (_frozen, "frozen", "fixes dropped whose position stands still while the jump moves"),
    ):
        bad = find(time[at], lat[at], lon[at], altitude[at])
        count = int(np.count_nonzero(bad))
        if count:
            notes.append(Note(code, f"{count} {text}", count))
            repeats = at[bad] if find is _oversampled else repeats
            at = at[~bad]
    return Places(at, tuple(notes), repeats)


def _spikes(time: Vector, lat: Vector, lon: Vector, altitude: Vector) -> Flags:
    """One to three fixes in a row that lie off the way between their neighbours, faster than anything flies there and back."""
    bad = np.zeros(time.size, dtype=bool)
    for length in (1, 2, 3):
        if time.size < length + 2:
            break
        a = np.arange(time.size - length - 1)
        b = a + length + 1
        into = distance_m(lat, lon, a, a + 1)
        out = distance_m(lat, lon, b - 1, b)
        past = distance_m(lat, lon, a, b) / (time[b] - time[a])
        limit = SPIKE_MPS + 3.0 * past
        hit = (
            (into / (time[a + 1] - time[a]) > limit)
            & (out / (time[b] - time[b - 1]) > limit)
            & (np.minimum(into, out) > SPIKE_M)
        )
        for k in range(1, length + 1):
            bad[np.flatnonzero(hit) + k] = True
    return bad


def _runs(lat: Vector, lon: Vector) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First and last index of every run of exactly equal positions."""
    edge = np.flatnonzero((np.diff(lat) != 0) | (np.diff(lon) != 0)) + 1
    return np.concatenate([[0], edge]), np.concatenate([edge, [lat.size]]) - 1


def _oversampled(time: Vector, lat: Vector, lon: Vector, altitude: Vector) -> Flags:
    """Repeats, where most moving positions are repeated (a stair of places): one fix per step, at rest as many as moving."""
    first, last = _runs(lat, lon)
    bad = np.zeros(time.size, dtype=bool)
    if first.size < 20:
        return bad
    step = distance_m(lat, lon, first[:-1], first[1:]) / np.diff(time[first])
    moving = np.concatenate([step > 2.0, [False]]) & (time[last] - time[first] < FROZEN_S)
    size = last - first + 1
    usual = int(np.median(size[moving])) if np.count_nonzero(moving) >= 20 else 1
    if usual < 2:
        return bad
    rank = np.arange(time.size) - np.repeat(first, size)
    return np.asarray((rank % usual != 0) | np.repeat(moving, size) & (rank > 0))


def _frozen(time: Vector, lat: Vector, lon: Vector, altitude: Vector) -> Flags:
    """Repeats in runs of at least two seconds in which the height changes, or after which the place leaps."""
    first, last = _runs(lat, lon)
    seconds = time[last] - time[first]
    long = (last - first >= 2) & (seconds >= FROZEN_S)
    sinks = np.nan_to_num(np.abs(altitude[last] - altitude[first]), nan=0.0) > np.maximum(6.0, 1.2 * seconds)
    sinks |= _flies(altitude, first, last, long)
    after = np.minimum(last + 1, time.size - 1)
    leap = distance_m(lat, lon, last, after)
    then = np.minimum(after + 1, time.size - 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        usual = distance_m(lat, lon, after, then) / (time[then] - time[after])
        expected = np.nan_to_num(usual, nan=0.0, posinf=0.0) * (time[after] - time[last])
    walked = WALK_MPS * (
        time[after] - time[first]
    )  # a receiver that holds its place on the ground leaps so far
    leaps = (leap > np.maximum(15.0 + 3.0 * expected, walked)) & (after > last)
    chosen = long & (sinks | leaps)
    return _all_but_first(first[chosen], last[chosen], time.size)


def _flies(altitude: Vector, first: NDArray[np.intp], last: NDArray[np.intp], wanted: Flags) -> Flags:
    """Which of the wanted runs hold a flight, though it may end at the height where it began: no ground changes so much."""
    run = np.repeat(np.arange(first.size), last - first + 1)
    use = np.repeat(wanted, last - first + 1) & np.isfinite(altitude) & (altitude != 0.0)
    order = np.lexsort((altitude[use], run[use]))
    z, size = altitude[use][order], np.bincount(run[use], minlength=first.size)
    known = size >= 10  # fewer have no middle that stray heights could not move
    start = np.cumsum(size) - size
    low, high = ((start + share * (size - 1)).astype(np.intp)[known] for share in (0.1, 0.9))
    found = np.zeros(first.size, dtype=bool)
    found[known] = z[high] - z[low] > FLIGHT_M
    return found


def _all_but_first(first: NDArray[np.intp], last: NDArray[np.intp], n: int) -> Flags:
    edges = np.zeros(n + 1, dtype=np.int64)
    np.add.at(edges, first + 1, 1)
    np.add.at(edges, last + 1, -1)
    return np.asarray(np.cumsum(edges[:n]) > 0)
