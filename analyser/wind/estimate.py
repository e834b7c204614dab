"""estimate_wind: the canopy flight of a Track -> WindProfile and the canopy's trim speeds."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyser.errors import EstimateError
from analyser.phases.settled import Settled, find_settled
from analyser.track import Track
from analyser.wind.fit import Fit, fit_wind
from analyser.wind.held_out import HeldOut
from analyser.wind.priors import Priors
from analyser.wind.profile import WindProfile
from analyser.wind.samples import Samples, from_positions, from_velocities
from analyser.wind.status import undetermined_profile, wind_profile
from analyser.wind.stay import Stay
from analyser.wind.trim import CanopyEstimate, canopy_estimate

__all__ = ["CanopyEstimate", "WindEstimate", "estimate_wind", "estimate_wind_arrays"]

Vector = NDArray[np.float64]

STEP_M = 50.0
LOWEST_M = (10.0, 25.0)
# Ours: the flare is no flight the model knows.
FLARE_M = 4.0
LONGEST_S = 2700.0  # ours: a canopy opened at 9 km is down in less, and an older wind is no help
MOST_HEIGHTS = 400


def _none() -> Vector:
    return np.zeros(0)


@dataclass(frozen=True, slots=True, eq=False)
class WindEstimate:
    """The recovered profile (every 50 m from 0 up to the opening), the canopy's trim, and what the fit left over.

    ``t_s`` (m,) times used, ``residual_mps`` (m,) airspeed residuals, ``air_east``/``air_north`` (n,) air velocity of every
    canopy fix [m/s], NaN where there is no wind to take out. ``details``: gustiness, wander and shear scale as the evidence
    weighs them, and the canopy's parameters V, b, s, d, q, p. ``settled``: from when on the flight counted; ``check``: every ten
    seconds predicted from the rest; ``stays``: stretches found in brakes.
    """

    profile: WindProfile
    canopy: CanopyEstimate
    t_s: NDArray[np.float64]
    residual_mps: NDArray[np.float64]
    reason: str = ""
    details: dict[str, float] = field(default_factory=dict)
    air_east: NDArray[np.float64] = field(default_factory=_none)
    air_north: NDArray[np.float64] = field(default_factory=_none)
    settled: Settled | None = None
    check: HeldOut | None = None
    stays: tuple[Stay, ...] = ()

    def __repr__(self) -> str:
        """One line."""
        return f"<WindEstimate: {self.profile!r}, airspeed {self.canopy.airspeed_mps} m/s>"[:200]


def estimate_wind(
    track: Track,
    start: int,
    stop: int,
    *,
    airspeed_prior: tuple[float, float] | None = None,
    priors: Priors | None = None,
    settled: Settled | None = None,
    elevation_m: float | None = None,
) -> WindEstimate:
    """Least squares over the canopy fixes ``start:stop`` of the track; ``airspeed_prior`` (mean, sd) [m/s at sea level] where the wing is known.

    ``priors`` other numbers than the usual ones, to see what each is worth; ``settled`` from when on the flight counts, where found already.
    Of a flight longer than ``LONGEST_S`` its last part counts.
    Never raises for a short or odd flight: the profile then is undetermined throughout, and ``reason`` says why.

    Parameters
    ----------
    track : Track
        Places [m], velocities [m/s] and heights above the landing area [m].
    start, stop : int
        Range of its canopy fixes.
    airspeed_prior : tuple of float, optional
        Mean and standard deviation [m/s at sea level].
    priors : Priors, optional
        Other numbers than the usual ones.
    settled : Settled, optional
        From when on the flight counts, where that is known.
    elevation_m : float, optional
        The height in the standard atmosphere [m above sea level] whose air the landing area had; the track's ground where left out.

    Returns
    -------
    WindEstimate
        The profile with its covariance, the wing's speeds, and a reason where nothing is known.
    """
    part = slice(start, stop)
    t, h = track.t_s[part], track.agl_m[part]
    known = np.isfinite(h)
    heights = _with_lowest(_heights(0.0, float(np.max(h[known])) if known.any() else 0.0))
    if track.quality.heights_doubted:
        return _nothing(heights, "the altitudes may be feet, not metres: no wind has a height", t.size)
    if not known.any():
        return _nothing(heights, "the recording holds no heights under canopy", t.size)
    settled = settled or find_settled(track, start, stop)
    use = known & settled.counts & (t >= t[-1] - LONGEST_S) & (h > FLARE_M)
    try:
        samples = from_positions(t[use], track.east_m[part][use], track.north_m[part][use], h[use])
        elevation = track.ground_elevation_m if elevation_m is None else elevation_m
        elevation = elevation if np.isfinite(elevation) else 0.0
        fit = fit_wind(
            samples, elevation_m=elevation, airspeed_prior=airspeed_prior, low_m=0.0, priors=priors
        )
    except (EstimateError, np.linalg.LinAlgError) as problem:
        return replace(_nothing(heights, str(problem), t.size), settled=settled)
    return replace(
        _estimate(track, part, fit, samples, heights), settled=settled, check=fit.check, stays=fit.stays
    )


def _estimate(track: Track, part: slice, fit: Fit, samples: Samples, heights: Vector) -> WindEstimate:
    profile = wind_profile(fit, samples, heights)
    east, north = profile.vector(track.agl_m[part])
    details = {"gustiness": fit.gustiness, "wander": fit.wander, "shear": fit.wiggle}
    details.update(zip("Vbsdqp", map(float, fit.canopy)))
    return WindEstimate(
        profile,
        canopy_estimate(fit, samples, heights),
        samples.t_s,
        fit.point.residual,
        "",
        details,
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
    """Wind by height, every 50 m around the heights flown, from the path of any flying thing whose airspeed holds roughly still.

    Times [s, increasing], positions [m] and heights [m] of shape (n,); ``elevation_m`` of the ground above sea level;
    ``velocity`` (east, north) [m/s] as the receiver measured it, where it did; ``airspeed_prior`` (mean, sd) [m/s at
    sea level], by default the typical ground speed give or take half. Values that are not finite are left out; too few
    leave the profile undetermined. Raises EstimateError for arrays of different shapes, or times that do not increase.
    """
    rows = [np.asarray(a, dtype=np.float64) for a in (t_s, east_m, north_m, agl_m, *(velocity or ()))]
    if any(r.shape != rows[0].shape or r.ndim != 1 for r in rows):
        raise EstimateError(f"arrays of one length are needed, got shapes {[r.shape for r in rows]}")
    good = np.all([np.isfinite(r) for r in rows], axis=0)
    rows = [r[good] for r in rows]
    t, e, n, h = rows[:4]
    if t.size > 1 and not bool(np.all(np.diff(t) > 0)):
        raise EstimateError("times must increase strictly")
    heights = _heights(float(h.min()), float(h.max()) + STEP_M - 1e-6) if h.size else _heights(0.0, 0.0)
    try:
        samples = from_velocities(t, h, rows[4], rows[5]) if velocity else from_positions(t, e, n, h)
        fit = fit_wind(samples, elevation_m=elevation_m, airspeed_prior=airspeed_prior or _broad(samples))
    except (EstimateError, np.linalg.LinAlgError) as problem:
        return undetermined_profile(heights, str(problem))
    return wind_profile(fit, samples, heights)


def _broad(samples: Samples) -> tuple[float, float]:
    speed = float(np.median(np.hypot(samples.v_east, samples.v_north))) if len(samples) else 10.0
    return max(speed, 2.0), 0.5 * speed + 2.0


def _heights(low: float, top: float) -> Vector:
    """Every 50 m from the one at or below ``low`` up to ``top``; at least one, and no more than a flight can have."""
    first = STEP_M * np.floor(low / STEP_M)
    count = int(min((top - first) / STEP_M + 1e-9, MOST_HEIGHTS - 1)) + 1
    return np.asarray(first + STEP_M * np.arange(count))


def _with_lowest(heights: Vector) -> Vector:
    """Also 10 and 25 m, where the wind changes most with height."""
    return np.asarray(np.union1d(heights, [h for h in LOWEST_M if h < heights[-1]]))


def _nothing(heights: Vector, reason: str, n: int) -> WindEstimate:
    nan = np.full(n, np.nan)
    profile = undetermined_profile(heights, reason)
    unknown = CanopyEstimate(None, None, None, None)
    return WindEstimate(profile, unknown, _none(), _none(), reason, {}, nan, nan.copy())
