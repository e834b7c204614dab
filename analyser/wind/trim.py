"""The canopy's trim, full flight, from a fit: horizontal airspeed and sink at sea-level density."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.wind.basis import hat_functions
from analyser.wind.fit import Fit
from analyser.wind.priors import Priors
from analyser.wind.response import full_flight, rolling
from analyser.wind.samples import Samples
from analyser.wind.turning import G, turn_rate

__all__ = ["CanopyEstimate", "canopy_estimate"]

Vector = NDArray[np.float64]

# Ours: what is left over of the trim sink [1 sigma], with enough straight flight and without, and of the airspeed.
STRAIGHT_SHARE, HABIT_SHARE, AIRSPEED_SHARE = 0.045, 0.08, 0.03
# Ours: density of a day about the standard atmosphere's 4 % [1 sigma], so speeds differ by half of that.
DENSITY_SHARE = 0.02
# Ours: level wings, from 5 s after a turn (most of the dive that ends it is over) until 2 s before the next.
LEVEL_DEG, SETTLED_S, AHEAD_S = 8.0, 5.0, 2.0
FEWEST_STRAIGHT = 12
SMOOTH_S = 4.0


@dataclass(frozen=True, slots=True)
class CanopyEstimate:
    """Trim of the canopy at sea-level density, full flight, straight: horizontal airspeed and sink [m/s] with their sd; None where unknown.

    ``airspeed_wind`` (2k,) covariance of the airspeed with the wind of the profile (east…, north…) [m²/s²], as one fit finds both:
    what the one has too much of, the other lacks. Empty where unknown.
    """

    airspeed_mps: float | None
    airspeed_sd_mps: float | None
    sink_mps: float | None
    sink_sd_mps: float | None
    airspeed_wind: tuple[float, ...] = ()

    @property
    def glide(self) -> float | None:
        """Horizontal over vertical speed."""
        return None if not self.airspeed_mps or not self.sink_mps else self.airspeed_mps / self.sink_mps


def canopy_estimate(
    fit: Fit, samples: Samples, agl_m: Vector, priors: Priors | None = None
) -> CanopyEstimate:
    """Trim of a flight that sinks; nothing for one that does not (no brakes to tell from full flight).

    ``agl_m`` (k,) the heights of the profile. The sink is that of straight flight hands up, where there is enough of it: reduced to straight
    flight a turn, and the dive that ends it, still show too much. Half its difference from that of the whole flight counts as an error.
    """
    sink = fit.point.corrected_sink
    if float(np.median(sink)) <= 1.0:
        return CanopyEstimate(None, None, None, None)
    usual, count = full_flight(rolling(sink, 9), 70.0)
    trim_sink, share, apart = usual, HABIT_SHARE, 0.0
    straight = _straight(fit, samples)
    if int(np.count_nonzero(straight)) >= FEWEST_STRAIGHT:
        level, count = full_flight(_about(samples.t_s[straight], sink[straight]), 60.0)
        trim_sink, share, apart = level, STRAIGHT_SHARE, 0.5 * (usual - level)
    drift = (priors or Priors()).sink_drift / np.sqrt(max(count, 1))
    sink_sd = float(np.sqrt(drift**2 + (share**2 + DENSITY_SHARE**2) * trim_sink**2 + apart**2))
    v = float(fit.canopy[0])
    variance = float(fit.canopy_covariance[0, 0]) + (DENSITY_SHARE**2 + AIRSPEED_SHARE**2) * v**2
    hats, both, k = hat_functions(fit.knots, agl_m), fit.wind_canopy[:, 0], fit.knots.size
    shared = np.concatenate([hats @ both[:k], hats @ both[k:]])
    return CanopyEstimate(v, float(np.sqrt(variance)), trim_sink, sink_sd, tuple(shared.tolist()))


def _straight(fit: Fit, samples: Samples) -> NDArray[np.bool_]:
    """Which samples (n,) are of straight flight, the answer to the last turn over and no next one begun."""
    t, rate = samples.t_s, turn_rate(samples, fit.point.heading)
    turning = t[np.abs(rate) * fit.point.speed > G * np.tan(np.radians(LEVEL_DEG))]
    near = np.searchsorted(turning, t + AHEAD_S, side="right") - np.searchsorted(turning, t - SETTLED_S)
    braked = np.zeros(t.size, dtype=bool)
    for stay in fit.stays:
        braked |= (t > stay.start_s - AHEAD_S) & (t < stay.stop_s + SETTLED_S)
    return np.asarray((near == 0) & ~braked)


def _about(t: Vector, x: Vector) -> Vector:
    """``x`` (n,) at increasing times, averaged over four seconds to either side."""
    summed = np.concatenate([[0.0], np.cumsum(x)])
    low, high = np.searchsorted(t, t - SMOOTH_S), np.searchsorted(t, t + SMOOTH_S, side="right")
    return np.asarray((summed[high] - summed[low]) / (high - low))
