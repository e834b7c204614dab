"""The wind to fly the plan again in when the final was flown in brakes, or slower than full flight for another reason."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from analyser.flight import Air, Trim, wind_known
from analyser.pattern import Leg, Pattern
from analyser.replay.parts import blocks
from analyser.replay.sink import Brakes
from analyser.replay.thresholds import REPLAY
from analyser.score import Landing
from analyser.settings import Method
from analyser.track import Track
from analyser.wind.estimate import estimate_wind
from analyser.wind.priors import Priors
from analyser.wind.profile import WindProfile

__all__ = ["Lost", "WindAgain", "airspeed_lost", "brakes_probability", "in_brakes", "wind_again"]

NOTE = (
    "the final was flown in brakes, which slow the ground speed as more wind would: the plan is flown again in the wind of the flight "
    "above the final, carried down to the ground"
)
NOTE_SLOW = (
    "the final was slower over the ground than full flight in the wind above it. That may be brakes or more wind near the ground: one "
    "heading cannot tell them apart. The plan is flown again in the wind above, carried down to the ground"
)
NOTE_EITHER = (
    "the final was slower over the ground than full flight in the wind above it. That may be brakes or more wind near the ground: one "
    "heading cannot tell them apart. The plan is flown again in the mean of both winds, with an error that holds both"
)


class WindAgain(NamedTuple):
    """The wind to fly the plan again in, and why it is not that of the whole flight; empty where nothing was seen beyond its error."""

    profile: WindProfile
    note: str


class Lost(NamedTuple):
    """Share of the airspeed of full flight that a final lacks, with its standard deviation [1]."""

    share: float
    sd: float


def in_brakes(brakes: Brakes | None, method: Method) -> bool:
    """Whether the sink of the final lies below full flight's by more than the threshold and more than its error.

    Parameters
    ----------
    brakes : Brakes or None
        What the sink of the final says; None where it says nothing.
    method : Method
        Thresholds.

    Returns
    -------
    bool
    """
    if brakes is None:
        return False
    missing = 1.0 - brakes.share
    return missing > method.braked_sink.value and missing > method.certainty.value * brakes.share_sd


def airspeed_lost(track: Track, times_s: tuple[float, float], trim: Trim, wind: WindProfile) -> Lost:
    """What a straight stretch lacks of the airspeed of full flight, if the wind there is ``wind``, with the errors of wind and trim.

    Parameters
    ----------
    track : Track
        Places [m] and heights above the landing area [m].
    times_s : tuple of float
        Begin and end of the stretch [s].
    trim : Trim
        Speeds of full flight at sea-level density [m/s].
    wind : WindProfile
        With its covariance; one that does not rest on the stretch itself.

    Returns
    -------
    Lost
        Positive: slower than full flight.
    """
    edges = blocks(*times_s)
    east, north, agl = (np.interp(edges, track.t_s, v) for v in (track.east_m, track.north_m, track.agl_m))
    apart = replace(trim, airspeed_wind=())
    air = Air.drawn(apart, wind, np.random.default_rng(REPLAY.seed), REPLAY.draws, central=True)
    seconds, middle = np.diff(edges), np.broadcast_to(0.5 * (agl[1:] + agl[:-1]), (len(air), edges.size - 1))
    wind_east, wind_north = air.wind(middle)
    through = np.hypot(np.diff(east) / seconds - wind_east, np.diff(north) / seconds - wind_north)
    share = 1.0 - np.mean(through / (air.airspeed[:, None] * trim.factor(middle)), axis=1)
    return Lost(float(share[0]), float(np.std(share[1:])))


def brakes_probability(lost: Lost) -> float:
    """How likely the airspeed missing on a final is brakes and not more wind in full flight, by Bayes' rule.

    What brakes take from the airspeed is the prior of the wind fit; a final is flown in some as often as not.

    Parameters
    ----------
    lost : Lost
        Share of the airspeed that is missing; none where the final was faster than full flight.

    Returns
    -------
    float
        Between 0 and 1.
    """
    if lost.share <= 0.0:
        return 0.0
    often, (taken, spread) = REPLAY.braked_final, Priors().stay[:2]
    braked_sd, sd = math.hypot(spread, lost.sd), max(lost.sd, 1e-6)
    odds = math.log(often / (1.0 - often)) + math.log(sd / braked_sd)
    odds += 0.5 * (lost.share / sd) ** 2 - 0.5 * ((lost.share + taken) / braked_sd) ** 2
    return 1.0 / (1.0 + math.exp(-min(max(odds, -700.0), 700.0)))


def wind_again(
    track: Track,
    start: int,
    flown: Pattern,
    landing: Landing,
    trim: Trim,
    brakes: Brakes | None,
    *,
    whole: WindProfile,
    airspeed_prior: tuple[float, float] | None = None,
    method: Method | None = None,
) -> WindAgain | None:
    """The wind from the canopy fixes between ``start`` and the turn onto final, where the final was slower than full flight in it.

    Where that may be brakes or more wind near the ground, it is mixed with the wind of the whole flight, each by its chance. On one heading, slowed all the way, brakes and wind can not be told apart; what is seen there must not be put down to the wind, nor
    what is seen in the turn before it, in which the brakes may have been taken. Below the final's beginning the profile follows the
    fit's law of the wind near the ground, with its error. The sink need not show brakes: many wings sink alike in them.

    Parameters
    ----------
    track : Track
        Places [m], velocities [m/s] and heights above the landing area [m].
    start : int
        First canopy fix.
    flown : Pattern
        The pattern found in the track.
    landing : Landing
        The touchdown.
    trim : Trim
        Speeds of full flight at sea-level density [m/s].
    brakes : Brakes or None
        Those of the final, as the sink shows them.
    whole : WindProfile
        The wind of the whole flight, the final in full flight.
    airspeed_prior : tuple of float, optional
        Mean and standard deviation [m/s at sea level].
    method : Method, optional
        Thresholds.

    Returns
    -------
    WindAgain or None
        None where the final was as fast as full flight, without a straight final, or where too little wind is left.
    """
    leg, method = flown.leg("final"), method or Method()
    stop_s = None if leg is None else _down_to_flare(track, leg, landing, method)
    if leg is None or stop_s is None:
        return None
    begun = flown.gate("final")
    turned_s = leg.start_s if begun is None or begun.t_s is None else begun.t_s
    stop = int((track.t_s <= turned_s).sum())
    profile = estimate_wind(track, start, stop, airspeed_prior=airspeed_prior).profile
    top = max((gate.agl_m for gate in flown.gates), default=0.0)
    if not wind_known(profile, top):
        return None
    lost = airspeed_lost(track, (leg.start_s, stop_s), trim, profile)
    if lost.share > 0.0 and in_brakes(brakes, method):
        return WindAgain(profile, NOTE)
    share = brakes_probability(lost)
    if share < REPLAY.unlikely:
        return None
    if share > 1.0 - REPLAY.unlikely:
        return WindAgain(profile, NOTE_SLOW)
    seen = lost.share > method.certainty.value * lost.sd
    return WindAgain(whole.mixed(profile, share), NOTE_EITHER if seen else "")


def _down_to_flare(track: Track, leg: Leg, landing: Landing, method: Method) -> float | None:
    """The end of the straight final [s], or None where it is too short or has no heights."""
    use = (track.t_s >= leg.start_s) & (track.t_s <= landing.t_s) & (track.agl_m >= method.flare_height.value)
    t = track.t_s[use]
    whole = t.size > 2 and bool(np.all(np.isfinite(track.agl_m[use])))
    return float(t[-1]) if whole and t[-1] - leg.start_s >= REPLAY.shortest_final_s else None
