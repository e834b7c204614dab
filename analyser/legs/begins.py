"""Where else a leg may have begun, and what that does to the standard deviation of its height."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.legs.naming import Naming
from analyser.legs.scores import Name, height_density
from analyser.legs.thresholds import LEGS
from analyser.legs.turns import Heights, TurnFound
from analyser.pattern import LegName

__all__ = ["Begins", "Piece", "other_begins", "out_of_holding", "sd_of_begin"]

Vector = NDArray[np.float64]


class Piece(NamedTuple):
    """A leg before it is named: one or several straight stretches, the turn onto the first of them."""

    start_s: float
    end_s: float
    heading_deg: float
    turn: TurnFound | None
    bend_deg: float = 0.0


class Begins(NamedTuple):
    """Other begins of a leg: how far their heights lie from the one told [m] and their probabilities, both (k,)."""

    off_m: Vector
    weight: Vector


def other_begins(
    pieces: list[Piece], naming: Naming, name: LegName, chosen: Piece, heights: Heights
) -> Begins:
    """The turns onto other stretches that may have led onto the leg, and for a first leg the turns too small to be seen along it.

    A correction on final is no begin of its own: what speaks for it speaks for the begin told, which may have been moved since
    (:func:`out_of_holding`).
    """
    if chosen.turn is None:
        return Begins(np.zeros(0), np.zeros(0))
    here = chosen.turn.turn.start_agl_m
    rows = [(w, p.turn.turn, p.start_s) for w, p in zip(naming.begins[name], pieces) if p.turn]
    real = [
        start_s != chosen.start_s and (name != "final" or abs(turn.change_deg) >= LEGS.correction_deg)
        for _, turn, start_s in rows
    ]
    off = np.array([turn.start_agl_m - here if r else 0.0 for (_, turn, _), r in zip(rows, real)])
    weight = np.array([w for w, _, _ in rows])
    weight = weight / max(float(weight.sum()), 1e-9)
    if pieces[0].start_s < chosen.start_s and name == "crosswind":
        unseen = _unseen(chosen, name, heights)
        off, weight = np.concatenate([off, unseen.off_m]), np.concatenate([weight, unseen.weight])
    weight = weight / max(float(weight.sum()), 1e-9)
    if name == "final" and abs(chosen.turn.turn.change_deg) > LEGS.two_turns_deg:
        second = _second_turn(chosen.turn, heights)
        off, weight = (
            np.concatenate([off, second]),
            np.concatenate(
                [(1.0 - LEGS.two_turns) * weight, LEGS.two_turns / second.shape[0] * np.ones_like(second)]
            ),
        )
    return Begins(off, weight)


def _second_turn(found: TurnFound, heights: Heights) -> Vector:
    """How far below its begin [m] the second of two turns run into one may have begun: anywhere in its middle half."""
    turn = found.turn
    t = turn.start_s + (turn.end_s - turn.start_s) * np.linspace(0.25, 0.75, 9)
    return np.interp(t, heights.t, heights.agl) - turn.start_agl_m


def _unseen(chosen: Piece, name: LegName, heights: Heights) -> Begins:
    """Begins along the leg, against the weight 1 of the turn seen: as the heights of such turns go (published checkpoints)."""
    assert chosen.turn is not None
    here = chosen.turn.turn.start_agl_m
    t = np.arange(chosen.start_s, chosen.end_s - LEGS.least_leg_s, 0.5)
    h = np.interp(t, heights.t, heights.agl)
    if t.shape[0] < 3:
        return Begins(np.zeros(0), np.zeros(0))
    along = np.array([height_density(float(x), name) for x in h]) * np.abs(
        np.gradient(np.log(np.maximum(h, 1.0)))
    )
    return Begins(h - here, LEGS.unseen * along * height_density(math.nan, name) / height_density(here, name))


def out_of_holding(p: Piece, name: Name, heights: Heights) -> Piece:
    """The first leg with the turn onto it cut out of the holding's.

    Where a turn is longer than the pattern asks for, nobody can say where holding ended. A quarter of a circle before the
    roll-out stands for that, with the standard deviation of an even spread over the turn, or over a whole circle.
    """
    most = LEGS.quarter_deg if name == "crosswind" else LEGS.circle_deg
    if p.turn is None or abs(p.turn.turn.change_deg) <= most:
        return p
    turn = p.turn.turn
    turn_s = turn.end_s - turn.start_s
    circle_s = turn_s * 360.0 / abs(turn.change_deg)
    begin = turn.end_s - 0.25 * circle_s
    late = replace(
        turn,
        start_s=begin,
        start_agl_m=heights.at(begin),
        change_deg=math.copysign(90.0, turn.change_deg),
    )
    spread_s = min(turn_s, circle_s) / math.sqrt(12.0)
    return p._replace(turn=TurnFound(late, spread_s, p.turn.end_sd_s))


def sd_of_begin(sd_m: float, others: Begins) -> float:
    """Standard deviation [m] whose 95 % interval holds the height of the begin: that of the turn told, widened until the others
    beyond it have no more than one chance in twenty between them."""

    def outside(half_m: float) -> float:
        high, low = (others.off_m - half_m) / sd_m, (others.off_m + half_m) / sd_m
        tails = [
            1.0 - 0.5 * (math.erf(-a / math.sqrt(2.0)) - math.erf(-b / math.sqrt(2.0)))
            for a, b in zip(high, low)
        ]
        return float(others.weight @ np.array(tails))

    low, high = 1.96 * sd_m, 1.96 * sd_m + float(np.max(np.abs(others.off_m), initial=0.0)) + 4.0 * sd_m
    if others.off_m.shape[0] == 0 or outside(low) <= 0.05:
        return sd_m
    for _ in range(25):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if outside(middle) > 0.05 else (low, middle)
    return high / 1.96
