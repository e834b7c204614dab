"""The check that needs no truth: held-out seconds against the conditional normal law, and what it makes of the stated errors."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from analyser.wind import held_out as module
from analyser.wind.fit import Fit, fit_wind
from analyser.wind.held_out import FEWEST_PIECES, LEAST, LIMIT, PIECE_S, HeldOut, held_out
from analyser.wind.marginal import Marginal
from analyser.wind.samples import from_positions

STEPS = 12


def conditional(covariance: np.ndarray, residual: np.ndarray, piece: np.ndarray) -> float:
    """Sum of the residuals of a piece off what the others let expect, squared, over its variance."""
    rest = np.setdiff1d(np.arange(residual.size), piece)
    gain = covariance[np.ix_(piece, rest)] @ np.linalg.inv(covariance[np.ix_(rest, rest)])
    off = residual[piece] - gain @ residual[rest]
    left = covariance[np.ix_(piece, piece)] - gain @ covariance[np.ix_(rest, piece)]
    return float(off.sum() ** 2 / left.sum())


@pytest.mark.parametrize("canopy", [True, False])
def test_pieces_are_predicted_from_the_rest(canopy: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """Against the normal law conditioned by hand on everything outside the piece."""
    rng = np.random.default_rng(5)
    t = np.arange(8 * PIECE_S)
    covariance = np.exp(-np.abs(t[:, None] - t) / STEPS) + 0.3 * np.eye(t.size)
    residual = rng.multivariate_normal(np.zeros(t.size), covariance)
    p = np.linalg.inv(covariance)
    seen = Marginal(slice(0, t.size), p, p @ residual, np.zeros((1, t.size)))
    monkeypatch.setattr(module, "marginal", lambda *_: [seen])
    model = SimpleNamespace(samples=SimpleNamespace(t_s=t), brakes=("some",) if canopy else ())
    found = SimpleNamespace(scales=SimpleNamespace(turn=0.8), shear=0.5)
    point = SimpleNamespace(residual=residual)
    told = held_out(model, SimpleNamespace(theta=None), point, found)  # type: ignore[arg-type]
    pieces = np.array_split(np.arange(t.size), 8)
    by_hand = np.sqrt(np.mean([conditional(covariance, residual, piece) for piece in pieces]))
    assert told.scaled_residual == pytest.approx(by_hand, rel=1e-9)
    assert told.pieces == 8
    assert (told.canopy, told.turn) == ((True, 0.8) if canopy else (False, 0.0))


def of_canopy(residual: float, pieces: int = 25, turn: float = 0.0) -> float:
    return HeldOut(residual, 1.0, pieces, turn, canopy=True).widened_by


def test_errors_that_fit_stay_as_they_are() -> None:
    assert of_canopy(1.0) == 1.0
    assert of_canopy(np.nan) == 1.0


def test_few_pieces_tell_little() -> None:
    """Between one and what is seen, the nearer to one the fewer pieces; half way on the logarithm at most."""
    factors = [of_canopy(2.0, pieces) for pieces in (FEWEST_PIECES, 25, 250)]
    assert factors == sorted(factors)
    assert 1.0 < factors[0] < factors[-1] < np.sqrt(2.0)
    small = [of_canopy(0.8, pieces) for pieces in (FEWEST_PIECES, 25, 250)]
    assert small == sorted(small, reverse=True)
    assert np.sqrt(0.8) < small[-1] < small[0] < 1.0


def test_errors_are_never_narrowed_beyond_a_share() -> None:
    assert of_canopy(0.01) == of_canopy(0.0) == LEAST


def test_errors_in_turns_widen() -> None:
    """They count also where the flight is too short to be checked."""
    assert of_canopy(0.9, turn=0.8) > of_canopy(0.9, turn=0.35) > of_canopy(0.9)
    assert of_canopy(np.nan, turn=0.8) == of_canopy(1.0, turn=0.8) > 1.0


def test_what_is_no_canopy_is_only_widened() -> None:
    factors = [HeldOut(residual, LIMIT, 25).widened_by for residual in (0.3, LIMIT, 2.0 * LIMIT, np.nan)]
    assert factors == [1.0, 1.0, 2.0, 1.0]


def flown(swing_mps: float) -> Fit:
    """Legs of twenty seconds there and back on four headings at 11 m/s; each has its airspeed off by so much, up or down, and the sink of all."""
    t = np.arange(0.0, 240.0)
    leg = (t // 20.0).astype(int)
    psi = np.radians(90.0 * leg)
    speed = 11.0 + swing_mps * np.where(np.random.default_rng(2).random(12) < 0.5, -1.0, 1.0)[leg]
    noise = 0.05 * np.random.default_rng(3).standard_normal((2, t.size))
    east, north = np.cumsum(speed * np.sin(psi) + 3.0) + noise[0], np.cumsum(speed * np.cos(psi)) + noise[1]
    return fit_wind(from_positions(t, east, north, 1000.0 - 3.5 * t))


def test_a_flight_that_the_model_does_not_know_states_larger_errors() -> None:
    calm, odd = flown(0.0), flown(2.0)
    assert odd.check.scaled_residual > 1.2 * calm.check.scaled_residual
    assert odd.check.widened_by > calm.check.widened_by
    assert calm.check.canopy
