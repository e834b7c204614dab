"""A check that needs no truth: every ten seconds of the flight predicted from all the others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyser.wind.average import Averaged
from analyser.wind.marginal import marginal
from analyser.wind.model import Model, Point
from analyser.wind.solve import State, outlier_variance

__all__ = ["HeldOut", "held_out"]

PIECE_S = 10.0
FEWEST_SAMPLES, FEWEST_PIECES = 4, 6
# Ours: of what does not sink like a canopy the root mean square lies below this in nine flights of ten whose errors are right.
LIMIT = 1.25
# Ours, chosen on four families of made-up jumps, each left out in turn: a few dozen stretches tell half of what they seem to,
# fewer still less; errors are never taken below this share; and where turns show an error [m/s], the others are short by this share of it.
SHARE, ENOUGH, LEAST, TURNS = 0.5, 6.0, 0.8, 0.45


@dataclass(frozen=True, slots=True)
class HeldOut:
    """Root mean square of the scaled residuals of ``pieces`` stretches of ten seconds, each predicted from the rest.

    ``scaled_residual`` near one means that the stated errors fit this flight, NaN where it is too short to tell; beyond
    ``limit`` the errors are widened by the factor ``widened_by``, for a ``canopy`` below it narrowed. ``turn`` is the error
    in turns that the evidence found [m/s].
    """

    scaled_residual: float
    limit: float
    pieces: int
    turn: float = 0.0
    canopy: bool = False

    @property
    def widened_by(self) -> float:
        """Factor on the standard deviations, 1 where the errors fit.

        Notes
        -----
        A scale estimated from few residuals is shrunken towards one on the logarithm, as a normal prior on it would (ours).
        """
        known = bool(np.isfinite(self.scaled_residual))
        if not self.canopy:
            return max(1.0, self.scaled_residual / self.limit) if known else 1.0
        weight = SHARE * self.pieces / (self.pieces + ENOUGH)
        told = max(LEAST, (self.scaled_residual / self.limit) ** weight) if known else 1.0
        return told * (1.0 + TURNS * self.turn)


def held_out(model: Model, state: State, point: Point, found: Averaged) -> HeldOut:
    """Predict the mean airspeed residual of every ten seconds from the rest, in units of its standard deviation; ``point``: the model at the state.

    With P the inverse covariance of all residuals r, a piece B left out is off by P_BB⁻¹ (P r)_B with covariance P_BB⁻¹
    (leave-group-out of Gaussian processes: Rasmussen & Williams 2006, §5.4.2).
    """
    extra = outlier_variance(point.residual)
    squares = []
    for seen in marginal(model, state, point, found.scales, found.shear, extra):
        t = model.samples.t_s[seen.part]
        piece = np.floor((t - t[0]) / PIECE_S).astype(np.int64)
        for number in np.unique(piece):
            b = np.flatnonzero(piece == number)
            if b.size >= FEWEST_SAMPLES:
                c = np.linalg.inv(seen.p[np.ix_(b, b)])
                squares.append(float(np.sum(c @ seen.u[b])) ** 2 / float(np.sum(c)))
    residual = float(np.sqrt(np.mean(squares))) if len(squares) >= FEWEST_PIECES else np.nan
    if not model.brakes:
        return HeldOut(residual, LIMIT, len(squares))
    return HeldOut(residual, 1.0, len(squares), found.scales.turn, canopy=True)
