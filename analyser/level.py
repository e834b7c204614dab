"""Elevation of the landing area in the file's own altitude reference, and how far the heights above it can be trusted."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analyser.ground import Ground
from analyser.importers.recording import Note, Recording

__all__ = ["Level", "find_level"]

# Slow error of a height against the level measured minutes later, 1 sigma (ours; common practice, no source: a barometer
# follows the weather, a satellite height wanders by metres within minutes).
_DRIFT_SD_M = {"barometric": 2.0, "gps": 4.0, "unknown": 4.0}
LEVELS_AGREE_M = 10.0  # ours: more is drift, a recalibration, or another elevation
_CANOPY_S = 300.0  # ours: the time from the first canopy fix to the level at rest


@dataclass(frozen=True, slots=True)
class Level:
    """Elevation [m] of the landing area and its sd, the slow sd of the heights, whether it was seen, and notes."""

    elevation_m: float
    elevation_sd_m: float
    agl_sd_m: float
    known: bool
    notes: tuple[Note, ...]


def find_level(recording: Recording, ground: Ground, elevation_m: float | None) -> Level:
    """The level after the landing; else before take-off; else the lowest fix, with a note and a wide error."""
    z = recording.altitude_m
    if not np.any(np.isfinite(z)):
        return Level(math.nan, math.nan, math.nan, False, (Note("no-altitude", "the file has no altitude"),))
    drift = _DRIFT_SD_M[recording.altitude_source]
    after, before = _level(ground, "after"), _level(ground, "before")
    notes = list(_difference_note(ground))
    if after is not None:
        level, sd, known = after[0], after[1], True
        drift = max(drift, _observed_drift(recording, ground))
    elif before is not None:
        level, sd, known = before[0], math.hypot(before[1], 2.0 * drift), True
        notes.append(
            Note("ground-level-before", "no rest after the landing: heights are above the take-off place")
        )
    else:
        level, sd, known = float(np.nanmin(z)), 15.0, False
        notes.append(
            Note(
                "ground-level-unknown",
                "the track never rests on the ground: heights are above its lowest fix",
            )
        )
    if elevation_m is not None:
        if known and abs(elevation_m - level) > LEVELS_AGREE_M:
            notes.append(
                Note(
                    "elevation-disagrees",
                    f"the given elevation {elevation_m:.0f} m differs from the {level:.0f} m of the track at rest",
                )
            )
        level, sd, known = elevation_m, 0.0, True
        drift = max(drift, 5.0)
    return Level(level, sd, math.hypot(sd, drift), known, tuple(notes))


def _level(ground: Ground, side: str) -> tuple[float, float] | None:
    rest = ground.after if side == "after" else ground.before
    if rest is None or not math.isfinite(rest.level_m):
        return None
    return rest.level_m, rest.sd_m


def _observed_drift(recording: Recording, ground: Ground) -> float:
    """The difference of the two levels, as a random walk, over the minutes under canopy; only where both are one place."""
    if ground.before is None or ground.after is None or not ground.same_place:
        return 0.0
    seconds = float(recording.time_s[ground.after.start] - recording.time_s[ground.before.stop - 1])
    return abs(ground.difference_m) * math.sqrt(min(1.0, _CANOPY_S / max(seconds, 1.0)))


def _difference_note(ground: Ground) -> tuple[Note, ...]:
    difference = ground.difference_m
    if math.isnan(difference) or abs(difference) <= LEVELS_AGREE_M:
        return ()
    lies = f"the landing place lies {difference:+.0f} m from the take-off place; heights are above the landing place"
    if not ground.same_place:
        return (Note("landing-elevation", lies),)
    return (Note("ground-levels-differ", f"{lies}: drift, a recalibration, or another elevation"),)
