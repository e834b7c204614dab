"""Means of a wind profile over layers, as the trade states them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyser.angles import wind_from_deg
from analyser.units import FOOT_M
from analyser.wind.profile import WindProfile

__all__ = ["DRIFT_S", "LAYER_TOP_M", "LayerMean", "layer_mean"]

LAYER_TOP_M = 2000 * FOOT_M
DRIFT_S = 100.0


@dataclass(frozen=True, slots=True)
class LayerMean:
    """Mean wind from the ground to ``top_m``: speed [m/s], direction it comes from [deg true], drift over 100 s [m], with sds.

    ``covered`` is the share of the layer whose wind is known; ``complete`` says whether the whole layer was measured or bridged.
    """

    top_m: float
    east_mps: float
    north_mps: float
    speed_mps: float
    speed_sd_mps: float
    from_deg: float
    drift_m: float
    drift_sd_m: float
    covered: float

    @property
    def complete(self) -> bool:
        """Whether the wind is known through the whole layer."""
        return self.covered >= 0.999


def layer_mean(profile: WindProfile, top_m: float = LAYER_TOP_M) -> LayerMean | None:
    """Mean from the ground to ``top_m`` (2,000 ft), the published form of a mean wind: F/NLF handbook, edition of 27 Oct 2011.

    The drift is that of a wind drift indicator sinking 20 ft/s, 100 s from 2,000 ft. Heights without a known wind are left
    out; None where less than half of the layer is known.

    Parameters
    ----------
    profile : WindProfile
        With its covariance.
    top_m : float
        Of the layer above the landing area [m].

    Returns
    -------
    LayerMean or None
        Wind [m/s] with errors, and the drift [m].
    """
    heights = np.linspace(0.0, top_m, 81)
    within = (heights >= profile.agl_m[0] - 1e-9) & (heights <= profile.agl_m[-1] + 1e-9)
    rows = np.array([profile.weights(h) for h in heights])
    unknown = np.array([s == "undetermined" for s in profile.status])
    known = within & ~(rows[:, unknown] > 1e-9).any(axis=1)
    if np.count_nonzero(known) < 0.5 * heights.size:
        return None
    weights = rows[known].mean(axis=0)
    east, north = float(weights @ profile.east), float(weights @ profile.north)
    speed = float(np.hypot(east, north))
    axis = np.array([east, north]) / speed if speed > 1e-9 else np.array([1.0, 0.0])
    stacked = np.concatenate([axis[0] * weights, axis[1] * weights])
    sd = float(np.sqrt(max(stacked @ profile.covariance @ stacked, 0.0)))
    covered = float(np.count_nonzero(known)) / heights.size
    return LayerMean(
        top_m,
        east,
        north,
        speed,
        sd,
        float(wind_from_deg(east, north)),
        speed * DRIFT_S,
        sd * DRIFT_S,
        covered,
    )
