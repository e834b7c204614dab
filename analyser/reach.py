"""reach: for every second of the canopy flight, could the pattern entry and the target still be reached in full flight?

At trim, height is time: from one height down to another the air carries every flight by the same drift, and the canopy adds
at most its glide times the height. The reachable places are a disc in the air, moved by the drift (density cancels out); the
turn toward the goal, from the heading flown, is taken off first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.angles import compass_deg, signed_difference_deg, to_vector, wind_from_deg
from analyser.flight import Air, Trim, turn_figures, wind_known
from analyser.holding import every_second
from analyser.pattern import Gate
from analyser.track import Track
from analyser.wind.profile import WindProfile

__all__ = ["SURE", "Goal", "GoalReach", "Reach", "find_reach", "reach_of", "wind_line_deg"]

Vector = NDArray[np.float64]
STEP_M = 10.0
DRAWS = 100
ROOM_M = 20.0
SURE = 2.0


class Goal(NamedTuple):
    """A place [m] to be reached at a height [m above the landing area]."""

    east_m: float
    north_m: float
    agl_m: float


@dataclass(frozen=True, slots=True, eq=False)
class GoalReach:
    """Metres to spare for one goal at the times of the :class:`Reach`, all (m,); NaN once the flight is below the goal.

    ``margin_m`` how much farther off the goal could lie (negative: out of reach); ``up_m`` how much farther down the wind the
    jumper could have been, ``down_m`` how much farther up the wind, and still have made it. ``worst_*`` the smallest margin;
    ``lost_*`` from when on the goal stayed out of reach, by more than twice the margin's standard deviation.
    """

    margin_m: Vector
    margin_sd_m: Vector
    up_m: Vector
    down_m: Vector
    worst_t_s: float | None
    worst_agl_m: float | None
    worst_margin_m: float | None
    worst_margin_sd_m: float | None
    lost_t_s: float | None
    lost_agl_m: float | None

    @property
    def in_reach(self) -> bool | None:
        """Whether the goal stayed in reach all the way: True where every margin is above twice its error, False where one is below
        minus that, None where neither is so."""
        known = np.isfinite(self.margin_m)
        margin, sure = self.margin_m[known], SURE * self.margin_sd_m[known]
        if bool(np.any(margin < -sure)):
            return False
        return True if margin.size and bool(np.all(margin > sure)) else None

    @property
    def doubtful(self) -> NDArray[np.bool_]:
        """At which times (m,) the margin is within twice its error: then nobody can tell."""
        return np.abs(self.margin_m) <= SURE * self.margin_sd_m


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """Where on the wind line the jumper was, second by second, and what was still in reach.

    ``upwind_m`` (m,) distance from the target up the wind, ``right_m`` (m,) to the right of the wind line looking up the wind;
    ``from_deg`` the wind of the wind line; ``crossed_*`` when the jumper last went over to the downwind side of the target.
    """

    t_s: Vector
    agl_m: Vector
    upwind_m: Vector
    right_m: Vector
    from_deg: float
    entry: GoalReach | None
    target: GoalReach
    crossed_t_s: float | None
    crossed_agl_m: float | None

    def __repr__(self) -> str:
        """One line."""
        return f"<Reach over {len(self.t_s)} s: target in reach {self.target.in_reach}>"


def wind_line_deg(wind: WindProfile, top_m: float) -> float | None:
    """Where the mean wind between the ground and ``top_m`` comes from [deg true]; None in no wind."""
    east, north = (float(np.mean(v)) for v in wind.vector(np.linspace(0.0, top_m, 21)))
    return float(wind_from_deg(east, north)) if np.hypot(east, north) > 1e-6 else None


def find_reach(
    track: Track,
    start: int,
    stop: int,
    wind: WindProfile,
    trim: Trim,
    *,
    entry: Gate | None = None,
    line_deg: float | None = None,
    low_m: float = 0.0,
    draws: int = DRAWS,
    seed: int = 7,
) -> Reach | None:
    """Reach over the canopy fixes ``start:stop``, with the target at the origin; None where the flight is too
    short or without heights, or the wind is undetermined at most of them.

    ``entry`` is the first gate of the plan; ``line_deg`` overrides the direction the wind line comes from.

    Parameters
    ----------
    track : Track
        Its origin is the target.
    start, stop : int
        Range of its canopy fixes.
    wind : WindProfile
        With its covariance.
    trim : Trim
        Speeds of full flight at sea-level density [m/s].
    entry : Gate, optional
        The first gate of the plan: the goal then is to reach it, not the target alone.
    line_deg : float, optional
        Where the wind line comes from [deg true].
    low_m : float
        Height [m] below which nobody turns back to the target, as that of the turn onto final: no reserve is told there.
    draws, seed : int
        Of winds and trims, for the errors.

    Returns
    -------
    Reach or None
        Reserves [m] over the flight with their standard deviations.
    """
    part = slice(start, stop)
    good = np.isfinite(track.agl_m[part])
    t = track.t_s[part][good]
    if t.shape[0] < 3 or t[-1] - t[0] < 5.0 or not wind_known(wind, float(np.max(track.agl_m[part][good]))):
        return None
    seconds = every_second(float(np.ceil(t[0])), float(t[-1]))
    east, north, agl, v_east, v_north = (
        np.interp(seconds, t, v[part][good])
        for v in (track.east_m, track.north_m, track.agl_m, track.v_east, track.v_north)
    )
    wind_east, wind_north = wind.vector(agl)
    heading = compass_deg(v_east - wind_east, v_north - wind_north)
    line = line_deg if line_deg is not None else wind_line_deg(wind, entry.agl_m if entry else 300.0)
    line = 0.0 if line is None else line
    air = Air.drawn(trim, wind, np.random.default_rng(seed), draws, central=True)
    place_sd = float(np.hypot(track.position_sd_m, trim.glide * track.agl_sd_m))
    flight = (seconds, east, north, agl, heading)
    up_east, up_north = to_vector(1.0, line)
    upwind = east * up_east + north * up_north
    crossed = _last_crossing(upwind)
    goal = None if entry is None else Goal(entry.east_m, entry.north_m, entry.agl_m)
    return Reach(
        seconds,
        agl,
        upwind,
        east * up_north - north * up_east,
        line,
        None if goal is None else _goal(air, flight, goal, line, place_sd),
        _goal(air, flight, Goal(0.0, 0.0, 0.0), line, place_sd, low_m),
        None if crossed is None else float(seconds[crossed]),
        None if crossed is None else float(agl[crossed]),
    )


def _last_crossing(upwind: Vector) -> int | None:
    """Index of the last step from the upwind to the downwind side."""
    steps = np.flatnonzero((upwind[:-1] >= 0.0) & (upwind[1:] < 0.0))
    return int(steps[-1]) + 1 if steps.size else None


def _goal(
    air: Air, flight: tuple[Vector, ...], goal: Goal, line_deg: float, place_sd: float, low_m: float = 0.0
) -> GoalReach:
    """``place_sd`` what the errors of place and height are worth in reach [m]; ``low_m`` the lowest height that is asked about."""
    seconds, east, north, agl, heading = flight
    margin, up, down = reach_of(air, goal, east, north, agl, heading, line_deg)
    above = agl > max(goal.agl_m + ROOM_M, low_m)
    central = np.where(above, margin[0], np.nan)
    drawn = np.std(margin[1:], axis=0) if len(air) > 1 else np.zeros_like(central)
    sd = np.where(above, np.hypot(drawn, place_sd), np.nan)
    worst = int(np.nanargmin(central)) if bool(np.any(above)) else None
    ever = np.flatnonzero(above & (central + SURE * sd >= 0.0))
    last = int(np.flatnonzero(above)[-1]) if worst is not None else None
    lost = int(ever[-1]) + 1 if ever.size and last is not None and ever[-1] < last else None
    if lost is None and worst is not None and not ever.size:
        lost = int(np.flatnonzero(above)[0])

    def value(values: Vector, i: int | None) -> float | None:
        return None if i is None else float(values[i])

    return GoalReach(
        central,
        sd,
        np.where(above, up[0], np.nan),
        np.where(above, down[0], np.nan),
        value(seconds, worst),
        value(agl, worst),
        value(central, worst),
        value(sd, worst),
        value(seconds, lost),
        value(agl, lost),
    )


def reach_of(
    air: Air,
    goal: Goal,
    east: Vector,
    north: Vector,
    agl: Vector,
    heading_deg: Vector,
    line_deg: float,
) -> tuple[Vector, Vector, Vector]:
    """Margin, and margins up and down the wind [m], each (n versions of the air, m places)."""
    drift_east, drift_north = _drift(air, agl, goal.agl_m)
    need_east, need_north = goal.east_m - east - drift_east, goal.north_m - north - drift_north
    glide = (air.airspeed / air.sink)[:, None]
    lost, need_east, need_north = _turned(air, need_east, need_north, agl, heading_deg)
    radius = glide * (agl - goal.agl_m - lost)
    up_east, up_north = to_vector(1.0, line_deg)
    toward = need_east * up_east + need_north * up_north
    aside = np.abs(need_east * up_north - need_north * up_east)
    chord = np.where(
        radius > aside, np.sqrt(np.maximum(radius**2 - aside**2, 0.0)), np.minimum(radius - aside, 0.0)
    )
    return radius - np.hypot(need_east, need_north), chord - toward, chord + toward


def _drift(air: Air, agl: Vector, floor_m: float) -> tuple[Vector, Vector]:
    """How far the air carries a flight at trim from each height down to ``floor_m`` [m], (n, m)."""
    top = max(float(np.max(agl)), floor_m + STEP_M)
    edges = np.linspace(floor_m, top, int(np.ceil((top - floor_m) / STEP_M)) + 1)
    middle = np.broadcast_to(0.5 * (edges[1:] + edges[:-1]), (len(air), edges.shape[0] - 1))
    seconds = np.diff(edges) / (air.sink[:, None] * air.trim.factor(middle))
    i = np.clip(np.searchsorted(edges, agl, side="right") - 1, 0, edges.shape[0] - 2)
    f = np.clip((agl - edges[i]) / (edges[i + 1] - edges[i]), 0.0, 1.0)
    both = []
    for wind in air.wind(middle):
        summed = np.concatenate([np.zeros((len(air), 1)), np.cumsum(wind * seconds, axis=1)], axis=1)
        both.append(summed[:, i] * (1.0 - f) + summed[:, i + 1] * f)
    return both[0], both[1]


def _turned(
    air: Air, need_east: Vector, need_north: Vector, agl: Vector, heading_deg: Vector
) -> tuple[Vector, Vector, Vector]:
    """Height lost in the turn toward the goal, and the way through the air that is left after it.

    The bank stands at once here: its lag would take off 2 to 8 m, and made-up wings come out some 5 m better than reckoned without it.
    """
    factor = air.trim.factor(agl)
    v, s, rate = turn_figures(air.airspeed[:, None], air.sink[:, None], air.trim.bank_deg)
    radius = v * factor**2 / np.radians(rate)
    east, north = need_east, need_north
    change = np.zeros_like(need_east)
    for _ in range(3):
        change = signed_difference_deg(compass_deg(east, north), heading_deg)
        chord = 2.0 * radius * np.sin(np.radians(np.abs(change)) / 2.0)
        step_east, step_north = to_vector(chord, heading_deg + change / 2.0)
        east, north = need_east - step_east, need_north - step_north
    near = np.hypot(need_east, need_north) < 2.0 * radius
    lost = np.where(near, 0.0, np.abs(change) * s * factor**2 / rate)
    return lost, np.where(near, need_east, east), np.where(near, need_north, north)
