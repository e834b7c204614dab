"""Where one phase of a flight goes over into the next: (time, name of what begins), for every kind of flight."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np

from analyser.importers.recording import Note
from analyser.phases.events import Fall, fall_times, find_exit_without_fall
from analyser.phases.ground_events import find_takeoff, rolls_out, touchdown_of_aeroplane
from analyser.phases.signals import Signals
from analyser.phases.thresholds import PHASES
from analyser.phases.touchdown import Touchdown

__all__ = ["Cut", "Cuts", "PhaseName", "cuts_of_fall", "cuts_of_ride", "cuts_without_fall", "hole_notes"]

PhaseName = Literal["ground before", "climb", "free fall", "opening", "canopy", "ground after"]


class Cut(NamedTuple):
    """Where a phase begins: time [s], its name, and its height [m] where the fixes around it do not tell it."""

    t_s: float
    name: PhaseName
    agl_m: float | None = None


Cuts = tuple[list[Cut], list[Note]]


def hole_notes(s: Signals) -> list[Note]:
    """A note for the holes of the recording that may hide a whole phase or its boundary."""
    dt, dh = np.diff(s.t), np.diff(s.h)
    holes = np.flatnonzero((dt > PHASES.cut_hole_s) & (np.abs(dh) > PHASES.cut_hole_m))
    if holes.size == 0:
        return []
    worst = int(holes[np.argmax(dt[holes])])
    text = (
        f"no fixes for {dt[worst]:.0f} s while the height changed by {dh[worst]:.0f} m: "
        "what happened there, and when, is not known"
    )
    return [Note("phase-in-a-hole", text, int(holes.size))]


def _before_exit(s: Signals, exit_: int) -> Cuts:
    """Cuts of what lies before the exit, and a note where the recording starts in the air."""
    if exit_ <= 1:
        return [], []
    start, first = float(s.t[0]), find_takeoff(s, exit_)
    if first == 0:
        return [Cut(start, "climb")], [Note("starts-in-air", "the recording starts in the air")]
    return [Cut(start, "ground before"), Cut(float(s.t[first]), "climb")], []


def cuts_of_fall(s: Signals, falls: tuple[Fall, ...]) -> Cuts:
    """A jump with one or more free falls."""
    cuts, notes = _before_exit(s, falls[0].start)
    if falls[0].start <= 1:
        notes.append(Note("starts-in-free-fall", "the recording starts in free fall"))
    for fall in falls:
        exit_, deployment, steady = fall_times(s, fall)
        cuts += [
            Cut(exit_.t_s, "free fall", exit_.agl_m),
            Cut(deployment.t_s, "opening", deployment.agl_m),
            Cut(steady.t_s, "canopy", steady.agl_m),
        ]
    if len(falls) > 1:
        text = "a second fast fall between two canopy flights"
        notes.append(Note("second-fall", text, len(falls) - 1))
    return cuts, notes


def cuts_of_ride(s: Signals, top: int, rest_s: float | None) -> list[Cut]:
    """An aeroplane up and down again: everything in the air is called climb."""
    cuts: list[Cut] = [Cut(float(s.t[0]), "ground before"), Cut(float(s.t[find_takeoff(s, top)]), "climb")]
    return cuts if rest_s is None else [*cuts, Cut(touchdown_of_aeroplane(s, rest_s), "ground after")]


def cuts_without_fall(s: Signals, top: int, down: Touchdown | None) -> Cuts | None:
    """Static line, a launch on foot, or a recording that starts under canopy; None where it is an aeroplane."""
    stop = s.near(down.t_s) if down is not None else s.t.shape[0] - 1
    found = find_exit_without_fall(s, stop)
    if found is not None:
        cuts, notes = _before_exit(s, found[0])
        cuts += [Cut(float(s.t[found[0]]), "opening"), Cut(float(s.t[found[1]]), "canopy")]
        return cuts, [*notes, Note("no-free-fall", "an exit without a free fall")]
    if down is not None and rolls_out(s, down.rest_s):
        return None
    hidden = _exit_in_a_hole(s, stop)
    if hidden is not None:
        return hidden
    if float(np.median(s.slow_speed[top : stop + 1])) > 1.1 * PHASES.plane_mps:
        return None
    start = float(s.t[0])
    still = (s.slow_speed[: top + 1] < 3.0) & (np.abs(s.slow_sink[: top + 1]) < 1.0)
    if not still.any():
        return [Cut(start, "canopy")], [Note("starts-under-canopy", "the recording starts under canopy")]
    return _launch(s, top, int(np.flatnonzero(still)[-1]))


def _exit_in_a_hole(s: Signals, stop: int) -> Cuts | None:
    """A hole with the ground or an aeroplane before it and, at height, no aeroplane after it."""
    step = np.diff(s.t[: stop + 1])
    low = float(np.percentile(s.h, 2))
    for i in np.flatnonzero(step > PHASES.cut_hole_s)[::-1]:
        after = s.span(float(s.t[i + 1]), float(s.t[i + 1]) + 30.0)
        canopy = (
            float(np.median(s.slow_sink[after])) > 1.0 and float(np.median(s.speed[after])) < PHASES.plane_mps
        )
        flown = s.slow_speed[i] > 0.8 * PHASES.plane_mps or (
            s.h[i] < low + 20.0 and s.slow_speed[i] < PHASES.slow_flight_mps
        )
        if (
            canopy
            and flown
            and s.h[i + 1] > low + PHASES.cut_hole_m
            and s.h[i + 1] - s.h[stop] > PHASES.cut_hole_m
        ):
            cuts, notes = _before_exit(s, int(i))
            if s.h[i] < low + 20.0:
                cuts = [Cut(float(s.t[0]), "ground before"), Cut(float(s.t[i]), "climb")]
            note = Note("exit-not-seen", "the exit lies in a hole of the recording")
            return [*cuts, Cut(float(s.t[i + 1]), "canopy")], [*notes, note]
    return None


def _launch(s: Signals, top: int, ground: int) -> Cuts:
    """From the ground to canopy flight without an exit: a launch on foot."""
    airborne = np.flatnonzero((s.speed > 4.0) & (s.slow_sink > 0.5))
    launch = airborne[airborne > ground]
    first = int(launch[0]) if launch.size else top
    no_fall = Note("no-free-fall", "the recording has no free fall and no exit: a launch on foot")
    return [Cut(float(s.t[0]), "ground before"), Cut(float(s.t[first]), "canopy")], [no_fall]
