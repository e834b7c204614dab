"""estimate_wind: the wind from the path of any flying thing, from arrays."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from analyser.errors import EstimateError
from analyser.threads import one_thread
from analyser.wind.estimate import estimate_wind_arrays
from analyser.wind.profile import WindProfile

__all__ = ["estimate_wind"]


@one_thread
def estimate_wind(
    t_s: ArrayLike,
    east_m: ArrayLike,
    north_m: ArrayLike,
    agl_m: ArrayLike,
    *,
    elevation_m: float = 0.0,
    velocity: ArrayLike | tuple[ArrayLike, ArrayLike] | None = None,
    airspeed_prior: tuple[float, float] | None = None,
) -> WindProfile:
    """Wind by height from the path of anything that flies with a roughly constant airspeed.

    Parameters
    ----------
    t_s : array_like, shape (n,)
        Times [s], strictly increasing.
    east_m, north_m : array_like, shape (n,)
        Positions [m] from any origin.
    agl_m : array_like, shape (n,)
        Heights [m] above the ground or any other level.
    elevation_m : float
        Height of that level above the sea [m], for the density of the air.
    velocity : array_like of shape (n, 2), or a pair of shape (n,), optional
        Ground velocity (east, north) [m/s] where a receiver measured it; without it the positions tell it.
    airspeed_prior : tuple of float, optional
        Mean and standard deviation of the airspeed [m/s at sea-level density]; by default the typical ground speed,
        give or take half of it.

    Returns
    -------
    WindProfile
        A height every 50 m around those flown, with the joint covariance of all of them. What can not be told apart is
        ``"undetermined"``, with the reason. Values that are not finite are left out.

    Raises
    ------
    EstimateError
        For arrays of different shapes, or times that do not increase.

    Notes
    -----
    Ground velocities of a constant airspeed lie on a circle about the wind (Gray 1998; Weinzierl et al. 2016). Here all
    heights are fitted at once, with gusts, wandering airspeed and turns; docs/method.md has the whole of it.

    Examples
    --------
    >>> import numpy as np
    >>> t = np.arange(240.0)  # circles for four minutes at 10 m/s, in a wind that goes 3 m/s east and 2 m/s south
    >>> heading = np.radians(6.0 * t)
    >>> velocity = np.column_stack([10.0 * np.sin(heading) + 3.0, 10.0 * np.cos(heading) - 2.0])
    >>> east, north = np.cumsum(velocity, axis=0).T
    >>> found = estimate_wind(t, east, north, 800.0 - 2.7 * t, velocity=velocity).at(400.0)
    >>> abs(found.east - 3.0) < 0.3, abs(found.north + 2.0) < 0.3, found.status
    (True, True, 'measured')
    """
    return estimate_wind_arrays(
        t_s,
        east_m,
        north_m,
        agl_m,
        elevation_m=elevation_m,
        velocity=None if velocity is None else _pair(velocity),
        airspeed_prior=airspeed_prior,
    )


def _pair(velocity: ArrayLike | tuple[ArrayLike, ArrayLike]) -> tuple[ArrayLike, ArrayLike]:
    """(east, north), from a pair or from the columns of (n, 2)."""
    if isinstance(velocity, (tuple, list)) and len(velocity) == 2:
        return velocity[0], velocity[1]
    columns = np.asarray(velocity, dtype=np.float64)
    if columns.ndim != 2 or columns.shape[1] != 2:
        raise EstimateError(f"velocity must be (n, 2) or a pair of (n,), got shape {columns.shape}")
    return columns[:, 0], columns[:, 1]
