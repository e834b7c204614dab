"""Stay: a stretch flown in brakes, and how the airspeed answers its begin and its end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.wind.priors import Priors

__all__ = ["Stay", "answer", "answered"]

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Stay:
    """From ``start_s`` to ``stop_s`` [s] the airspeed at sea-level density is ``mean`` ± ``sd`` [m/s] off what trim and sink let expect."""

    start_s: float
    stop_s: float
    mean: float
    sd: float


def answer(since_s: Vector, priors: Priors) -> Vector:
    """Share of a step of the trim that the airspeed has made its own ``since_s`` [s] after it: second order, 0 before it (textbook)."""
    w0, damping = 2.0 * np.pi / priors.period_s, priors.damping
    wd = w0 * np.sqrt(1.0 - damping**2)
    t = np.maximum(since_s, 0.0)
    swing = np.cos(wd * t) + damping * w0 / wd * np.sin(wd * t)
    return np.asarray(1.0 - np.exp(-damping * w0 * t) * swing)


def answered(t_s: Vector, stay: Stay, priors: Priors) -> Vector:
    """Share of a stay's speed that the airspeed shows at times (n,)."""
    return answer(t_s - stay.start_s, priors) - answer(t_s - stay.stop_s, priors)
