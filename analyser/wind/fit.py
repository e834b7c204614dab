"""The least squares: one continuous wind and one canopy for the whole flight, arrays in, estimate and covariance out.

From two starts, mirror images of each other, Gauss–Newton (:mod:`analyser.wind.solve`) descends on samples of two seconds;
the better end is refined on all samples and averaged over the scales of gusts and shear (:mod:`analyser.wind.average`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analyser.errors import EstimateError
from analyser.wind.average import Averaged, average
from analyser.wind.basis import knot_heights
from analyser.wind.circle import fit_circle
from analyser.wind.held_out import HeldOut, held_out
from analyser.wind.model import Model, Point, build_model, linearise
from analyser.wind.priors import Priors
from analyser.wind.samples import Samples
from analyser.wind.solve import State, cost, descend
from analyser.wind.stay import Stay
from analyser.wind.stays import find_stays, over_stays
from analyser.wind.straight import hold, spread_of, turns_first

__all__ = ["Fit", "fit_wind"]

Vector = NDArray[np.float64]

FEWEST = 8
SAME_MPS = 0.4
ALL_ROUND = 0.25
PLAUSIBLE = 3.0
SLOWEST_MPS = 1.5
NO_AIRSPEED = "too few headings: the wind that fits leaves no airspeed to fly with"


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Knots [m], ``wind`` (2, k) there and ``covariance`` (2k, 2k) of (east…, north…); ``canopy`` (V, b, s, d, q, p, c…) with its covariance;
    ``wind_canopy`` (2k, CANOPY) the covariance of the two.

    ``point`` the model at the estimate; ``gustiness``, ``wander`` [m/s], ``wiggle`` [m/s] as the evidence weighs them.
    ``check`` what every ten seconds say of the others, by which the covariances are widened; ``stays`` found in brakes.
    ``mirror`` (2, k) is another solution where one was found, ``mirror_gain`` by how much it is worse (−2 log evidence).
    """

    knots: Vector
    wind: Vector
    covariance: Vector
    canopy: Vector
    canopy_covariance: Vector
    wind_canopy: Vector
    point: Point
    gustiness: float
    wander: float
    wiggle: float
    check: HeldOut
    stays: tuple[Stay, ...] = ()
    mirror: Vector | None = None
    mirror_gain: float = np.inf


def fit_wind(
    samples: Samples,
    *,
    elevation_m: float = 0.0,
    airspeed_prior: tuple[float, float] | None = None,
    airspeed: Vector | None = None,
    low_m: float = np.inf,
    priors: Priors | None = None,
) -> Fit:
    """Fit the wind profile to the samples.

    ``airspeed_prior`` (mean, sd) [m/s] at sea-level density; ``airspeed`` (n,) the true airspeed of every sample where an
    instrument measured it; ``low_m`` height down to which the profile reaches at least. Raises EstimateError for fewer
    than eight samples, or values that are not finite.
    """
    if len(samples) < FEWEST:
        raise EstimateError(
            f"a wind needs {FEWEST} steps of one to four seconds between fixes, got {len(samples)}"
        )
    priors = priors or Priors()
    h = samples.agl_m
    knots = knot_heights(min(low_m, float(np.min(h))), float(np.max(h)))
    prior = airspeed_prior or (priors.airspeed, priors.airspeed_sd)

    def build(chosen: Samples, speed: Vector | None) -> Model:
        return build_model(
            chosen, elevation_m=elevation_m, airspeed_prior=prior, airspeed=speed, knots=knots, priors=priors
        )

    full = build(samples, airspeed)
    thin = full if airspeed is not None else build(samples.thinned(), None)
    ends = _two_ends(thin)
    best = min(ends, key=lambda end: end.cost)
    lowest = max(SLOWEST_MPS, prior[0] - PLAUSIBLE * prior[1])
    if airspeed is None and best.state.theta[2 * knots.size] < lowest:
        raise EstimateError(NO_AIRSPEED)
    if best.turns.covariance is not None:
        full = hold(full, best.turns)
    if airspeed is None:
        scales = average(thin, best.state).scales
        thin, full = replace(thin, scales=scales), replace(full, scales=scales)
    full, state = _in_brakes(full, thin, descend(full, best.state, rounds=3))
    found = _over_sets(thin, state, full.stays, average(full, state))
    if airspeed is None and not found.theta[2 * knots.size] >= lowest:
        raise EstimateError(NO_AIRSPEED)  # the average may leave what the best fit alone had
    point = linearise(full, found.theta)
    check = held_out(full, State(found.theta, state.covariance), point, found)
    return _fit(full, point, found, best, ends, check)


def _in_brakes(full: Model, thin: Model, state: State) -> tuple[Model, State]:
    """The model with its likeliest stays in brakes, and where the descent ends with them."""
    stays = find_stays(thin, state)
    if stays:
        full = replace(full, stays=stays)
        state = descend(full, state, rounds=3)
    return full, state


def _over_sets(thin: Model, state: State, stays: tuple[Stay, ...], found: Averaged) -> Averaged:
    """The average, also over the sets of stays that may have been flown instead."""
    over = over_stays(thin, replace(state, theta=found.theta), stays, found.covariance)
    return (
        found if over is None else replace(found, theta=found.theta + over.mean, covariance=over.covariance)
    )


@dataclass(frozen=True, slots=True, eq=False)
class _End:
    cost: float
    turns: State
    state: State


def _two_ends(model: Model) -> list[_End]:
    """Where descents end: from the circle fit, and from the mirror image of that end where the headings do not go all round.

    Where no circle is worth having, from a ring of winds, each of which makes the mean ground velocity out of a usual airspeed.
    """
    start = _start(model)
    ends = [_end(model, start)] if start is not None else [_end(model, ring) for ring in _ring(model)]
    ends.sort(key=lambda end: end.cost)
    theta = ends[0].state.theta
    if spread_of(linearise(model, theta).heading) < ALL_ROUND:
        ends.append(_end(model, _mirrored(model, theta)))
    return ends


def _end(model: Model, start: Vector) -> _End:
    held, turns = turns_first(model, State(start))
    state = descend(held, turns)
    return _End(cost(held, state), turns, state)


def _fit(model: Model, point: Point, found: Averaged, best: _End, ends: list[_End], check: HeldOut) -> Fit:
    k = model.size

    def wind(end: _End) -> Vector:
        return end.state.theta[: 2 * k].reshape(2, k)

    others = [e for e in ends if float(np.max(np.hypot(*(wind(e) - wind(best))))) > SAME_MPS]
    other = min(others, key=lambda end: end.cost, default=None)
    covariance = found.covariance * check.widened_by**2
    return Fit(
        model.knots,
        found.theta[: 2 * k].reshape(2, k),
        covariance[: 2 * k, : 2 * k],
        found.theta[2 * k :],
        covariance[2 * k :, 2 * k :],
        covariance[: 2 * k, 2 * k :],
        point,
        found.gustiness,
        found.wander,
        found.wiggle,
        check,
        model.stays,
        None if other is None else wind(other),
        np.inf if other is None else other.cost - best.cost,
    )


def _start(model: Model) -> Vector | None:
    """One wind for all heights from the circle fit, or None where there is no circle worth having."""
    s = model.samples
    try:
        circle = fit_circle(s.v_east, s.v_north)
    except (EstimateError, np.linalg.LinAlgError):
        return None
    radius = circle.radius / float(np.mean(model.rho))
    likely = abs(radius - model.prior_mean[0]) < PLAUSIBLE * model.prior_sd[0]
    if not likely or np.hypot(circle.east, circle.north) > 3.0 * model.prior_mean[0]:
        return None
    return _everywhere(model, circle.east, circle.north, radius)


def _ring(model: Model) -> list[Vector]:
    """Winds from which a usual airspeed on four headings makes the mean ground velocity."""
    s, v = model.samples, float(model.prior_mean[0])
    east, north = float(np.mean(s.v_east)), float(np.mean(s.v_north))
    along = np.arctan2(east, north)
    return [
        _everywhere(model, east - v * np.sin(along + turn), north - v * np.cos(along + turn), v)
        for turn in (0.0, np.pi / 2, np.pi, -np.pi / 2)
    ]


def _everywhere(model: Model, east: float, north: float, airspeed: float) -> Vector:
    canopy = model.prior_mean.copy()
    canopy[0] = airspeed
    return np.concatenate([np.full(model.size, east), np.full(model.size, north), canopy])


def _mirrored(model: Model, theta: Vector) -> Vector:
    """The wind reflected about the line along which the ground velocities lie: as good where they lie on a line."""
    s, k = model.samples, model.size
    middle = np.array([[s.v_east.mean()], [s.v_north.mean()]])
    spread = np.stack([s.v_east, s.v_north]) - middle
    normal = np.linalg.eigh(spread @ spread.T)[1][:, 0]
    wind = theta[: 2 * k].reshape(2, k)
    wind = wind - 2.0 * np.outer(normal, normal @ (wind - middle))
    return np.concatenate([wind.ravel(), theta[2 * k :]])
