"""The names of the pieces of a flight, over the landing directions that its end allows."""

from __future__ import annotations

import math

import numpy as np

from analyser.angles import circular_mean_deg, compass_deg, signed_difference_deg
from analyser.legs.begins import Piece
from analyser.legs.naming import Naming, name_legs
from analyser.legs.scores import Landing, StraightLeg
from analyser.legs.thresholds import LEGS
from analyser.legs.turns import Heights
from analyser.track import Track

__all__ = ["between", "landing_direction", "named"]


def between(track: Track, start_s: float, end_s: float) -> tuple[float, float]:
    """Metres east and north from one time to another."""
    east = np.interp([start_s, end_s], track.t_s, track.east_m)
    north = np.interp([start_s, end_s], track.t_s, track.north_m)
    return float(east[1] - east[0]), float(north[1] - north[0])


def named(
    track: Track, pieces: list[Piece], heights: Heights, end_s: float, crosswind: float = 1.0
) -> Naming:
    """The likeliest names, over the landing directions that the last one, two… stretches give: S-turns may go on to the ground.

    Only short stretches are taken together; each one more must pay. In a strong wind a final drifts: then the pattern may lie square
    to its nose, which points into the wind that it was planned for, rather than to its track. ``crosswind``: odds of a crosswind leg
    over the usual ones.
    """
    legs = [_straight(track, p, heights) for p in pieces]
    landings: list[Landing] = []
    for count in range(1, min(len(pieces), 5) + 1):
        if count > 1 and max(leg.seconds for leg in legs[-count:]) > LEGS.weave_s:
            break
        over, nose = _landing_direction(track, pieces[-count:], end_s)
        landings.append(Landing(over, nose, count, False, -LEGS.more_finals * (count - 1), crosswind))
        if abs(signed_difference_deg(over, nose)) > LEGS.drift_deg:
            landings.append(
                Landing(over, nose, count, True, -LEGS.more_finals * (count - 1) + LEGS.by_nose, crosswind)
            )
    return name_legs(legs, landings)


def _landing_direction(track: Track, last: list[Piece], end_s: float) -> tuple[float, float]:
    """Track over the end of final and its heading [deg true]; twice the heading where there is next to no ground speed to tell a track."""
    begin = last[0].start_s if len(last) > 1 else max(last[0].start_s, end_s - LEGS.last_of_final_s)
    weights = [p.end_s - p.start_s + 0.5 for p in last]
    heading = circular_mean_deg([p.heading_deg for p in last], weights)
    return _track_from(track, begin, end_s, heading), heading


def landing_direction(track: Track, start_s: float, end_s: float, heading_deg: float) -> float:
    """Track over the end of a final [deg true]; ``heading_deg`` where there is next to no ground speed to tell one."""
    return _track_from(track, max(start_s, end_s - LEGS.last_of_final_s), end_s, heading_deg)


def _track_from(track: Track, begin_s: float, end_s: float, otherwise_deg: float) -> float:
    begin = min(begin_s, end_s - 3.0)
    east, north = between(track, begin, end_s)
    speed = math.hypot(east, north) / (end_s - begin)
    return float(compass_deg(east, north)) if speed > LEGS.moves_mps else otherwise_deg


def _straight(track: Track, p: Piece, heights: Heights) -> StraightLeg:
    seconds = max(p.end_s - p.start_s, 0.5)
    middle, half = 0.5 * (p.start_s + max(p.end_s, p.start_s)), max(0.5 * seconds, 0.75)
    east, north = between(track, middle - half, middle + half)
    speed = math.hypot(east, north) / (2.0 * half)
    sd = math.degrees(math.atan2(LEGS.misread_mps, max(speed, 0.1)))
    turn = p.turn.turn if p.turn else None
    return StraightLeg(
        p.heading_deg,
        float(compass_deg(east, north)),
        sd,
        seconds,
        turn.start_agl_m if turn else math.nan,
        turn.change_deg if turn else math.nan,
        p.bend_deg,
    )
