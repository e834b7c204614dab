"""find_phases: cut one jump's track into the phases of its flight; split_jumps: cut a day's recording into jumps."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyser.importers.recording import Note, Recording
from analyser.phases.cuts import Cut, PhaseName, cuts_of_fall, cuts_of_ride, cuts_without_fall, hole_notes
from analyser.phases.day import flights
from analyser.phases.events import Fall, find_falls, top_of_flight
from analyser.phases.ground_events import find_landing
from analyser.phases.no_exit import leaps, why_no_canopy, why_no_exit, why_on_rails
from analyser.phases.signals import Signals, make_signals
from analyser.phases.thresholds import PHASES
from analyser.phases.touchdown import Touchdown
from analyser.track import Track

__all__ = ["PHASE_NAMES", "Phase", "PhaseName", "Phases", "find_phases", "split_jumps"]

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
    """One interval of the flight: ``start:stop`` fixes, times [s, track time], heights [m].

    A phase that lies within a hole of the recording has no fixes (``start == stop``).
    """

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

    ``kind``: "jump", "no jump" (a ride, a walk), with ``reason``; ``landing_s`` time of touchdown or None,
    ``landing_sd_s`` its standard deviation, ``PHASES.clock_sd_s`` of the receiver's clock in it; ``landing_speed_mps`` over ground then;
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
    landing_sd_s: float | None = None
    landing_speed_mps: float = 0.0

    def all(self, name: PhaseName) -> tuple[Phase, ...]:
        """Every interval of that name."""
        return tuple(p for p in self.intervals if p.name == name)

    def canopy(self) -> Phase | None:
        """The canopy flight that ends in the landing (the last one), or None."""
        found = self.all("canopy")
        return found[-1] if found else None


_NO_HEIGHT = "the recording has no heights"
_FEW = "the recording holds fewer than five fixes with a height"
_FLAT = "the height changes by less than 60 m: no flight in this recording"
_RIDE = "the descent was flown at aeroplane speed: a ride down, no jump"
_TO_THE_GROUND = (
    "the fast descent goes on to the ground, with no canopy flight: an aeroplane, or heights in feet?"
)
_NO_DESCENT = "the recording ends before any descent under canopy"


def find_phases(track: Track) -> Phases:
    """Cut one jump's track into phases that tile it.

    Parameters
    ----------
    track : Track
        One jump; :func:`split_jumps` cuts a day's recording.

    Returns
    -------
    Phases
        ``intervals`` with name, fixes, times [s] and heights [m]: "ground before", "climb", "free fall", "opening" (from the
        deployment to steady canopy flight), "canopy", "ground after". A ride in an aeroplane, a walk, a recording without
        heights or with impossible ones is "no jump" with its ``reason``; nothing is raised.

    Notes
    -----
    The events are found first (free falls, exit, deployment, steady canopy, touchdown; ``events.py`` and ``ground_events.py``
    have the thresholds), then the cuts between them. The landing is the moment of touchdown.

    Examples
    --------
    >>> from analyser.importers.read import read
    >>> from analyser.track import build_track
    >>> phases = find_phases(build_track(read("sample_tracks/steady_breeze.fit")))
    >>> [phase.name for phase in phases.intervals]
    ['ground before', 'climb', 'free fall', 'opening', 'canopy', 'ground after']
    """
    known = np.isfinite(track.agl_m)
    if int(known.sum()) < 5:
        return _no_jump(track, _FEW if known.any() else _NO_HEIGHT)
    s = make_signals(track.t_s[known], track.east_m[known], track.north_m[known], track.agl_m[known])
    if float(np.ptp(s.h)) < PHASES.flat_m:
        return _no_jump(track, _FLAT)
    top = top_of_flight(s)
    touchdown = find_landing(s, top)
    landing_s, rest_s = (touchdown.t_s, touchdown.rest_s) if touchdown else (None, None)
    stop = s.near(landing_s) if landing_s is not None else s.t.shape[0]
    falls = find_falls(s, stop)
    if not falls and (stop <= top or s.h[top] - s.h[stop - 1] < PHASES.flat_m):
        return _no_jump(track, _NO_DESCENT)
    if falls and stop < s.t.shape[0] and s.h[falls[-1].steady] - s.h[stop] < PHASES.lowest_m:
        return _no_jump(track, _TO_THE_GROUND, cuts_of_ride(s, falls[0].start, rest_s))
    found = cuts_of_fall(s, falls) if falls else cuts_without_fall(s, top, touchdown)
    if found is None:
        return _no_jump(track, _RIDE, cuts_of_ride(s, top, rest_s))
    reason = "" if falls else _no_exit(s, found[0], top, stop)
    if reason:
        return _no_jump(track, reason)
    reason = _impossible(s, falls, top, stop)
    if reason:
        return _no_jump(track, reason, found[0])
    return _jump(track, found[0], [*found[1], *hole_notes(s)], touchdown)


def _no_exit(s: Signals, cuts: list[Cut], top: int, stop: int) -> str:
    """Why a flight without a free fall is no jump, or nothing."""
    begins = s.near(next(cut.t_s for cut in cuts if cut.name == "canopy"))
    seen = any(cut.name == "opening" for cut in cuts) or any(cut.name == "climb" for cut in cuts)
    if seen:
        return why_no_canopy(s, begins, stop)
    return why_no_exit(s, top, stop) or why_no_canopy(s, begins, stop) or why_on_rails(s, begins, stop)


def _impossible(s: Signals, falls: tuple[Fall, ...], top: int, stop: int) -> str:
    """Why the heights can not be metres, or nothing."""
    for fall in falls:
        fastest = float(np.median(s.sink[fall.start : fall.deployment + 1]))
        if fall.deployment - fall.start > 3 and fastest > PHASES.falls_too_fast_mps:
            return f"the height falls by {fastest:.0f} m/s, faster than any fall: heights in feet?"
    if falls and stop < s.t.shape[0] and s.h[falls[-1].steady] - s.h[stop] < PHASES.lowest_m:
        return (
            "the fast descent goes on to the ground, with no canopy flight: an aeroplane, or heights in feet?"
        )
    first = falls[-1].steady if falls else top
    usual = float(np.median(s.sink[first : stop + 1])) if stop - first > 10 else 0.0
    if usual > PHASES.sinks_too_fast_mps:
        return f"the height falls by {usual:.0f} m/s through the canopy flight, faster than a canopy: heights in feet?"
    return ""


def _no_jump(track: Track, reason: str, cuts: list[Cut] | None = None) -> Phases:
    whole: list[Cut] = [Cut(float(track.t_s[0]), "ground before")]
    return Phases(_tile(track, cuts or whole), "no jump", reason, None, None, False)


def _jump(track: Track, cuts: list[Cut], notes: list[Note], touchdown: Touchdown | None) -> Phases:
    if touchdown is None:
        notes = [*notes, Note("stops-in-air", "the recording stops before the landing")]
    else:
        cuts = [*cuts, Cut(touchdown.t_s, "ground after")]
        if touchdown.sd_s > 3.0:
            notes = [*notes, Note("landing-in-a-hole", "the landing lies in a hole of the recording")]
    intervals = _tile(track, cuts)
    names = [p.name for p in intervals]
    opened = "opening" in names or ("canopy" in names and names.index("canopy") > 0)
    landing_s = None if touchdown is None else touchdown.t_s
    return Phases(
        intervals,
        "jump",
        "",
        landing_s,
        None if landing_s is None else min(int(np.searchsorted(track.t_s, landing_s)), len(track) - 1),
        opened and landing_s is not None and "canopy" in names,
        tuple(notes),
        None if touchdown is None else math.hypot(touchdown.sd_s, PHASES.clock_sd_s),
        0.0 if touchdown is None else touchdown.speed_mps,
    )


def _tile(track: Track, cuts: list[Cut]) -> tuple[Phase, ...]:
    """Intervals from cuts in order of time; a phase within a hole of the recording has no fixes, an empty one is left out."""
    t, n = track.t_s, len(track)
    kept: list[tuple[int, Cut]] = []
    for k, cut in enumerate(cuts):
        start = cut._replace(t_s=float(t[0])) if k == 0 else cut
        i = 0 if k == 0 else int(np.searchsorted(t, start.t_s - 1e-9))
        if i >= n:
            break
        while kept and (kept[-1][1].t_s >= start.t_s or (kept[-1][0] >= i and _filled(t, i))):
            kept.pop()
        if not kept or kept[-1][1].name != start.name:
            kept.append((i, start))
    return tuple(_intervals(track, kept))


def _filled(t: NDArray[np.float64], i: int) -> bool:
    """No hole before the fix: a phase without fixes there is shorter than the sampling."""
    return i == 0 or float(t[i] - t[i - 1]) < PHASES.moment_hole_s


def _intervals(track: Track, kept: list[tuple[int, Cut]]) -> Iterator[Phase]:
    t, n = track.t_s, len(track)
    known = np.isfinite(track.agl_m)
    h = np.interp(t, t[known], track.agl_m[known]) if known.any() else np.full(n, np.nan)
    last = (n, Cut(float(t[-1]), "ground after"))

    def height(cut: Cut) -> float:
        return float(np.interp(cut.t_s, t, h)) if cut.agl_m is None else cut.agl_m

    for (a, begins), (b, ends) in pairwise([*kept, last]):
        yield Phase(begins.name, a, b, begins.t_s, ends.t_s, height(begins), height(ends))


def split_jumps(recording: Recording) -> tuple[tuple[int, int], ...]:
    """Index ranges ``(start, stop)`` of the fixes of each flight in a day's recording, tiling it; one range where it holds one or none.

    A flight climbs and comes down by more than 150 m; a ride in the aeroplane is one too: ``find_phases`` tells them apart.

    Parameters
    ----------
    recording : Recording
        Of one jump or of a day.

    Returns
    -------
    tuple of (int, int)
        Ranges that follow each other without a gap.

    Raises
    ------
    FormatError
        The heights rise and fall more often than jumps can.
    """
    n = len(recording)
    known = np.flatnonzero(np.isfinite(recording.altitude_m))
    if known.size < 5:
        return ((0, n),)
    t, h = recording.time_s[known], recording.altitude_m[known]
    found = flights(t, h - np.concatenate([[0.0], np.cumsum(leaps(t, h))]))
    edges = [0, *(int(known[start]) for start, _ in found[1:]), n]
    return tuple(pairwise(edges))
