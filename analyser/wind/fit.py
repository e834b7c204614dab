"""The least squares: one continuous wind and one canopy for the whole flight, arrays in, estimate and covariance out.

|g_i − w(h_i)| = c_i ρ_i (V + b x_i + V s (L_i − 1)) + e_i

g ground velocity, w wind, ρ = 1/√(density ratio), V trim airspeed at sea-level density, x the sink above its reference
(brakes), L the load factor's √n after the canopy's response, c the shortening of a turn's chord, e the three errors
of :mod:`analyser.wind.covariance`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from analyser.atmosphere import true_airspeed_factor
from analyser.errors import EstimateError
from analyser.wind.basis import hat_functions, knot_heights, prior_covariance
from analyser.wind.circle import fit_circle
from analyser.wind.covariance import Noise, blocks, covariance, whiten
from analyser.wind.samples import Samples

__all__ = ["Fit", "fit_wind"]

Vector = NDArray[np.float64]

G = 9.80665
RESPONSE_S, DAMPING = 4.5, 0.6
HUBER = 2.5


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Knots [m], wind there ``wind`` (2, k), ``covariance`` (2k, 2k) of (east…, north…), canopy parameters and leftovers.

    ``canopy`` (V, b, s, d) at sea-level density with ``canopy_covariance``; ``sink_reference`` [m/s at sea level] where
    x = 0; ``residual`` (n,) [m/s]; ``heading`` (2, n) unit air heading; ``corrected_sink`` (n,) at sea level and load 1;
    ``objective`` −2 log posterior up to a constant.
    """

    knots: Vector
    wind: Vector
    covariance: Vector
    canopy: Vector
    canopy_covariance: Vector
    sink_reference: float
    residual: Vector
    heading: Vector
    corrected_sink: Vector
    objective: float
    noise: Noise
    mirror: Vector | None = None
    mirror_gain: float = np.inf
    details: dict[str, float] = field(default_factory=dict)


@dataclass(slots=True)
class _Model:
    """What stays the same over the iterations."""

    samples: Samples
    rho: Vector
    hats: Vector
    knots: Vector
    known: Vector | None
    prior_mean: Vector
    prior_sd: Vector


def fit_wind(
    samples: Samples,
    *,
    elevation_m: float = 0.0,
    airspeed_prior: tuple[float, float] | None = None,
    airspeed: Vector | None = None,
    reach_down_m: float | None = None,
) -> Fit:
    """Fit the wind profile.

    ``airspeed_prior`` (mean, sd) at sea-level density; ``airspeed`` (n,) the true airspeed of every sample where an
    instrument measured it (the canopy's parameters are then not fitted).
    Raises EstimateError for fewer than eight samples or values that are not finite.
    """
    if len(samples) < 8:
        raise EstimateError(f"a wind needs eight seconds of flight, got {len(samples)} samples")
    model = _model(samples, elevation_m, airspeed_prior, airspeed, reach_down_m)
    start = _start(model)
    fits = [_descend(model, start, Noise())]
    best = _average(model, fits[0])
    other = _descend(model, _mirrored(model, best), best.noise)
    if other.objective < best.objective - 1e-6 and _apart(best, other) > 0.3:
        best, other = _average(model, other), fits[0]
    gain = other.objective - _descend(model, _theta(best), best.noise).objective
    return replace(best, mirror=other.wind, mirror_gain=gain) if _apart(best, other) > 0.3 else best


def _model(
    samples: Samples,
    elevation_m: float,
    prior: tuple[float, float] | None,
    airspeed: Vector | None,
    reach_down_m: float | None,
) -> _Model:
    h = samples.agl_m
    for name in ("t_s", "agl_m", "v_east", "v_north"):
        if not np.isfinite(getattr(samples, name)).all():
            raise EstimateError(f"{name} holds values that are not finite")
    low = float(h.min()) if reach_down_m is None else min(float(h.min()), reach_down_m)
    knots = knot_heights(low, float(h.max()))
    mean, sd = prior if prior is not None else (11.0, 5.0)
    brakes = float(np.median(samples.sink_mps)) > 1.0
    return _Model(
        samples,
        true_airspeed_factor(elevation_m + h),
        hat_functions(knots, h),
        knots,
        airspeed,
        np.array([mean, 2.3 if brakes else 0.0, 1.0, 0.0]),
        np.array([sd, 1.2 if brakes else 1e-6, 0.5, 0.5]),
    )


def _start(model: _Model) -> Vector:
    s = model.samples
    try:
        circle = fit_circle(s.v_east, s.v_north)
        wind, radius = (circle.east, circle.north), circle.radius
    except EstimateError:
        wind, radius = (0.0, 0.0), model.prior_mean[0]
    if not 4.0 < radius < 60.0 or np.hypot(*wind) > 40.0:
        wind = (0.0, 0.0)
        radius = model.prior_mean[0]
    k = model.knots.size
    canopy = model.prior_mean.copy()
    canopy[0] = radius / float(np.mean(model.rho))
    return np.concatenate([np.full(k, wind[0]), np.full(k, wind[1]), canopy])


def _theta(fit: Fit) -> Vector:
    return np.concatenate([fit.wind.ravel(), fit.canopy])


@dataclass(slots=True)
class _Point:
    """Linearisation at one parameter vector."""

    residual: Vector
    jacobian: Vector
    heading: Vector
    corrected_sink: Vector
    reference: float


def _linearise(model: _Model, theta: Vector) -> _Point:
    s, k = model.samples, model.knots.size
    a_e = s.v_east - model.hats @ theta[:k]
    a_n = s.v_north - model.hats @ theta[k : 2 * k]
    speed = np.maximum(np.hypot(a_e, a_n), 0.5)
    u = np.stack([a_e / speed, a_n / speed])
    rate = _turn_rate(s, a_e, a_n)
    load = np.sqrt(1.0 + (speed * rate / G) ** 2)
    corrected = s.sink_mps / model.rho / load**1.5
    reference = float(np.median(corrected))
    x = _respond(s.t_s, np.clip(corrected - reference, -3.0, 3.0))
    swing = np.clip(np.sqrt(load) - 1.0, 0.0, 0.5)
    lifted = _respond(s.t_s, swing)
    chord = np.sinc(rate * s.dt_s / (2 * np.pi)) * np.sinc(rate * s.blur_s / (2 * np.pi))
    chord = np.maximum(chord, 0.5)
    v = theta[2 * k]
    columns = np.column_stack([np.ones_like(x), x, v * lifted, v * (swing - lifted)])
    columns *= (chord * model.rho)[:, None]
    if model.known is None:
        residual = speed - columns @ theta[2 * k :]
    else:
        residual = speed - chord * model.known
        columns = np.zeros_like(columns)
    d = np.hstack([-u[0][:, None] * model.hats, -u[1][:, None] * model.hats, -columns])
    return _Point(residual, d, u, corrected, reference)


def _turn_rate(s: Samples, a_e: Vector, a_n: Vector) -> Vector:
    """Turn rate of the air heading [rad/s], slope over five samples."""
    psi = np.unwrap(np.arctan2(a_e, a_n))
    n = psi.size
    i = np.arange(n)
    j = np.clip(i[:, None] + np.arange(-2, 3), 0, n - 1)
    t, y = s.t_s[j], psi[j]
    near = np.abs(t - s.t_s[:, None]) < 4.0
    w = near / near.sum(1, keepdims=True)
    tm, ym = (w * t).sum(1), (w * y).sum(1)
    dt = t - tm[:, None]
    rate = (w * dt * (y - ym[:, None])).sum(1) / np.maximum((w * dt * dt).sum(1), 1e-6)
    return np.asarray(np.clip(rate, -2.0, 2.0))


def _respond(t: Vector, x: Vector) -> Vector:
    """What the airspeed makes of a change of trim: second-order response, period 4.5 s, damping 0.6."""
    step = 0.5
    grid = np.arange(t[0] - 12.0, t[-1] + step, step)
    w0 = 2 * np.pi / RESPONSE_S
    wd = w0 * np.sqrt(1 - DAMPING**2)
    lag = np.arange(0.0, 12.0, step) + step / 2
    kernel = np.exp(-DAMPING * w0 * lag) * np.sin(wd * lag)
    kernel /= kernel.sum()
    out = np.convolve(np.interp(grid, t, x), kernel)[: grid.size]
    return np.interp(t, grid + step / 2, out)


def _prior_precision(model: _Model, shear_sd: float) -> tuple[Vector, float]:
    k = model.knots.size
    cov = prior_covariance(model.knots, shear_sd)
    inv = np.linalg.inv(cov + 1e-6 * np.eye(k))
    p = np.zeros((2 * k + 4, 2 * k + 4))
    p[:k, :k] = inv
    p[k : 2 * k, k : 2 * k] = inv
    p[2 * k :, 2 * k :] = np.diag(1.0 / model.prior_sd**2)
    return p, 2.0 * float(np.linalg.slogdet(cov + 1e-6 * np.eye(k))[1])


def _white(model: _Model, point: _Point, noise: Noise, extra: Vector) -> tuple[Vector, Vector, float]:
    """Whitened Jacobian and residual, log determinant."""
    s = model.samples
    rows, logdet = [], 0.0
    for part in blocks(len(s)):
        piece = _part(s, part)
        c = covariance(piece, point.heading[0][part], point.heading[1][part], 10.0, noise)
        c[np.diag_indices_from(c)] += extra[part]
        z, ld = whiten(c, np.column_stack([point.jacobian[part], point.residual[part]]))
        rows.append(z)
        logdet += ld
    z = np.vstack(rows)
    return z[:, :-1], z[:, -1], logdet


def _part(s: Samples, part: slice) -> Samples:
    linked = s.linked[part].copy()
    linked[0] = False
    return replace(
        s,
        t_s=s.t_s[part],
        dt_s=s.dt_s[part],
        agl_m=s.agl_m[part],
        v_east=s.v_east[part],
        v_north=s.v_north[part],
        sink_mps=s.sink_mps[part],
        linked=linked,
    )


SHEAR = 0.9


def _descend(model: _Model, theta: Vector, noise: Noise, shear_sd: float = SHEAR) -> Fit:
    k = model.knots.size
    precision, _ = _prior_precision(model, shear_sd)
    mean = np.concatenate([np.zeros(2 * k), model.prior_mean])
    extra = np.zeros(len(model.samples))
    for i in range(8):
        point = _linearise(model, theta)
        z, r, _ = _white(model, point, noise, extra)
        a = z.T @ z + precision
        g = -z.T @ r + precision @ (mean - theta)
        step = np.linalg.solve(a, g)
        size = float(np.max(np.abs(step)))
        theta = theta + step * min(1.0, 6.0 / max(size, 1e-9))
        if i >= 1:
            extra = _outliers(point.residual, noise, extra)
        if size < 0.02 and i >= 2:
            break
    point = _linearise(model, theta)
    z, r, _ = _white(model, point, noise, extra)
    d = theta - mean
    objective = float(r @ r + d @ precision @ d)
    cov: Vector = np.asarray(np.linalg.inv(z.T @ z + precision), dtype=np.float64)
    return Fit(
        model.knots,
        theta[: 2 * k].reshape(2, k),
        cov[: 2 * k, : 2 * k],
        theta[2 * k :],
        cov[2 * k :, 2 * k :],
        point.reference,
        point.residual,
        point.heading,
        point.corrected_sink,
        objective,
        noise,
        details={"iterations": float(i)},
    )


def _outliers(residual: Vector, noise: Noise, extra: Vector) -> Vector:
    """Additional variance of samples that lie beyond ``HUBER`` robust standard deviations."""
    size = max(1.4826 * float(np.median(np.abs(residual))), 0.3)
    far = np.abs(residual) / (HUBER * size)
    return np.where(far > 1.0, size**2 * (far**2 - 1.0) * HUBER, 0.0)


def _average(model: _Model, fit: Fit) -> Fit:
    """Average over a small grid of noise and shear scales, weighted by evidence."""
    k = model.knots.size
    theta = _theta(fit)
    point = _linearise(model, theta)
    extra = _outliers(point.residual, fit.noise, np.zeros(len(model.samples)))
    mean = np.concatenate([np.zeros(2 * k), model.prior_mean])
    rows = []
    for gust in (0.25, 0.6, 1.2):
        for wander in (0.2, 0.4, 0.8):
            noise = Noise(gust_sd=0.15 * (1 if gust < 1 else 1.5), gust_ground=gust, wander_sd=wander)
            z, r, logdet = _white(model, point, noise, extra)
            zz, y = z.T @ z, z @ theta - r
            for shear in (0.5, 0.9, 1.6):
                precision, plogdet = _prior_precision(model, shear)
                a = zz + precision
                new = np.linalg.solve(a, z.T @ y + precision @ mean)
                res, d = y - z @ new, new - mean
                log_ev = -0.5 * (res @ res + d @ precision @ d + logdet + plogdet + np.linalg.slogdet(a)[1])
                rows.append((log_ev, new, a, noise, shear))
    logs = np.array([row[0] for row in rows])
    w = np.exp(logs - logs.max())
    w /= w.sum()
    best = rows[int(np.argmax(w))]
    fitted = _descend(model, theta, best[3], best[4])
    base = _theta(fitted)
    used = [i for i in range(len(rows)) if w[i] > 0.02]
    total = sum(w[i] for i in used)
    mean_theta = sum(w[i] / total * rows[i][1] for i in used)
    cov = sum(
        w[i]
        / total
        * (np.linalg.inv(rows[i][2]) + np.outer(rows[i][1] - mean_theta, rows[i][1] - mean_theta))
        for i in used
    )
    shifted = base + (mean_theta - best[1])
    return replace(
        fitted,
        wind=shifted[: 2 * k].reshape(2, k),
        covariance=cov[: 2 * k, : 2 * k],
        canopy=shifted[2 * k :],
        canopy_covariance=cov[2 * k :, 2 * k :],
        details={"gust": best[3].gust_ground, "wander": best[3].wander_sd, "shear": best[4]},
    )


def _mirrored(model: _Model, fit: Fit) -> Vector:
    """The wind reflected about the line along which the ground velocities lie."""
    s = model.samples
    g = np.stack([s.v_east - s.v_east.mean(), s.v_north - s.v_north.mean()])
    _, axes = np.linalg.eigh(g @ g.T)
    normal = axes[:, 0]
    offset = normal @ (fit.wind - np.array([[s.v_east.mean()], [s.v_north.mean()]]))
    wind = fit.wind - 2.0 * np.outer(normal, offset)
    return np.concatenate([wind.ravel(), fit.canopy])


def _apart(a: Fit, b: Fit) -> float:
    return float(np.max(np.hypot(*(a.wind - b.wind))))
