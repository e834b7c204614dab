"""Generalised least squares by Gauss–Newton: one descent from one start, and how good its end is."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analyser.wind.basis import prior_covariance
from analyser.wind.covariance import Parts, Scales, error_parts, whiten
from analyser.wind.model import CANOPY, Model, Point, linearise
from analyser.wind.stay import answered
from analyser.wind.turning import in_turn, turn_rate

__all__ = ["Scales", "State", "cost", "curved", "descend", "error_covariance", "outlier_variance", "prior", "prior_mean", "scale_grid", "whitened"]  # fmt: skip

Vector = NDArray[np.float64]

HUBER = 2.5
ROUNDS = 7
SETTLED_MPS = 0.1
LONGEST_STEP = 6.0
CURVED_MPS = 0.8
LOW_M, MIDDLE_M = 30.0, 300.0


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """Parameters (2k + CANOPY,), covariance (2k, 2k) of the wind among them, log determinant of the covariance of all."""

    theta: Vector
    covariance: Vector | None = None
    logdet: float = 0.0


def descend(model: Model, start: State, rounds: int = ROUNDS, doubt: Vector | float = 0.0) -> State:
    """To the nearest minimum, with usual gusts; ``doubt`` (n,) is further variance of the samples [m²/s²]."""
    theta, cov = start.theta, start.covariance
    precision, _ = prior(model, theta, middle_wiggle(model))
    mean = prior_mean(model)
    extra = np.zeros(len(model.samples)) + doubt
    parts: list[Parts] = []
    normal = precision
    for i in range(rounds):
        plain = linearise(model, theta)
        if i in (0, 2):
            parts = error_covariance(model, plain, theta)
        point, bent = curved(model, plain, parts, cov)
        z, r, _ = whitened(model, point, bent, scale_grid(model, theta)[0], extra)
        normal = np.asarray(np.linalg.inv(z.T @ z + precision), dtype=np.float64)
        step = normal @ (precision @ (mean - theta) - z.T @ r)
        cov = normal[: 2 * model.size, : 2 * model.size]
        size = _length(step, model.size)
        theta = theta + step * min(1.0, LONGEST_STEP / max(size, 1e-9))
        if i >= 1:
            extra = outlier_variance(plain.residual) + doubt
        if size < SETTLED_MPS and i >= 2:
            break
    return State(theta, cov, float(np.linalg.slogdet(normal)[1]))


def _length(step: Vector, k: int) -> float:
    """The longest change of the wind at a knot, or of the airspeed [m/s]; the same however the axes are turned."""
    return float(max(np.max(np.hypot(step[:k], step[k : 2 * k])), abs(step[2 * k])))


def cost(model: Model, state: State) -> float:
    """−2 log evidence of a solution up to a constant (Laplace): a narrow one counts for less than a wide one."""
    theta = state.theta
    precision, prior_logdet = prior(model, theta, middle_wiggle(model))
    plain = linearise(model, theta)
    point, parts = curved(model, plain, error_covariance(model, plain, theta), state.covariance)
    extra = outlier_variance(plain.residual)
    _, r, logdet = whitened(model, point, parts, scale_grid(model, theta)[0], extra)
    d = theta - prior_mean(model)
    return float(r @ r + d @ precision @ d) + logdet + prior_logdet - state.logdet


def middle_wiggle(model: Model) -> float:
    """The shear scale to descend with."""
    return model.priors.wiggles[len(model.priors.wiggles) // 2]


def prior(model: Model, theta: Vector, wiggle: float) -> tuple[Vector, float]:
    """Prior precision of all parameters, and the log determinant of the wind's covariance."""
    k = model.size
    cov = prior_covariance(model.knots, _speed_at(model, theta, MIDDLE_M) + 1.0, wiggle, model.priors)
    p = np.zeros((2 * k + CANOPY, 2 * k + CANOPY))
    p[:k, :k] = p[k : 2 * k, k : 2 * k] = np.linalg.inv(cov)
    i = np.arange(2 * k, 2 * k + CANOPY)
    p[i, i] = 1.0 / model.prior_sd**2
    return p, 2.0 * float(np.linalg.slogdet(cov)[1])


def prior_mean(model: Model) -> Vector:
    """Prior mean of all parameters: calm air, and the canopy's."""
    return np.concatenate([np.zeros(2 * model.size), model.prior_mean])


def _speed_at(model: Model, theta: Vector, agl_m: float) -> float:
    k = model.size
    east, north = np.interp(agl_m, model.knots, theta[:k]), np.interp(agl_m, model.knots, theta[k : 2 * k])
    return float(np.hypot(east, north))


def error_covariance(model: Model, point: Point, theta: Vector) -> list[Parts]:
    """The error covariance of every stretch, with what the brakes leave: what the sink missed, and scatter in proportion to them."""
    priors, low = model.priors, _speed_at(model, theta, LOW_M)
    v = float(theta[2 * model.size])
    found = []
    for i, part in enumerate(model.parts):
        piece, fading = model.samples.part(part), model.fading[i]
        errors = error_parts(piece, point.heading[:, part], v, low, priors, fading=fading, loose=model.loose)
        unsure = (priors.chord_share * v * (1.0 - point.chord[part])) ** 2
        errors.else_[np.diag_indices_from(errors.else_)] += unsure
        if model.brakes:
            near = in_turn(piece.t_s, turn_rate(piece, point.heading[:, part]), point.speed[part])
            errors = replace(errors, turning=near[:, None] * near * fading.over(priors.turn_error_s))
            x = priors.brake_slope * priors.scatter * point.effect[part]
            missed = priors.brake_slope * point.missed[part]
            rest = errors.else_ + missed[:, None] * missed * model.brakes[i].left
            rest += (x[:, None] * x) * fading.over(priors.scatter_s)
            errors = replace(errors, else_=rest)
        found.append(errors)
    return found


def curved(model: Model, point: Point, parts: list[Parts], cov: Vector | None) -> tuple[Point, list[Parts]]:
    """Residual and errors with what the curvature of |g − w| adds where the wind across the heading is uncertain.

    For a cross component of covariance S the airspeed A grows by S_ii/2A on average, with covariance S_ij²/2A² (posterior
    linearisation: García-Fernández et al. 2015, from memory). Without it a long straight flight pulls the wind sideways.
    """
    if model.stays:
        point, parts = with_stays(model, point, parts)
    cov = model.frozen.covariance if model.frozen is not None else cov
    if cov is None:
        return point, parts
    u, hats = point.heading, model.hats
    across = np.hstack([-u[1][:, None] * hats, u[0][:, None] * hats])
    spread = np.sum((across @ cov) * across, axis=1)
    if float(spread.max()) < CURVED_MPS**2:
        return point, parts
    air = np.maximum(point.speed, 2.0)
    found = []
    for errors, part in zip(parts, model.parts):
        s = across[part] @ cov @ across[part].T
        found.append(replace(errors, else_=errors.else_ + s * s / (2.0 * air[part][:, None] * air[part])))
    shift = np.minimum(spread, air**2) / (2.0 * air)
    return replace(point, residual=point.residual + shift), found


def with_stays(model: Model, point: Point, parts: list[Parts]) -> tuple[Point, list[Parts]]:
    """Residual and errors with the stays in brakes: each takes its mean off the airspeed, and one unknown speed stands for its error."""
    weight = point.chord * model.rho
    shift, columns = np.zeros(len(model.samples)), []
    for stay in model.stays:
        along = answered(model.samples.t_s, stay, model.priors) * weight
        shift += stay.mean * along
        columns.append(stay.sd * along)
    spread = np.stack(columns, axis=1)
    found = [replace(e, else_=e.else_ + spread[part] @ spread[part].T) for e, part in zip(parts, model.parts)]
    return replace(point, residual=point.residual - shift), found


def whitened(
    model: Model, point: Point, parts: list[Parts], scales: Scales, extra: Vector
) -> tuple[Vector, Vector, float]:
    """Whitened Jacobian and residual, and the log determinant of the covariance; ``extra`` (n,) further variance."""
    rows, logdet = [], 0.0
    for errors, part in zip(parts, model.parts):
        columns = np.column_stack([point.jacobian[part], point.residual[part]])
        z, d = whiten(errors.total(scales, extra[part]), columns)
        rows.append(z)
        logdet += d
    z = np.vstack(rows)
    return z[:, :-1], z[:, -1], logdet


def scale_grid(model: Model, theta: Vector) -> list[Scales]:
    """Scales of gusts, wander and turns, the usual ones first: every choice of one with the usual ones of the others.

    The wander is that of a canopy at trim, or, in shares of the airspeed, of anything that flies.
    """
    p, v = model.priors, abs(float(theta[2 * model.size]))
    wanders = p.wanders
    if model.known is not None:
        wanders = p.known_wanders
    elif model.loose:
        wanders = tuple((share * v, seconds) for share, seconds in p.loose_wanders)
    turns = p.turn_errors if model.brakes else (0.0,)
    usual = model.scales or Scales(*p.gusts[0], *wanders[0], turns[0])
    grid = [usual._replace(gustiness=g, length=length) for g, length in p.gusts]
    grid += [usual._replace(wander=size, wander_s=seconds) for size, seconds in wanders]
    grid += [usual._replace(turn=turn) for turn in turns]
    return [usual, *(scales for scales in grid if scales != usual)]


def outlier_variance(residual: Vector) -> Vector:
    """Further variance (n,) of samples beyond 2.5 robust standard deviations, so that they pull little more than those (Huber 1964)."""
    size = max(1.4826 * float(np.median(np.abs(residual))), 0.3)
    far = np.abs(residual) / (HUBER * size)
    return np.where(far > 1.0, size**2 * (far**2 - 1.0) * HUBER, 0.0)
