"""What a turn does to airspeed and sink beyond the steady turn: how near one is, and the dive that follows it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.wind.samples import Samples

__all__ = ["ECHOES", "TURN_ECHOES", "diving", "echoes", "in_turn", "turn_rate"]

Vector = NDArray[np.float64]

G = 9.80665
# Ours: a bank of tan = 0.35 (19°) counts in full, less in proportion to its square; it matters for so long before and after.
FULL_TAN, NEAR_S = 0.35, 3.5
DIVE_BEFORE_S, DIVE_FADES_S = 3.0, 15.0
# Ours: seconds before a sample between which turn rate and sink count alike; the toggle goes down before the canopy turns.
TURN_EDGES_S = (-2.0, 0.0, 1.5, 3.0, 5.0, 8.0, 12.0, 17.0)
SINK_EDGES_S = (-5.0, -3.0, -1.5, 0.0, 1.5, 3.0, 5.0, 8.0, 12.0)
TURN_ECHOES = len(TURN_EDGES_S) - 1
ECHOES = TURN_ECHOES + len(SINK_EDGES_S) - 1
FAST, FASTEST = 0.5, 1.5


def turn_rate(samples: Samples, heading: Vector) -> Vector:
    """Turn rate of the air heading [rad/s]: slope of a line over five samples within four seconds."""
    psi = np.unwrap(np.arctan2(heading[0], heading[1]))
    n = psi.size
    j = np.clip(np.arange(n)[:, None] + np.arange(-2, 3), 0, n - 1)
    t, y = samples.t_s[j], psi[j]
    w = (np.abs(t - samples.t_s[:, None]) < 4.0).astype(np.float64)
    w /= w.sum(1, keepdims=True)
    t = t - (w * t).sum(1, keepdims=True)
    slope = (w * t * y).sum(1) / np.maximum((w * t * t).sum(1), 1e-6)
    return np.asarray(np.clip(slope, -2.0, 2.0))


def _banked(rate: Vector, speed: Vector) -> Vector:
    return np.asarray(np.minimum(1.0, (np.abs(rate) * speed / (G * FULL_TAN)) ** 2))


def in_turn(t_s: Vector, rate: Vector, speed: Vector) -> Vector:
    """How much a turn matters at each sample (n,), 0 in straight flight to 1 within seconds of a bank of 19° and more."""
    return _most(_banked(rate, speed), *_window(t_s, NEAR_S, NEAR_S))


def _window(t: Vector, before: float, after: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    return np.searchsorted(t, t - after), np.searchsorted(t, t + before, side="right")


def _most(x: Vector, first: NDArray[np.intp], stop: NDArray[np.intp]) -> Vector:
    """Largest x (n,) of each window; the windows are few samples wide."""
    wide = np.arange(int(np.max(stop - first, initial=1)))
    return np.asarray(x[np.minimum(first[:, None] + wide, stop[:, None] - 1)].max(axis=1))


def diving(samples: Samples, trim: tuple[float, float], sink: Vector, rate: Vector, speed: Vector) -> Vector:
    """Share of the trim airspeed that the height lost in and after turns has set free (n,).

    ``trim`` airspeed and sink [m/s], ``sink`` (n,) at sea-level density. Energy: V·dV/dt = g (sink − D·V/mg), and at a fixed attitude
    D·V grows with V³, so V³ follows the sink within V²/(3 g sink) seconds, about one (point-mass glide, textbook); what
    remains of it along the ground is √(V² − sink²). Only near turns: elsewhere brakes and moving air change the sink.
    """
    v, level = trim
    total0 = float(np.hypot(v, level))
    lag = total0**2 / (3.0 * G * level)
    t = samples.t_s
    kept = np.exp(-np.diff(t, prepend=t[:1]) / lag).tolist()
    freed = _fading(kept, sink * samples.dt_s) / _fading(kept, samples.dt_s)
    total = total0 * np.cbrt(np.maximum(freed / level, 0.2))
    flat = np.sqrt(np.maximum(total**2 - np.minimum(sink, 0.9 * total) ** 2, (0.3 * v) ** 2))
    return np.asarray(_after_turns(t, _banked(rate, speed)) * np.clip(flat / v - 1.0, -0.5, 0.8))


def echoes(samples: Samples, rate: Vector, sink: Vector) -> Vector:
    """What came before each sample, by how long before (n, ECHOES): turn rate as a share of FAST, then ``sink`` (n,) off its reference.

    What toggles do to the airspeed, and how height given away comes back as speed, is much alike in all turns of a flight: one pilot, one canopy.
    """
    turned = _spans(samples, np.minimum(np.abs(rate) / FAST, FASTEST), TURN_EDGES_S)
    return np.hstack([turned, _spans(samples, np.clip(sink, -4.0, 8.0), SINK_EDGES_S)])


def _spans(samples: Samples, x: Vector, edges_s: tuple[float, ...]) -> Vector:
    """Mean of x (n,) over each span of seconds before every sample."""
    edge = np.append(samples.t_s - 0.5 * samples.dt_s, samples.t_s[-1] + 0.5 * samples.dt_s[-1])
    total = np.concatenate([[0.0], np.cumsum(x * np.diff(edge))])
    back = np.interp(samples.t_s[:, None] - np.array(edges_s), edge, total)
    return np.asarray((back[:, :-1] - back[:, 1:]) / np.diff(edges_s))


def _fading(kept: list[float], x: Vector) -> Vector:
    """Running sum of x (n,), of which so much is ``kept`` from sample to sample."""
    total, found = 0.0, []
    for share, more in zip(kept, x.tolist()):
        total = total * share + more
        found.append(total)
    return np.array(found)


def _after_turns(t: Vector, banked: Vector) -> Vector:
    """The turn's weight from a little before it on, fading after it."""
    soon = _most(banked, np.arange(t.size), np.searchsorted(t, t + DIVE_BEFORE_S, side="right"))
    kept = np.exp(-np.diff(t, prepend=t[:1]) / DIVE_FADES_S)
    left, found = 0.0, []
    for share, now in zip(kept.tolist(), soon.tolist()):
        left = max(left * share, now)
        found.append(left)
    return np.array(found)
