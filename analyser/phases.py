"""find_phases: label every fix, then cut into intervals that tile the track."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from analyser.importers.recording import Note, Recording
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


def find_phases(track: Track) -> Phases:
    """Cut one jump's track into phases."""
    raise NotImplementedError


def split_jumps(recording: Recording) -> tuple[tuple[int, int], ...]:
    """Index ranges ``(start, stop)`` of the fixes of each jump in a day's recording, tiling it; one range where it holds one jump or none."""
    raise NotImplementedError
