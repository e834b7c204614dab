"""estimate_wind: the canopy flight of a Track -> WindProfile and the canopy's trim speeds."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from analyser.track import Track
from analyser.wind.profile import WindProfile

__all__ = ["CanopyEstimate", "WindEstimate", "estimate_wind"]


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


@dataclass(frozen=True, slots=True, eq=False)
class WindEstimate:
    """The recovered profile (every 50 m from 0 up to the opening), the canopy's trim, and what the fit left over.

    ``t_s`` (m,) times used, ``residual_mps`` (m,) airspeed residuals, ``air_east``/``air_north`` (n,) air velocity of every
    canopy fix [m/s], NaN where there is no wind to take out.
    """

    profile: WindProfile
    canopy: CanopyEstimate
    t_s: NDArray[np.float64]
    residual_mps: NDArray[np.float64]
    reason: str = ""
    details: dict[str, float] = field(default_factory=dict)


def estimate_wind(
    track: Track, start: int, stop: int, *, airspeed_prior: tuple[float, float] | None = None
) -> WindEstimate:
    """Least squares over the canopy fixes ``start:stop`` of the track; ``airspeed_prior`` (mean, sd) [m/s at sea level] where the wing is known."""
    raise NotImplementedError
