"""find_phases: label every fix, then cut into intervals that tile the track."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyser.events import (
    Fall,
    find_exit_without_fall,
    find_falls,
    find_landing,
    find_takeoff,
    top_of_flight,
    touchdown_of_aeroplane,
)
from analyser.importers.recording import Note, Recording
from analyser.signals import Signals, make_signals
from analyser.track import Track

__all__ = ["PHASE_NAMES", "Phase", "PhaseName", "Phases", "find_phases", "split_jumps"]

PhaseName = Literal["ground before", "climb", "free fall", "opening", "canopy", "ground after"]
PHASE_NAMES: tuple[PhaseName, ...] = (
    "ground before",
    "climb",
    "free fall",
    "opening",
    "canopy",
    "ground after",
)


@dataclass(frozen=True, slots=True)
class Phase:
    """One interval of the flight: ``start:stop`` fixes, times [s, track time], heights [m]."""

    name: PhaseName
    start: int
    stop: int
    start_s: float
    end_s: float
    start_agl_m: float
    end_agl_m: float


@dataclass(frozen=True, slots=True)
class Phases:
    """The intervals, tiling the track, and what kind of flight they make.

    ``kind``: "jump", "no jump" (a ride, a walk), with ``reason``; ``landing_s`` time of touchdown or None;
    ``complete`` tells whether the canopy flight has both its opening and its landing; ``notes`` what was odd
    (starts under canopy, a second fast fall, ...).
    """

    intervals: tuple[Phase, ...]
    kind: Literal["jump", "no jump"]
    reason: str
    landing_s: float | None
    landing_index: int | None
    complete: bool
    notes: tuple[Note, ...] = ()

    def all(self, name: PhaseName) -> tuple[Phase, ...]:
        """Every interval of that name."""
        return tuple(p for p in self.intervals if p.name == name)

    def canopy(self) -> Phase | None:
        """The canopy flight that ends in the landing (the last one), or None."""
        found = self.all("canopy")
        return found[-1] if found else None


_NO_HEIGHT = "the recording has no heights"
_FLAT = "the height changes by less than 60 m: no flight in this recording"
_RIDE = "the descent was flown at aeroplane speed: a ride down, no jump"
_NO_DESCENT = "the recording ends before any descent under canopy"

_Cut = tuple[float, PhaseName]


def _tile(track: Track, cuts: list[_Cut]) -> tuple[Phase, ...]:
    """Intervals from (start time, name) in order of time; empty ones are left out."""
    t, n = track.t_s, len(track)
    kept: list[tuple[int, float, PhaseName]] = []
    for start_s, name in cuts:
        i = int(np.searchsorted(t, start_s - 1e-9))
        if i >= n:
            break
        while kept and kept[-1][0] >= i:
            kept.pop()
        if not kept or kept[-1][2] != name:
            kept.append((i, max(start_s, float(t[0])), name))
    ends = [(k[0], k[1]) for k in kept[1:]] + [(n, float(t[-1]))]
    known = np.isfinite(track.agl_m)
    h = np.interp(t, t[known], track.agl_m[known]) if known.any() else np.full(n, np.nan)
    return tuple(
        Phase(name, a, b, a_s, b_s, float(np.interp(a_s, t, h)), float(np.interp(b_s, t, h)))
        for (a, a_s, name), (b, b_s) in zip(kept, ends)
    )


def _no_jump(track: Track, reason: str, cuts: list[_Cut] | None = None) -> Phases:
    whole: list[_Cut] = [(float(track.t_s[0]), "ground before")]
    return Phases(_tile(track, cuts or whole), "no jump", reason, None, None, False)


def _ride(track: Track, s: Signals, top: int, landing_s: float | None) -> Phases:
    """An aeroplane up and down again: everything in the air is called climb."""
    cuts: list[_Cut] = [(float(track.t_s[0]), "ground before"), (float(s.t[find_takeoff(s, top)]), "climb")]
    if landing_s is not None:
        cuts.append((touchdown_of_aeroplane(s, landing_s), "ground after"))
    return _no_jump(track, _RIDE, cuts)


def _before_exit(track: Track, s: Signals, exit_: int) -> tuple[list[_Cut], list[Note]]:
    """Cuts of what lies before the exit, and a note where the recording starts in the air."""
    if exit_ <= 1:
        return [], []
    first = find_takeoff(s, exit_)
    if first == 0:
        return [(float(track.t_s[0]), "climb")], [Note("starts-in-air", "the recording starts in the air")]
    return [(float(track.t_s[0]), "ground before"), (float(s.t[first]), "climb")], []


def _with_falls(track: Track, s: Signals, falls: tuple[Fall, ...]) -> tuple[list[_Cut], list[Note]]:
    cuts, notes = _before_exit(track, s, falls[0].start)
    if falls[0].start <= 1:
        notes.append(Note("starts-in-free-fall", "the recording starts in free fall"))
    for fall in falls:
        cuts += [
            (float(s.t[fall.start]), "free fall"),
            (float(s.t[fall.deployment]), "opening"),
            (float(s.t[fall.steady]), "canopy"),
        ]
    if len(falls) > 1:
        text = "a second fast fall between two canopy flights"
        notes.append(Note("second-fall", text, len(falls) - 1))
    return cuts, notes


def _without_fall(
    track: Track, s: Signals, top: int, landing_s: float | None
) -> tuple[list[_Cut], list[Note]] | None:
    """Static line, a launch on foot, or a recording that starts under canopy; None where it is an aeroplane."""
    stop = s.near(landing_s) if landing_s is not None else s.t.shape[0] - 1
    found = find_exit_without_fall(s, stop)
    if found is not None:
        cuts, notes = _before_exit(track, s, found[0])
        cuts += [(float(s.t[found[0]]), "opening"), (float(s.t[found[1]]), "canopy")]
        return cuts, [*notes, Note("no-free-fall", "an exit without a free fall")]
    if float(np.median(s.slow_speed[top : stop + 1])) > 27.0:
        return None
    no_fall = Note("no-free-fall", "the recording has no free fall")
    ground = np.flatnonzero((s.slow_speed[: top + 1] < 3.0) & (np.abs(s.slow_sink[: top + 1]) < 1.0))
    if ground.size:
        airborne = np.flatnonzero((s.speed > 4.0) & (s.slow_sink > 0.5))
        launch = airborne[airborne > ground[-1]]
        first = int(launch[0]) if launch.size else top
        t0 = float(track.t_s[0])
        return [(t0, "ground before"), (float(s.t[first]), "canopy")], [no_fall]
    return [(float(track.t_s[0]), "canopy")], [
        Note("starts-under-canopy", "the recording starts under canopy")
    ]


def find_phases(track: Track) -> Phases:
    """Cut one jump's track into phases that tile it.

    The events are found first (free falls, exit, deployment, steady canopy, touchdown; ``events.py`` has the
    thresholds), then the cuts between them. "opening" lasts from the deployment to steady canopy flight; the
    landing is the moment of touchdown. A ride in an aeroplane, a walk or a recording without heights is "no jump"
    with its reason; nothing is raised.
    """
    known = np.isfinite(track.agl_m)
    if int(known.sum()) < 5:
        return _no_jump(track, _NO_HEIGHT)
    s = make_signals(track.t_s[known], track.east_m[known], track.north_m[known], track.agl_m[known])
    if float(np.ptp(s.h)) < 60.0:
        return _no_jump(track, _FLAT)
    top = top_of_flight(s)
    touchdown = find_landing(s, top)
    landing_s = touchdown[0] if touchdown else None
    stop = s.near(landing_s) if landing_s is not None else s.t.shape[0]
    falls = find_falls(s, stop)
    if not falls and s.h[top] - s.h[stop - 1] < 60.0:
        return _no_jump(track, _NO_DESCENT)
    found = _with_falls(track, s, falls) if falls else _without_fall(track, s, top, landing_s)
    if found is None:
        return _ride(track, s, top, landing_s)
    cuts, notes = found
    if touchdown is None:
        notes.append(Note("stops-in-air", "the recording stops before the landing"))
        return _phases(track, cuts, notes, None)
    return _phases(track, [*cuts, (touchdown[0], "ground after")], notes, touchdown)


def _phases(
    track: Track, cuts: list[_Cut], notes: list[Note], touchdown: tuple[float, float] | None
) -> Phases:
    intervals = _tile(track, cuts)
    names = [p.name for p in intervals]
    opened = "opening" in names or ("canopy" in names and names.index("canopy") > 0)
    landing_s = None if touchdown is None else touchdown[0]
    return Phases(
        intervals,
        "jump",
        "",
        landing_s,
        None if landing_s is None else min(int(np.searchsorted(track.t_s, landing_s)), len(track) - 1),
        opened and landing_s is not None and "canopy" in names,
        tuple(notes),
    )


def split_jumps(recording: Recording) -> tuple[tuple[int, int], ...]:
    """Index ranges ``(start, stop)`` of the fixes of each jump in a day's recording, tiling it; one range where it holds one jump or none.

    A jump ends in the last descent of more than 150 m before the next climb of more than 150 m; the cut lies at the
    longest hole between landing and next take-off where there is one of a minute, else in the middle of that time.
    """
    n = len(recording)
    known = np.flatnonzero(np.isfinite(recording.altitude_m))
    if known.size < 5:
        return ((0, n),)
    t, h = recording.time_s[known], recording.altitude_m[known]
    cuts = [int(known[_cut_between(t, h, low)]) for low in _valleys(h, 150.0)]
    edges = [0, *cuts, n]
    return tuple((a, b) for a, b in pairwise(edges))


def _valleys(h: NDArray[np.float64], least_m: float) -> list[int]:
    """Lowest fixes between two flights: fallen by ``least_m`` before, risen by as much after."""
    found: list[int] = []
    i, n = 0, h.shape[0]
    while True:
        rest = h[i:]
        fallen = np.flatnonzero(np.maximum.accumulate(rest) - rest > least_m)
        if fallen.size == 0:
            return found
        j = i + int(fallen[0])
        risen = np.flatnonzero(h[j:] - np.minimum.accumulate(h[j:]) > least_m)
        if risen.size == 0:
            return found
        k = j + int(risen[0])
        found.append(j + int(np.argmin(h[j : k + 1])))
        i = min(k, n - 1)


def _cut_between(t: NDArray[np.float64], h: NDArray[np.float64], low: int) -> int:
    """Where to cut around a valley: at the longest hole of the time on the ground, else in its middle."""
    on_ground = h < h[low] + 25.0
    before, after = np.flatnonzero(~on_ground[:low]), np.flatnonzero(~on_ground[low:])
    a = int(before[-1]) + 1 if before.size else 0
    b = low + int(after[0]) if after.size else t.shape[0]
    gaps = np.diff(t[a:b])
    if gaps.size and gaps.max() > 60.0:
        return int(a + np.argmax(gaps) + 1)
    return int(min(np.searchsorted(t, 0.5 * (t[a] + t[b - 1])), t.shape[0] - 1))
