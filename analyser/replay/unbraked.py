"""The wind to fly the plan again in when the final was flown in brakes."""

from __future__ import annotations

from analyser.flight import wind_known
from analyser.pattern import Pattern
from analyser.replay.sink import Brakes
from analyser.settings import Method
from analyser.track import Track
from analyser.wind.estimate import estimate_wind
from analyser.wind.profile import WindProfile

__all__ = ["NOTE", "in_brakes", "wind_above_brakes"]

NOTE = (
    "the final was flown in brakes, which slow the ground speed as more wind would: the plan is flown again in the wind of the flight "
    "above the final, carried down to the ground"
)


def in_brakes(brakes: Brakes | None, method: Method) -> bool:
    """Whether the sink of the final lies below full flight's by more than the threshold and more than its error."""
    if brakes is None:
        return False
    missing = 1.0 - brakes.share
    return missing > method.braked_sink.value and missing > method.certainty.value * brakes.share_sd


def wind_above_brakes(
    track: Track,
    start: int,
    flown: Pattern,
    brakes: Brakes | None,
    *,
    airspeed_prior: tuple[float, float] | None = None,
    method: Method | None = None,
) -> WindProfile | None:
    """The wind from the canopy fixes between ``start`` and the turn onto final, where the final was flown in brakes.

    On one heading, slowed all the way, brakes and wind can not be told apart; what is seen there must not be put down to the wind, nor
    what is seen in the turn before it, in which the brakes may have been taken.
    Below the final's beginning the profile follows the fit's law of the wind near the ground, with its error. None without
    brakes on final, without a final, or where too little wind is left.

    Parameters
    ----------
    track : Track
        Places [m], velocities [m/s] and heights above the landing area [m].
    start : int
        First canopy fix.
    flown : Pattern
        The pattern found in the track.
    brakes : Brakes or None
        Those of the final.
    airspeed_prior : tuple of float, optional
        Mean and standard deviation [m/s at sea level].
    method : Method, optional
        Thresholds.

    Returns
    -------
    WindProfile or None
    """
    leg = flown.leg("final")
    if leg is None or not in_brakes(brakes, method or Method()):
        return None
    begun = flown.gate("final")
    turned_s = leg.start_s if begun is None or begun.t_s is None else begun.t_s
    stop = int((track.t_s <= turned_s).sum())
    profile = estimate_wind(track, start, stop, airspeed_prior=airspeed_prior).profile
    top = max((gate.agl_m for gate in flown.gates), default=0.0)
    return profile if wind_known(profile, top) else None
