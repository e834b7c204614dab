"""Flight: one jump as a load needs it, in a frame and on a clock that all of the load share."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath

import numpy as np
from numpy.typing import NDArray

from analyser.frame import LocalFrame
from analyser.jump import Debrief
from analyser.load.thresholds import LOAD
from analyser.phases.thresholds import PHASES

__all__ = ["Flight", "common_frame", "flight_of", "flights_of", "label_of"]

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Flight:
    """One jump: arrays (n,) of times [s since 1970, UTC], metres from the origin of the common frame, height above the landing area [m].

    ``exit_s`` None where the recording begins after it; ``opened_s`` when the canopy flight begins, ``landed_s`` None where no landing
    was recorded; ``landed_sd_s`` its error; ``first_exit`` number of the first fix after the exit; ``clock_s`` what was added to its
    times to bring them onto the load's clock, ``clock_sd_s`` [1 sigma]; ``scale`` what its heights were multiplied by. ``agl_sd_m``,
    ``position_sd_m`` slow errors of height and place.
    """

    name: str
    t_s: Vector
    east_m: Vector
    north_m: Vector
    agl_m: Vector
    exit_s: float | None
    opened_s: float | None
    landed_s: float | None
    landed_sd_s: float
    first_exit: int
    agl_sd_m: float
    position_sd_m: float
    barometric: bool = False
    clock_s: float = 0.0
    clock_sd_s: float = 0.0
    scale: float = 1.0

    def on_clock(self, seconds: float, sd_s: float) -> Flight:
        """The same flight with ``seconds`` added to its times."""
        return replace(
            self,
            t_s=self.t_s + seconds,
            exit_s=None if self.exit_s is None else self.exit_s + seconds,
            opened_s=None if self.opened_s is None else self.opened_s + seconds,
            landed_s=None if self.landed_s is None else self.landed_s + seconds,
            clock_s=self.clock_s + seconds,
            clock_sd_s=sd_s,
        )

    def stretched(self, scale: float) -> Flight:
        """The same flight with its heights multiplied."""
        return replace(self, agl_m=self.agl_m * scale, scale=self.scale * scale)

    def place(self, t_s: Vector) -> Vector:
        """East, north and height (3, …) [m] at times of the load's clock, straight between fixes."""
        return np.stack([np.interp(t_s, self.t_s, v) for v in (self.east_m, self.north_m, self.agl_m)])

    @property
    def under_canopy(self) -> tuple[float, float] | None:
        """From when to when the canopy flew [s]; None where the track does not hold that."""
        if self.opened_s is None:
            return None
        end = self.landed_s if self.landed_s is not None else float(self.t_s[-1])
        return (self.opened_s, end) if end > self.opened_s else None


def flights_of(debriefs: Sequence[Debrief]) -> tuple[Flight, ...]:
    """The flights in the frame of the first jump that has a target, else of the first."""
    frame = common_frame(debriefs)
    return tuple(flight_of(debrief, frame) for debrief in debriefs)


def common_frame(debriefs: Sequence[Debrief]) -> LocalFrame:
    """The frame that all flights of a load are put into."""
    return next((d.track.frame for d in debriefs if d.has_target), debriefs[0].track.frame)


def flight_of(debrief: Debrief, frame: LocalFrame) -> Flight:
    """One jump, its places put into ``frame``; only its track and phases are looked at."""
    track, phases = debrief.track, debrief.phases
    east, north = track.east_m, track.north_m
    if track.frame != frame:
        east, north = frame.to_local(*track.frame.to_geodetic(east, north))
    fall = next((p for p in phases.intervals if p.name == "free fall"), None)
    opening = next((p for p in phases.intervals if p.name == "opening"), None)
    left = fall or opening
    canopy = phases.canopy()
    start = track.start_utc_s
    # a recording that begins in free fall does not hold its exit
    seen = left is not None and left.start > LOAD.seen_fixes
    known = np.isfinite(track.agl_m)
    return Flight(
        name=label_of(debrief),
        t_s=start + track.t_s,
        east_m=east,
        north_m=north,
        agl_m=np.interp(track.t_s, track.t_s[known], track.agl_m[known]) if known.any() else track.agl_m,
        exit_s=start + left.start_s if left is not None and seen else None,
        opened_s=None if canopy is None else start + canopy.start_s,
        landed_s=None if phases.landing_s is None else start + phases.landing_s,
        landed_sd_s=_moment_sd(phases.landing_sd_s),
        first_exit=left.start if left is not None else 0,
        agl_sd_m=track.agl_sd_m,
        position_sd_m=track.position_sd_m,
        barometric=track.quality.altitude == "barometric",
    )


def label_of(debrief: Debrief) -> str:
    """Who it was: the jumper's name, else that of the file without its ending."""
    recording = debrief.recording
    stem = PurePath(recording.file).name.partition(".")[0]
    return debrief.settings.jumper.name or stem or recording.name or "a recording"


def _moment_sd(sd_s: float | None) -> float:
    """Error [s] of a touchdown without that of the clock, which a load knows better."""
    if sd_s is None:
        return LOAD.unknown_landed_sd_s
    return math.sqrt(max(sd_s**2 - PHASES.clock_sd_s**2, LOAD.least_landed_sd_s**2))
