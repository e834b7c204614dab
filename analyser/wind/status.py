"""From a fit to a profile: which heights are measured, bridged or undetermined, and why."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.wind.basis import hat_functions
from analyser.wind.fit import Fit
from analyser.wind.profile import WindProfile, WindStatus
from analyser.wind.samples import Samples
from analyser.wind.straight import spread_of

__all__ = ["MEASURED_SD_MPS", "undetermined_profile", "wind_profile"]

Vector = NDArray[np.float64]

# A height is measured when its worst axis is known to 1.5 m/s, …
MEASURED_SD_MPS = 1.5
# … the headings within 120 m of it spread over more than about 53° (ours; arc A: 0.5 − sin A/2A), …
REACH_M = 120.0
SPREAD = 0.07
# … there are fixes within 50 m, …
NEAR_M = 50.0
BRIDGE_M = 500.0
# … and no other solution nearly as good (9 = 3 standard deviations) lies further away than its error.
MIRROR_GAIN = 9.0
MIRROR_MPS = 1.0
UNKNOWN_SD_MPS = 10.0


def wind_profile(fit: Fit, samples: Samples, agl_m: Vector) -> WindProfile:
    """The fitted wind at heights (k,) with its joint covariance, status and reasons."""
    hats = hat_functions(fit.knots, agl_m)
    k, m = agl_m.size, fit.knots.size
    spread = np.zeros((2 * k, 2 * m))
    spread[:k, :m] = spread[k:, m:] = hats
    covariance = spread @ fit.covariance @ spread.T
    judged = []
    for i, h in enumerate(agl_m):
        pair = covariance[np.ix_([i, k + i], [i, k + i])]
        sd = float(np.sqrt(max(np.linalg.eigvalsh(pair)[-1], 0.0)))
        judged.append(_judge(fit, samples, hats[i], float(h), sd))
    judged = _anchored(agl_m, judged)
    east, north = hats @ fit.wind[0], hats @ fit.wind[1]
    return WindProfile(
        agl_m, east, north, covariance, tuple(s for s, _ in judged), tuple(r for _, r in judged)
    )


def _anchored(agl_m: Vector, judged: list[tuple[WindStatus, str]]) -> list[tuple[WindStatus, str]]:
    """Bridged heights further than 500 m from every measured one are undetermined: there the intervals held 57 to 85 % instead of 95 %."""
    measured = np.array([h for h, (status, _) in zip(agl_m, judged) if status == "measured"])
    found = []
    for h, (status, reason) in zip(agl_m, judged):
        if status == "bridged" and not np.any(np.abs(measured - h) <= BRIDGE_M):
            status, reason = "undetermined", f"{reason}; no measured height within {BRIDGE_M:.0f} m"
        found.append((status, reason))
    return found


def _judge(fit: Fit, samples: Samples, hats: Vector, agl_m: float, sd: float) -> tuple[WindStatus, str]:
    away = np.abs(samples.agl_m - agl_m)
    reach = away <= REACH_M
    arc = spread_of(fit.point.heading[:, reach]) if reach.any() else 0.0
    if fit.mirror is not None and fit.mirror_gain < MIRROR_GAIN:
        other = float(np.hypot(*((fit.mirror - fit.wind) @ hats)))
        if other > max(MIRROR_MPS, 2.0 * sd):
            return (
                "undetermined",
                f"a second wind, {other:.1f} m/s away, fits nearly as well: too few headings",
            )
    if sd > MEASURED_SD_MPS:
        cause = f"straight flight only within {REACH_M:.0f} m" if arc < SPREAD else "too little flight nearby"
        return "undetermined", f"known to {sd:.1f} m/s only: {cause}"
    if not away.min() <= NEAR_M:
        return "bridged", f"no fixes within {NEAR_M:.0f} m of this height"
    if arc < SPREAD:
        return (
            "bridged",
            f"straight flight only within {REACH_M:.0f} m: the wind across it is that of other heights",
        )
    return "measured", ""


def undetermined_profile(agl_m: Vector, reason: str) -> WindProfile:
    """A profile of which nothing is known, at heights (k,), with one reason for all."""
    k = agl_m.size
    status: tuple[WindStatus, ...] = tuple("undetermined" for _ in range(k))
    covariance = np.eye(2 * k) * UNKNOWN_SD_MPS**2
    return WindProfile(agl_m, np.zeros(k), np.zeros(k), covariance, status, (reason,) * k)
