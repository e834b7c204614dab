"""Circle through the tips of ground velocities: centre = wind, radius = airspeed (Gray 1998; Chernov & Lesort 2004).

The wind of one layer with one airspeed. The joint fit starts from it and is measured against it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyser.errors import EstimateError

__all__ = ["Circle", "algebraic_circle", "fit_circle"]

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Circle:
    """Centre (``east``, ``north``), ``radius``, their (3, 3) covariance for white radial noise, residual variance."""

    east: float
    north: float
    radius: float
    covariance: Vector
    variance: float


def algebraic_circle(east: ArrayLike, north: ArrayLike) -> tuple[float, float, float]:
    """Taubin's algebraic fit: centre and radius (Taubin 1991; the moments form of Chernov's "Circular and linear regression").

    Raises EstimateError for fewer than three points or points that all coincide.
    """
    x, y = np.asarray(east, float), np.asarray(north, float)
    if x.size < 3:
        raise EstimateError(f"a circle needs three velocities, got {x.size}")
    cx, cy = float(x.mean()), float(y.mean())
    u, v = x - cx, y - cy
    z = u * u + v * v
    size = float(z.mean())
    if not size > 1e-12:
        raise EstimateError("a circle needs velocities that differ")
    zn = (z - size) / (2.0 * np.sqrt(size))
    _, _, rows = np.linalg.svd(np.column_stack([zn, u, v]), full_matrices=False)
    a, b, c = rows[-1]
    a = a / (2.0 * np.sqrt(size))
    if abs(a) < 1e-12:
        a = 1e-12 if a >= 0 else -1e-12
    x0, y0 = -b / (2.0 * a), -c / (2.0 * a)
    return cx + x0, cy + y0, float(np.sqrt(x0 * x0 + y0 * y0 + size))


def fit_circle(
    east: ArrayLike, north: ArrayLike, *, phi: float = 0.0, start: tuple[float, float] | None = None
) -> Circle:
    """One circle through ground velocities: its centre is the wind, its radius the airspeed.

    Parameters
    ----------
    east, north : array_like, shape (n,)
        Ground velocities g [m/s] of one height and one airspeed.
    phi : float
        Correlation of the residuals of consecutive velocities (AR(1)).
    start : tuple of float, optional
        First guess of the wind w [m/s]; by default Taubin's algebraic fit.

    Returns
    -------
    Circle
        ``east``, ``north``, ``radius`` [m/s] with their (3, 3) ``covariance``.

    Raises
    ------
    EstimateError
        For fewer than three points.

    Notes
    -----
    Gauss–Newton with the radius eliminated: minimises the sum of (distance of g from w, less V)² over w (Gray 1998; Chernov & Lesort 2004; correlated
    residuals: Weinzierl et al. 2016).

    Examples
    --------
    >>> turned = np.radians(np.arange(0.0, 360.0, 6.0))
    >>> circle = fit_circle(3.0 + 10.0 * np.sin(turned), -2.0 + 10.0 * np.cos(turned))
    >>> round(circle.east, 6), round(circle.north, 6), round(circle.radius, 6)
    (3.0, -2.0, 10.0)
    """
    x, y = np.asarray(east, float), np.asarray(north, float)
    w = np.array(start if start is not None else algebraic_circle(x, y)[:2], float)
    if x.size < 3:
        raise EstimateError(f"a circle needs three velocities, got {x.size}")
    cost, step_scale = np.inf, 1.0
    best: Vector = w
    step: Vector = np.zeros(2)
    for _ in range(60):
        jac, res, radius = _linear(x, y, w, phi)
        value = float(res @ res)
        if value > cost:
            step_scale *= 0.5
            w = best + step_scale * step
            if step_scale < 1e-4:
                break
            continue
        done = np.isfinite(cost) and cost - value <= 1e-14 * max(value, 1e-30)
        cost, best, step_scale = value, w, 1.0
        step = np.asarray(np.linalg.lstsq(jac, -res, rcond=None)[0], dtype=np.float64)
        step *= min(1.0, 30.0 / max(float(np.hypot(*step)), 1e-30))
        if done or float(np.hypot(*step)) < 1e-10:
            break
        w = best + step
    jac, res, radius = _linear(x, y, best, phi)
    variance = float(res @ res) / max(x.size - 1, 1)
    u, v = (x - best[0]), (y - best[1])
    speed = np.maximum(np.hypot(u, v), 1e-9)
    full = np.column_stack([u / speed, v / speed, np.ones_like(u)])
    covariance = variance * np.linalg.pinv(full.T @ full)
    return Circle(float(best[0]), float(best[1]), radius, covariance, variance)


def _linear(x: Vector, y: Vector, w: Vector, phi: float) -> tuple[Vector, Vector, float]:
    """Jacobian (n, 2) and residual (n,) of the (AR-whitened) airspeeds about their weighted mean, and that mean."""
    u, v = x - w[0], y - w[1]
    speed = np.maximum(np.hypot(u, v), 1e-9)
    weight = np.full(x.size, 1.0 - phi)
    weight[0] = weight[-1] = 1.0
    weight /= weight.sum()
    d = np.column_stack([-u / speed, -v / speed])
    mean, dmean = float(weight @ speed), weight @ d
    r, jac = speed - mean, d - dmean
    if phi:
        jac = np.vstack([np.sqrt(1 - phi * phi) * jac[:1], jac[1:] - phi * jac[:-1]])
        r = np.concatenate([np.sqrt(1 - phi * phi) * r[:1], r[1:] - phi * r[:-1]])
    return jac, r, mean
