"""Where the jumper really was on each leg: the places from which the rest of the plan is flown again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyser.pattern import Gate, Leg, LegName, Pattern
from analyser.replay.thresholds import REPLAY
from analyser.track import Track

__all__ = ["established", "heading_before", "place_at_height"]


def heading_before(flown: Pattern, name: LegName) -> float | None:
    """Air heading [deg true] flown before the turn onto a leg, or None where no turn was found."""
    leg = flown.leg(name)
    if leg is None or leg.turn is None:
        return None
    return leg.heading_deg - leg.turn.change_deg


def established(flown: Pattern, name: LegName, track: Track, entry_agl_m: float | None = None) -> Gate | None:
    """The jumper's place and height shortly after the turn onto a leg, read from the track; None where the leg was not flown.

    On a straight leg a place and a height belong together whatever the moment, so this does not depend on when exactly the turn
    is thought to have begun or ended; where in a turn it began may be off by a second, 15 m downwind. With ``entry_agl_m`` a leg
    joined from above counts from where the jumper came through that height (the entry of a plan is a place at a height).
    """
    gate, leg = flown.gate(name), flown.leg(name)
    if gate is None or leg is None or leg.end_s - leg.start_s < 1.0:
        return None
    t = leg.start_s + min(REPLAY.settle_s, REPLAY.settle_share * (leg.end_s - leg.start_s))
    if entry_agl_m is not None:
        t = max(t, _passed(leg, track, entry_agl_m) or t)
    half = max(min(REPLAY.half_window_s, t - leg.start_s, leg.end_s - t), 1e-3)
    at = np.linspace(t - half, t + half, 21)
    rows = (track.east_m, track.north_m, track.agl_m)
    east, north, agl = (float(np.mean(np.interp(at, track.t_s, v))) for v in rows)
    if not np.isfinite(agl):
        return None
    return replace(
        gate,
        east_m=east,
        north_m=north,
        agl_m=agl,
        heading_deg=leg.heading_deg,
        t_s=t,
        agl_sd_m=float(np.hypot(track.agl_sd_m, REPLAY.own_sd_m)),
        lateral_sd_m=float(np.hypot(track.position_sd_m, REPLAY.own_sd_m)),
    )


def _passed(leg: Leg, track: Track, agl_m: float) -> float | None:
    """When the leg came down through a height, or None where it began below it or ended above."""
    on_leg = np.flatnonzero((track.t_s >= leg.start_s) & (track.t_s <= leg.end_s))
    below = on_leg[track.agl_m[on_leg] <= agl_m]
    return float(track.t_s[below[0]]) if below.size and below[0] > on_leg[0] else None


def place_at_height(track: Track, fixes: tuple[int, int], agl_m: float) -> tuple[float, float] | None:
    """Where the flight between two fixes first came down to a height.

    Parameters
    ----------
    track : Track
        Places [m] and heights above the landing area [m].
    fixes : tuple of int
        First fix and the one after the last.
    agl_m : float
        Above the landing area [m].

    Returns
    -------
    tuple of float or None
        East and north [m]; None where the flight was never above that height, or not below it.
    """
    start, stop = fixes
    below = np.flatnonzero(track.agl_m[start:stop] <= agl_m)
    if not below.size or below[0] == 0:
        return None
    i = start + int(below[0])
    share = (track.agl_m[i - 1] - agl_m) / (track.agl_m[i - 1] - track.agl_m[i])
    east, north = (float(v[i - 1] + share * (v[i] - v[i - 1])) for v in (track.east_m, track.north_m))
    return (east, north) if np.isfinite(share) else None
