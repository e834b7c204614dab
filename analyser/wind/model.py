"""The model of a flight and its linearisation.

|g_i − w(h_i)| = κ_i ρ_i (V (1 + s F_i + d (f_i − F_i) − q ω_i²/2 + p D_i) + b x_i + Σ c_k E_ik + Σ o_j a_ij) + e_i

g ground velocity, w wind, ρ = 1/√(density ratio), V trim airspeed at sea-level density; f what a steady turn of rate ω adds to
the airspeed, F the same after the canopy's response, D the dive that a turn ends in (:func:`analyser.wind.turning.diving`), E turn
rate and sink of the seconds before (:func:`analyser.wind.turning.echoes`), o_j what the stays in brakes take
(:mod:`analyser.wind.stays`), x the sink's departure from its reference as the airspeed has answered it (brakes), κ the shortening of
the chord over a step, e the errors of :mod:`analyser.wind.covariance`. The parameters are the wind at the knots, then V, b, s, d, q,
p, and the c_k: how sink and turns of the seconds before show in the airspeed is learned on each flight.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from analyser.atmosphere import true_airspeed_factor
from analyser.errors import EstimateError
from analyser.wind.basis import hat_functions
from analyser.wind.covariance import Fading, Scales, blocks, node_noise
from analyser.wind.priors import Priors
from analyser.wind.response import (
    Brakes,
    brake_filter,
    full_flight,
    lagged_sink,
    off_or_on,
    responded,
    rolling,
    turn_factors,
)
from analyser.wind.samples import Samples
from analyser.wind.stay import Stay
from analyser.wind.turning import ECHOES, TURN_ECHOES, G, diving, echoes, in_turn, turn_rate

__all__ = ["CANOPY", "G", "Model", "Point", "build_model", "linearise"]

Vector = NDArray[np.float64]

CANOPY = 6 + ECHOES
SINKING_MPS = 1.0
SWING_S = 15.0
FULL_PERCENT = 60.0


@dataclass(frozen=True, slots=True, eq=False)
class Frozen:
    """Samples of straight flight, ``where`` (n,), whose airspeed stays linearised about ``wind`` (2k,): ``heading`` (2, n), ``speed`` (n,)."""

    where: NDArray[np.bool_]
    wind: Vector
    heading: Vector
    speed: Vector
    covariance: Vector | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Model:
    """What stays the same over the iterations; ``known`` (n,) the true airspeed where an instrument measured it; ``scales`` of the errors to descend with, where they are known."""

    samples: Samples
    rho: Vector
    knots: Vector
    hats: Vector
    known: Vector | None
    prior_mean: Vector
    prior_sd: Vector
    brakes: tuple[Brakes, ...]
    parts: tuple[slice, ...]
    fading: tuple[Fading, ...]
    priors: Priors
    frozen: Frozen | None = None
    stays: tuple[Stay, ...] = ()
    scales: Scales | None = None
    last: dict[bytes, Point] = field(default_factory=dict, init=False)

    @property
    def size(self) -> int:
        """Number of knots."""
        return int(self.knots.size)

    @property
    def loose(self) -> bool:
        """Whether nothing is known of how the thing flies: it does not sink, and nobody measured its airspeed."""
        return not self.brakes and self.known is None


@dataclass(frozen=True, slots=True, eq=False)
class Point:
    """The model at one set of parameters: residual (n,), airspeed (n,), Jacobian (n, 2k + CANOPY), unit air heading (2, n), shortening of the chord (n,),
    ``corrected_sink`` (n,) at sea level and load 1, its ``reference``, the brakes' effect x (n,), and the factor ``missed`` (n,) on the filter's standard deviation of it."""

    residual: Vector
    speed: Vector
    jacobian: Vector
    heading: Vector
    chord: Vector
    corrected_sink: Vector
    reference: float
    effect: Vector
    missed: Vector


def build_model(
    samples: Samples,
    *,
    elevation_m: float,
    airspeed_prior: tuple[float, float],
    airspeed: Vector | None,
    knots: Vector,
    priors: Priors,
) -> Model:
    """Priors, and the brake filter where the thing sinks. Raises EstimateError for values that are not finite."""
    for name in ("t_s", "agl_m", "v_east", "v_north", "sink_mps"):
        if not np.isfinite(getattr(samples, name)).all():
            raise EstimateError(f"the samples' {name} holds values that are not finite")
    h = samples.agl_m
    parts = tuple(blocks(len(samples)))
    sinking = float(np.median(samples.sink_mps)) > SINKING_MPS and airspeed is None
    mean = np.array([airspeed_prior[0], priors.brake_slope, priors.load, 0.0, priors.blur, priors.dive])
    sd = np.array(
        [
            airspeed_prior[1],
            priors.brake_slope_sd,
            priors.load_sd,
            priors.surge_sd,
            priors.blur_sd,
            priors.dive_sd,
        ]
    )
    mean, sd = np.append(mean, np.zeros(ECHOES)), np.concatenate([sd, priors.echo_sd, priors.sink_echo_sd])
    if not sinking:
        mean[1], sd[1] = priors.energy, priors.energy_sd
    filters = tuple(_brakes(samples.part(p), priors) for p in parts) if sinking else ()
    rho = true_airspeed_factor(elevation_m + h)
    fading = tuple(Fading(samples.t_s[part]) for part in parts)
    hats = hat_functions(knots, h)
    return Model(samples, rho, knots, hats, airspeed, mean, sd, filters, parts, fading, priors)


def _brakes(samples: Samples, priors: Priors) -> Brakes:
    noise = node_noise(samples, samples.height_sd_m, np.ones(max(len(samples) - 1, 0)))
    noise[np.diag_indices_from(noise)] += priors.sink_drift**2 / samples.dt_s
    return brake_filter(samples.t_s, noise, priors)


def linearise(model: Model, theta: Vector) -> Point:
    """Residual and Jacobian at the parameters; turn, brakes and chord are taken as they are there. Asked again at once, the same."""
    key = theta.tobytes()
    if key not in model.last:
        model.last.clear()
        model.last[key] = _linearised(model, theta)
    return model.last[key]


def _linearised(model: Model, theta: Vector) -> Point:
    s, k = model.samples, model.size
    air = np.stack([s.v_east - model.hats @ theta[:k], s.v_north - model.hats @ theta[k : 2 * k]])
    speed = np.maximum(np.hypot(air[0], air[1]), 0.5)
    heading = air / speed
    if model.frozen is not None:
        heading, speed = _held(model, model.frozen, theta, heading, speed)
    rate = turn_rate(s, heading)
    v = max(float(theta[2 * k]), 2.0)
    faster, corrected = _turning(model, speed, rate, v)
    near = in_turn(s.t_s, rate, speed)
    reference = full_flight(rolling(corrected, 7), FULL_PERCENT)[0]
    dev = np.clip(corrected - reference, -5.0, 5.0)
    x, missed = np.zeros_like(speed), np.ones_like(speed)
    for brakes, part in zip(model.brakes, model.parts):
        x[part], missed[part] = off_or_on(brakes.gain @ dev[part], brakes, model.priors)
    if model.brakes:
        x = x * (1.0 - near)
    if not model.brakes:
        x = -G / v * height_swing(s.t_s, s.agl_m)
    dive, echo = np.zeros_like(speed), np.zeros((speed.size, ECHOES))
    if model.brakes:
        echo = echoes(s, rate, s.sink_mps / model.rho - reference)
        echo[:, :TURN_ECHOES] *= v
        dive = diving(s, (v, max(reference, SINKING_MPS)), s.sink_mps / model.rho, rate, speed)
    lifted = responded(s.t_s, faster, model.priors)
    bent = -0.5 * np.minimum(rate * rate, 1.0)
    shape = np.column_stack([np.ones_like(x), x, v * lifted, v * (faster - lifted), v * bent, v * dive, echo])
    chord = np.sinc(rate * s.dt_s / (2 * np.pi)) * np.sinc(rate * s.blur_s / (2 * np.pi))
    chord = np.maximum(chord, 0.5)
    shape *= (chord * model.rho)[:, None]
    known = np.zeros_like(speed)
    if model.known is not None:
        shape[:, :4] = 0.0
        shape[:, 5:] = 0.0
        known = chord * model.known
    residual = speed - known - shape @ theta[2 * k :]
    jacobian = np.hstack([-heading[0][:, None] * model.hats, -heading[1][:, None] * model.hats, -shape])
    return Point(residual, speed, jacobian, heading, chord, corrected, reference, x, missed)


def _held(
    model: Model, frozen: Frozen, theta: Vector, heading: Vector, speed: Vector
) -> tuple[Vector, Vector]:
    """Headings and airspeeds with those of straight flight as they were linearised."""
    k = model.size
    moved = theta[: 2 * k] - frozen.wind
    east, north = model.hats @ moved[:k], model.hats @ moved[k:]
    linear = frozen.speed - frozen.heading[0] * east - frozen.heading[1] * north
    return (
        np.where(frozen.where, frozen.heading, heading),
        np.where(frozen.where, np.maximum(linear, 0.5), speed),
    )


def _turning(model: Model, speed: Vector, rate: Vector, v: float) -> tuple[Vector, Vector]:
    """What the turns add to the airspeed (share of V), and the sink reduced to sea level and straight flight."""
    s = model.samples
    sink = s.sink_mps / model.rho
    level = float(np.median(sink))
    glide = v / level if level > 0.1 * v else np.inf
    faster, steeper = turn_factors(np.clip(speed * rate / G, -2.0, 2.0), glide)
    if level <= SINKING_MPS:
        return faster - 1.0, sink
    return faster - 1.0, sink / lagged_sink(s.t_s, steeper, model.priors)


def height_swing(t: Vector, h: Vector) -> Vector:
    """Heights [m] about a line through their neighbours within 15 s."""
    first = np.searchsorted(t, t - SWING_S, side="left")
    last = np.searchsorted(t, t + SWING_S, side="right")
    t0, h0 = t - t.mean(), h - h.mean()
    sums = [np.concatenate([[0.0], np.cumsum(v)]) for v in (np.ones_like(t0), t0, h0, t0 * t0, t0 * h0)]
    c, st, sh, stt, sth = (s[last] - s[first] for s in sums)
    slope = (sth - st * sh / c) / np.maximum(stt - st * st / c, 1e-6)
    return np.asarray(h0 - sh / c - slope * (t0 - st / c))
