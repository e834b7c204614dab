"""What speaks for a name of a straight stretch: direction, height of the turn onto it, straightness, the hand of the turn.

All as log densities, for the hidden Markov chain of ``naming``.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.legs.thresholds import LEGS
from analyser.pattern import LegName

__all__ = [
    "DETOUR",
    "FINAL",
    "FIRST",
    "NAMES",
    "OUTSIDE",
    "Landing",
    "Name",
    "StraightLeg",
    "chain",
    "height_density",
]

Vector = NDArray[np.float64]
Name = LegName | None

NAMES: tuple[Name, ...] = (None, "crosswind", "downwind", "base", "final", None)
OUTSIDE, CROSSWIND, FINAL, DETOUR = 0, 1, 4, 5
_STATES = len(NAMES)
FIRST = np.array(LEGS.first)


class StraightLeg(NamedTuple):
    """A stretch: air heading and ground track [deg true], the error of the track [deg], length in time [s], the turn onto
    it: height where it begins [m above the landing area] and signed change of heading [deg, right positive], or NaN; and
    by how much it bends where it is one long bend."""

    heading_deg: float
    track_deg: float
    track_sd_deg: float
    seconds: float
    turn_agl_m: float
    turn_deg: float
    bend_deg: float = 0.0


class Landing(NamedTuple):
    """What a landing may have been: its direction over ground and through the air [deg true], how many of the last stretches are
    final, whether the pattern lies square to the nose instead of the track, and the log of its prior probability; ``crosswind`` the odds of a
    crosswind leg over the usual ones."""

    track_deg: float
    heading_deg: float
    finals: int = 1
    by_nose: bool = False
    prior: float = 0.0
    crosswind: float = 1.0

    @property
    def pattern_deg(self) -> float:
        """The direction that the other legs are square or opposite to [deg true]."""
        return self.heading_deg if self.by_nose else self.track_deg


def _wrap(deg: float) -> float:
    return (deg + 180.0) % 360.0 - 180.0


def _direction_score(off_deg: float, sd_deg: float) -> float:
    """Log density [1/deg] of a direction that should be 0: a normal one with a flat floor."""
    bell = math.exp(-0.5 * (off_deg / sd_deg) ** 2) / (sd_deg * math.sqrt(2.0 * math.pi))
    return math.log(0.97 * bell + 0.03 / 360.0)


def _height_score(agl_m: float, before: int, name: int) -> float:
    """Log density (per unit of log height) of the height of a turn; a final that follows no pattern may begin at any height."""
    if not math.isfinite(agl_m) or agl_m <= 1.0 or name == DETOUR:
        return LEGS.any_height
    if name == OUTSIDE or (name == FINAL and before == OUTSIDE):
        return LEGS.any_height - math.log1p(math.exp(-(agl_m - 200.0) / 50.0))
    high = math.log1p(math.exp((agl_m - LEGS.high_final_m) / 25.0)) if name == FINAL else 0.0
    return math.log(_bell(agl_m, name)) - high


def _bell(agl_m: float, name: int) -> float:
    z = math.log(agl_m / LEGS.height_m[name]) / LEGS.height_spread[name]
    bell = 0.95 * math.exp(-0.5 * z * z) + 0.05 * math.exp(-0.5 * (z / 2.5) ** 2) / 2.5
    return bell / (LEGS.height_spread[name] * math.sqrt(2.0 * math.pi)) + 1e-6


def height_density(agl_m: float, name: LegName) -> float:
    """Density, per unit of log height, of the heights where turns onto a leg begin; that of any other turn for a height that is NaN."""
    return _bell(agl_m, NAMES.index(name)) if math.isfinite(agl_m) else math.exp(LEGS.any_height)


def _leg_score(leg: StraightLeg, name: int, side: int, landing: Landing) -> float:
    """Log density [1/deg] of the direction of a stretch under a name, and of its being straight or bent."""
    if name == OUTSIDE:
        return -math.log(360.0)
    if name == DETOUR:
        return -math.log(360.0) - (0.0 if leg.bend_deg else 1.5)
    bent = -0.06 * abs(leg.bend_deg) - 1.6 * math.exp(-leg.seconds / 2.0)
    if name == FINAL:
        off = min(
            abs(_wrap(leg.heading_deg - landing.heading_deg)), abs(_wrap(leg.track_deg - landing.track_deg))
        )
        straight = math.exp(_direction_score(off, 18.0))
        weaving = 1.0 / (2.0 * LEGS.weave_deg) if off < LEGS.weave_deg else 0.0
        return bent + math.log(0.75 * straight + 0.25 * weaving)
    expected = LEGS.direction_deg[name] * side
    off = _wrap(leg.track_deg - landing.pattern_deg - expected)
    return bent + _direction_score(off, math.hypot(LEGS.square_sd_deg[name], min(leg.track_sd_deg, 75.0)))


def _turn_score(leg: StraightLeg, before: int, name: int, side: int) -> float:
    """Log probability of the turn onto a stretch: its height and its hand."""
    if not math.isfinite(leg.turn_deg):
        unturned = 0 < name < FINAL and before != name
        return _height_score(math.nan, before, name) - (3.0 if unturned else 0.0)
    if before == name == FINAL:
        weave = 0.0 if abs(leg.turn_deg) < LEGS.s_turn_deg else math.log(LEGS.weave)
        low = LEGS.any_height - math.log1p(math.exp((leg.turn_agl_m - 200.0) / 60.0))
        return low + (weave if abs(leg.turn_deg) < 2.0 * LEGS.weave_deg else -6.0)
    if before == name and name not in (OUTSIDE, DETOUR):
        return -0.2 - abs(leg.turn_deg) / 20.0
    height = _height_score(leg.turn_agl_m, before, name)
    if before == OUTSIDE or name == DETOUR:
        return height - math.log(2.0)
    right_way = leg.turn_deg * side < 0.0
    return height + math.log(1.0 - LEGS.wrong_hand if right_way else LEGS.wrong_hand)


def chain(legs: list[StraightLeg], side: int, landing: Landing) -> tuple[Vector, Vector]:
    """Log scores: of each stretch under each name (m, 6), of each step between names (m, 6, 6). ``side`` +1 left-hand, −1 right-hand."""
    m, states = len(legs), range(_STATES)
    emit = np.array([[_leg_score(leg, k, side, landing) for k in states] for leg in legs])
    emit *= np.clip([[leg.seconds / 4.0] for leg in legs], 0.5, 1.0)
    emit[m - landing.finals :, [k for k in states if k != FINAL]] = -np.inf
    with np.errstate(divide="ignore"):
        follow = np.log(LEGS.follow)
    step = np.zeros((m, _STATES, _STATES))
    for i in range(1, m):
        turns = np.array([[_turn_score(legs[i], a, b, side) for b in states] for a in states])
        step[i] = follow + turns
    emit[0, CROSSWIND] += math.log(landing.crosswind)
    step[:, OUTSIDE, CROSSWIND] += math.log(landing.crosswind)
    return emit, step
