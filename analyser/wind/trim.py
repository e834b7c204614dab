"""The canopy's trim, full flight, from a fit: horizontal airspeed and sink at sea-level density."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.wind.fit import Fit
from analyser.wind.priors import Priors
from analyser.wind.response import full_flight

__all__ = ["CanopyEstimate", "canopy_estimate"]

Vector = NDArray[np.float64]

# Ours: what is left over of the trim sink [1 sigma].
HABIT_SHARE = 0.015


@dataclass(frozen=True, slots=True)
class CanopyEstimate:
    """Trim of the canopy at sea-level density, full flight, straight: horizontal airspeed and sink [m/s] with their sd; None where unknown."""

    airspeed_mps: float | None
    airspeed_sd_mps: float | None
    sink_mps: float | None
    sink_sd_mps: float | None

    @property
    def glide(self) -> float | None:
        """Horizontal over vertical speed."""
        return None if not self.airspeed_mps or not self.sink_mps else self.airspeed_mps / self.sink_mps


def canopy_estimate(fit: Fit, priors: Priors | None = None) -> CanopyEstimate:
    """Trim of a flight that sinks; nothing for one that does not (no brakes to tell from full flight)."""
    sink = fit.point.corrected_sink
    if float(np.median(sink)) <= 1.0:
        return CanopyEstimate(None, None, None, None)
    smooth = _smooth(sink)
    trim_sink, count = full_flight(smooth, 70.0)
    drift = (priors or Priors()).sink_drift
    sink_sd = float(np.hypot(drift / np.sqrt(max(count, 1)), HABIT_SHARE * trim_sink))
    v, b = float(fit.canopy[0]), float(fit.canopy[1])
    step = trim_sink - fit.point.reference
    along = np.array([1.0, step])
    variance = along @ fit.canopy_covariance[:2, :2] @ along + (b * sink_sd) ** 2
    return CanopyEstimate(v + b * step, float(np.sqrt(variance)), trim_sink, sink_sd)


def _smooth(x: Vector, width: int = 9) -> Vector:
    ones = np.convolve(np.ones_like(x), np.ones(width), mode="same")[: x.size]
    return np.asarray(np.convolve(x, np.ones(width), mode="same")[: x.size] / ones)
