"""estimate_wind: the canopy flight of a Track -> WindProfile and the canopy's trim speeds."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyser.errors import EstimateError
from analyser.track import Track
from analyser.wind.basis import hat_functions
from analyser.wind.fit import Fit, fit_wind
from analyser.wind.profile import WindProfile, WindStatus
from analyser.wind.samples import Samples, from_positions, from_velocities

__all__ = ["CanopyEstimate", "WindEstimate", "estimate_wind", "estimate_wind_arrays"]

Vector = NDArray[np.float64]

STEP_M = 50.0
MEASURED_SD = 1.5
OPENING_S = 5.0
FLARE_M = 4.0


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
    air_east: NDArray[np.float64] = field(default_factory=lambda: np.zeros(0))
    air_north: NDArray[np.float64] = field(default_factory=lambda: np.zeros(0))


def estimate_wind(
    track: Track, start: int, stop: int, *, airspeed_prior: tuple[float, float] | None = None
) -> WindEstimate:
    """Least squares over the canopy fixes ``start:stop`` of the track; ``airspeed_prior`` (mean, sd) [m/s at sea level] where the wing is known."""
    part = slice(start, stop)
    t, h = track.t_s[part], track.agl_m[part]
    use = np.isfinite(h) & (t >= (t[0] if t.size else 0.0) + OPENING_S) & (h > FLARE_M)
    top = float(np.nanmax(h)) if np.isfinite(h).any() else 0.0
    try:
        samples = from_positions(t[use], track.east_m[part][use], track.north_m[part][use], h[use])
        fit = fit_wind(
            samples,
            elevation_m=track.ground_elevation_m,
            airspeed_prior=airspeed_prior,
            reach_down_m=0.0,
        )
    except (EstimateError, np.linalg.LinAlgError) as problem:
        return _nothing(_heights(0.0, top), str(problem), t.size)
    profile = _profile(fit, samples, _heights(0.0, top))
    east, north = profile.vector(h)
    return WindEstimate(
        profile,
        _canopy(fit),
        samples.t_s,
        fit.residual,
        "",
        dict(fit.details),
        track.v_east[part] - east,
        track.v_north[part] - north,
    )


def estimate_wind_arrays(
    t_s: ArrayLike,
    east_m: ArrayLike,
    north_m: ArrayLike,
    agl_m: ArrayLike,
    *,
    elevation_m: float = 0.0,
    velocity: tuple[ArrayLike, ArrayLike] | None = None,
    airspeed_prior: tuple[float, float] | None = None,
) -> WindProfile:
    """Wind by height from the path of any flying thing whose airspeed holds roughly still.

    Times [s], positions [m] and heights [m] of shape (n,); ``velocity`` (east, north) [m/s] as the receiver measured it, where
    it did. Raises EstimateError for arrays of different shapes or that are not one-dimensional.
    """
    rows = [np.asarray(a, dtype=np.float64) for a in (t_s, east_m, north_m, agl_m, *(velocity or ()))]
    if any(r.shape != rows[0].shape or r.ndim != 1 for r in rows):
        raise EstimateError(f"arrays of one length are needed, got {[r.shape for r in rows]}")
    good = np.all([np.isfinite(r) for r in rows], axis=0)
    rows = [r[good] for r in rows]
    if rows[0].size > 1 and not bool(np.all(np.diff(rows[0]) > 0)):
        raise EstimateError("times must increase strictly")
    t, e, n, h = rows[:4]
    low, top = (float(h.min()), float(h.max())) if h.size else (0.0, 0.0)
    heights = _heights(STEP_M * np.floor(low / STEP_M), top)
    try:
        samples = from_velocities(t, h, rows[4], rows[5]) if velocity else from_positions(t, e, n, h)
        fit = fit_wind(samples, elevation_m=elevation_m, airspeed_prior=airspeed_prior)
    except (EstimateError, np.linalg.LinAlgError) as problem:
        return _nothing(heights, str(problem), 0).profile
    return _profile(fit, samples, heights)


def _heights(low: float, top: float) -> Vector:
    return np.arange(low, max(top, low + STEP_M) + 1e-6, STEP_M)


def _nothing(heights: Vector, reason: str, n: int) -> WindEstimate:
    k = heights.size
    status: tuple[WindStatus, ...] = ("undetermined",) * k
    profile = WindProfile(
        heights,
        np.zeros(k),
        np.zeros(k),
        np.eye(2 * k) * 100.0,
        status,
        (reason,) * k,
    )
    nan = np.full(n, np.nan)
    return WindEstimate(
        profile,
        CanopyEstimate(None, None, None, None),
        np.zeros(0),
        np.zeros(0),
        reason,
        {},
        nan,
        nan.copy(),
    )


def _profile(fit: Fit, samples: Samples, heights: Vector) -> WindProfile:
    hats = hat_functions(fit.knots, heights)
    k, m = heights.size, fit.knots.size
    spread = np.zeros((2 * k, 2 * m))
    spread[:k, :m] = hats
    spread[k:, m:] = hats
    covariance = spread @ fit.covariance @ spread.T
    east, north = hats @ fit.wind[0], hats @ fit.wind[1]
    status: list[WindStatus] = []
    reason: list[str] = []
    for i, h in enumerate(heights):
        pair = covariance[np.ix_([i, k + i], [i, k + i])]
        worst = float(np.sqrt(np.linalg.eigvalsh(pair)[-1]))
        other = 0.0
        if fit.mirror is not None and fit.mirror_gain < 9.0:
            d = hats[i] @ (fit.mirror - fit.wind).T
            other = float(np.hypot(*d))
        near = float(np.min(np.abs(samples.agl_m - h))) if len(samples) else np.inf
        if other > max(1.0, 2.0 * worst):
            status.append("undetermined")
            reason.append("a mirrored wind fits nearly as well")
        elif worst > MEASURED_SD:
            status.append("undetermined")
            reason.append(f"headings cover too little arc near this height (± {worst:.1f} m/s)")
        elif near > STEP_M:
            status.append("bridged")
            reason.append("no fixes near this height")
        else:
            status.append("measured")
            reason.append("")
    return WindProfile(heights, east, north, covariance, tuple(status), tuple(reason))


def _canopy(fit: Fit) -> CanopyEstimate:
    v, b = fit.canopy[:2]
    sink = float(np.percentile(fit.corrected_sink, 65.0))
    trim = v + b * (sink - fit.sink_reference)
    return CanopyEstimate(
        float(trim), float(np.sqrt(fit.canopy_covariance[0, 0])), sink, max(0.1, 0.05 * abs(sink))
    )
