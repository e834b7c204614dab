"""How much of the final leg the record of sink explains as brakes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.angles import along_across
from analyser.flight import Trim
from analyser.pattern import Pattern
from analyser.replay.thresholds import REPLAY
from analyser.score import Landing
from analyser.settings import Method
from analyser.track import Track
from analyser.wind.profile import WindProfile

__all__ = ["Brakes", "brakes_on_final"]

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Brakes:
    """The straight final above the flare: its sink over full-flight sink, the seconds that cost or gained, and metres along.

    ``along_m`` positive = longer than full flight would have been; ``share`` mean sink over trim sink (1 = full flight).
    """

    along_m: float
    along_sd_m: float
    share: float
    share_sd: float
    extra_s: float


def brakes_on_final(
    track: Track,
    flown: Pattern,
    landing: Landing,
    trim: Trim,
    wind: WindProfile,
    *,
    slope: tuple[float, float] | None = None,
    method: Method | None = None,
) -> Brakes | None:
    """The way along the landing direction that slower sinking than trim adds or takes, from the end of the last turn to the flare.

    Brakes slow sink and airspeed together: airspeed share = 1 + ``slope`` · (sink share − 1), the slope (mean, sd) from the fit of
    the canopy or a prior (1: the glide stays what it was, and only the longer drift in the wind counts; more in deep brakes, which
    the sink alone can not tell from shallow ones). None where the final is shorter than five seconds or has no heights.

    Parameters
    ----------
    track : Track
        Places [m], velocities [m/s] and heights above the landing area [m].
    flown : Pattern
        The pattern found in the track.
    landing : Landing
        The touchdown.
    trim : Trim
        Speeds of full flight at sea-level density [m/s].
    wind : WindProfile
        With its covariance.
    slope : tuple of float, optional
        Mean and standard deviation [1].
    method : Method, optional
        ``final_brake_slope`` and its error.

    Returns
    -------
    Brakes or None
        Metres along the landing direction [m], share of the sink of full flight, with standard deviations.
    """
    leg = flown.leg("final")
    if leg is None or landing.landing_deg is None:
        return None
    method = method or Method()
    floor = method.flare_height.value
    slope = slope or (method.final_brake_slope.value, method.final_brake_slope_sd.value)
    use = (track.t_s >= leg.start_s) & (track.t_s <= landing.t_s) & (track.agl_m >= floor)
    if int(np.count_nonzero(use)) < 3:
        return None
    t, agl = track.t_s[use], track.agl_m[use]
    if t[-1] - t[0] < REPLAY.shortest_final_s or not bool(np.all(np.isfinite(agl))):
        return None
    rows = (trim, wind, t, agl, landing.landing_deg)
    central, share, extra = _along(*rows, slope[0], 1.0)
    by_slope = _along(*rows, slope[0] + slope[1], 1.0)[0] - central
    by_sink = _along(*rows, slope[0], 1.0 + trim.sink_sd_mps / trim.sink_mps)[0] - central
    share_sd = share * trim.sink_sd_mps / trim.sink_mps
    return Brakes(central, math.hypot(by_slope, by_sink), share, share_sd, extra)


def _along(
    trim: Trim, wind: WindProfile, t: Vector, agl: Vector, landing_deg: float, slope: float, sink_scale: float
) -> tuple[float, float, float]:
    middle = 0.5 * (agl[1:] + agl[:-1])
    seconds, drop = np.diff(t), -np.diff(agl)
    factor = trim.factor(middle)
    full_sink = trim.sink_mps * sink_scale * factor
    east, north = wind.vector(middle)
    tail, cross = along_across(east, north, landing_deg)
    full_v = trim.airspeed_mps * factor
    forward = np.sqrt(np.maximum(full_v**2 - cross**2, 0.0))
    share = float(np.sum(drop) / np.sum(full_sink * seconds))
    v_share = 1.0 + slope * (share - 1.0)
    flown = float(np.sum((forward * v_share + tail) * seconds))
    in_full = float(np.sum((forward + tail) * drop / full_sink))
    extra = float(np.sum(seconds) - np.sum(drop / full_sink))
    return flown - in_full, share, extra
