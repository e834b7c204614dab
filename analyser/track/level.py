"""Elevation of the landing area in the file's own altitude reference, and how far the heights above it can be trusted."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from analyser.importers.recording import Note, Recording
from analyser.track.ground import Ground, Rest

__all__ = ["Level", "find_level"]

# Slow error of a height against the level measured some minutes later, 1 sigma. Satellite heights: ours, from the 7 m
# (95 %) of an open sky that the GPS performance standard of 2020 is cited with, less what stays the same for minutes.
# Barometric: air 10 °C off the standard stretches heights by 4 % (ICAO Doc 8168, temperature correction), 5 m at 125 m.
_SLOW_SD_M: Final = {"barometric": 5.0, "gps": 3.0, "unknown": 3.0}
_PRIOR_WEIGHT: Final = 2.0  # ours: the figures above count as two observed differences of level
_REFERENCE_SD_M: Final = 5.0  # ours: an altitude against the true height above the sea
_GIVEN_SD_M: Final = 1.0  # ours: an elevation read off a map
_UNSEEN_SD_M: Final = 300.0  # ours: how far below its last fix a jump may have landed
_BELOW_M: Final = 30.0  # ours: a flight that sinks further below the take-off lands elsewhere
LEVELS_AGREE_M: Final = 10.0  # ours: more is drift, a recalibration, or another elevation


@dataclass(frozen=True, slots=True)
class Level:
    """Elevation [m] of the landing area and its sd, the slow sd of the heights, whether it was seen, and notes.

    ``zero_m`` is the altitude in the file from which heights are counted.
    """

    elevation_m: float
    zero_m: float
    elevation_sd_m: float
    agl_sd_m: float
    known: bool
    notes: tuple[Note, ...]


def find_level(recording: Recording, ground: Ground, elevation_m: float | None, lowest_m: float) -> Level:
    """The level after the landing; else before take-off; else the lowest fix ``lowest_m``, with a note and a wide error.

    ``elevation_m`` given by the user is the elevation that is reported, and the zero of the heights where the track never rests
    after the landing. Where it does rest, that is the zero: an altitude that is wrong by a constant (a pressure setting, the
    geoid) then does no harm; a note says where the two disagree. All NaN where the file has no altitude.
    """
    if not math.isfinite(lowest_m):
        return Level(
            math.nan, math.nan, math.nan, math.nan, False, (Note("no-altitude", "the file has no altitude"),)
        )
    slow = _slow_sd(recording, ground)
    after, before = _seen(ground.after), _seen(ground.before)
    notes = _difference_note(ground)
    if after is not None:
        level, sd, known = after.level_m, math.hypot(after.sd_m, slow), True
    elif before is not None and lowest_m > before.level_m - _BELOW_M:
        level, sd, known = before.level_m, math.hypot(before.sd_m, 2.0 * slow), True
        text = "the track does not rest after the landing: heights are above the take-off place"
        notes = (*notes, Note("ground-level-before", text))
    else:
        level, sd, known = lowest_m, _UNSEEN_SD_M, False
        text = "the track does not rest where it landed: heights are above its lowest fix"
        notes = (*notes, Note("ground-level-unknown", text))
    if elevation_m is None:
        return Level(level, level, math.hypot(sd, _REFERENCE_SD_M), sd, known, notes)
    apart = elevation_m - level if known else 0.0
    if abs(apart) > LEVELS_AGREE_M:
        zero = "after the landing" if after is not None else "before take-off"
        text = (
            f"the given elevation {elevation_m:.0f} m differs from the {level:.0f} m of the track at rest {zero}"
            + ("; heights count from the track's" if after is not None else "")
        )
        notes = (*notes, Note("elevation-disagrees", text))
    if after is not None:
        return Level(elevation_m, level, _GIVEN_SD_M, sd, True, notes)
    error = math.hypot(slow, 0.5 * apart if known else _REFERENCE_SD_M)
    return Level(elevation_m, elevation_m, _GIVEN_SD_M, error, True, notes)


def _seen(rest: Rest | None) -> Rest | None:
    return rest if rest is not None and math.isfinite(rest.level_m) else None


def _slow_sd(recording: Recording, ground: Ground) -> float:
    """Slow error of the heights: the usual one, and the difference of the levels where both are of one field.

    Two errors far apart in time differ with twice the variance, two some minutes apart (correlation 0.37) with 1.26 times it.
    """
    usual = _SLOW_SD_M[recording.altitude_source]
    if not ground.same_place or not math.isfinite(ground.difference_m):
        return usual
    seen = 0.63 * ground.difference_m**2
    return math.sqrt((_PRIOR_WEIGHT * usual**2 + seen) / (_PRIOR_WEIGHT + 1.0))


def _difference_note(ground: Ground) -> tuple[Note, ...]:
    difference = ground.difference_m
    if math.isnan(difference) or abs(difference) <= LEVELS_AGREE_M:
        return ()
    way = "higher" if difference > 0.0 else "lower"
    lies = f"the landing place is {abs(difference):.0f} m {way} than the take-off place; heights are above the landing place"
    if not ground.same_place:
        return (Note("landing-elevation", lies),)
    return (Note("ground-levels-differ", f"{lies}: drift, a recalibration, or another elevation"),)
