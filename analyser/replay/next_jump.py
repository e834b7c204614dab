"""What a change would gain on other jumps of the same jumper: the same habits in other winds, with other chance.

A part of the budget is chance, or habit and chance. A habit in every other jumper for each part, of about 40 m, and a chance of 8 to 15 m
from jump to jump (ours, near the spreads of made-up good pilots) tell the two apart by Bayes' rule: small parts are most likely chance,
large ones habit, and earlier jumps decide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.angles import rotate
from analyser.flight import Air, Start, Trim, fly
from analyser.pattern import LegName, Pattern
from analyser.plan import orders_from
from analyser.replay.parts import PartName
from analyser.wind.profile import WindProfile

__all__ = ["Gain", "Habit", "gains", "height_in_other_winds"]

Vector = NDArray[np.float64]
HABIT_M, LIKELY, CHANCE_M = 40.0, 0.5, 15.0
CHANCE_OF: dict[PartName, float] = {
    "height": 15.0,
    "place": 12.0,
    "direction": 8.0,
    "speed": 8.0,
    "wind": 15.0,
}
FACTORS, TURNS_DEG = (0.5, 0.9, 1.3), (-40.0, 0.0, 40.0)
MOST_WIND = 0.65
DRAWS, CHANCES, SEED = 80, 12, 11


class Habit(NamedTuple):
    """A part of this jump's budget as (along, across) [m]: its metres and error, how it changes with the wind, earlier jumps (k, 2).

    ``in_wind`` (winds, 2): its metres in each of the other winds; None: the same in all. ``meant``: seen to be done on purpose
    (brakes held all along a leg), so no chance.
    """

    part: PartName
    metres: tuple[float, float]
    sd: tuple[float, float]
    in_wind: Vector | None = None
    earlier: Vector | None = None
    meant: bool = False


class Gain(NamedTuple):
    """Metres by which the mean miss of other jumps becomes smaller, its standard deviation where the part is a habit,
    and how likely it is one."""

    metres: float
    sd: float
    habit: float


def other_winds() -> list[tuple[float, float]]:
    """The other winds: how many times this one, turned by how many degrees against the landing direction."""
    return [(factor, turn) for factor in FACTORS for turn in TURNS_DEG]


class _Known(NamedTuple):
    """What is known of a habit: its mean (2,) and sd (2,) [m] if there is one, and how likely there is."""

    mean: Vector
    sd: Vector
    likely: float


def _known(habit: Habit) -> _Known:
    """From this jump and the earlier ones, by Bayes' rule."""
    rows = np.atleast_2d(habit.metres)
    if habit.earlier is not None and habit.earlier.size:
        rows = np.vstack([rows, habit.earlier])
    mean = rows.mean(axis=0)
    error = (CHANCE_OF[habit.part] ** 2 + np.square(habit.sd)) / rows.shape[0]
    wide = HABIT_M**2 + error
    keep = HABIT_M**2 / wide
    if habit.meant:
        return _Known(keep * mean, np.sqrt(keep * error), 1.0)
    odds = np.sum(0.5 * np.log(error / wide) + 0.5 * mean**2 * (1.0 / error - 1.0 / wide))
    odds = float(np.clip(odds + np.log(LIKELY / (1.0 - LIKELY)), -50.0, 50.0))
    return _Known(keep * mean, np.sqrt(keep * error), 1.0 / (1.0 + np.exp(-odds)))


def gains(habits: Sequence[Habit]) -> tuple[Gain, ...]:
    """For each habit: how much smaller the mean miss of other jumps would be without it, all others staying as they are."""
    rng, winds = np.random.default_rng(SEED), len(other_winds())
    chance = CHANCE_M * rng.standard_normal((1, CHANCES, winds, 2))
    ways, mended, exists, likely = [], [], [], []
    for habit in habits:
        known, grown = _known(habit), _growth(habit, winds)
        there = rng.random((DRAWS, 1, 1, 1)) < known.likely
        ways.append(
            np.where(there, known.mean + known.sd * rng.standard_normal((DRAWS, 1, 1, 2)), 0.0) * grown
        )
        mended.append(known.mean * grown)
        exists.append(there[:, 0, 0, 0])
        likely.append(known.likely)
    whole = chance + sum(ways, start=np.zeros((1, 1, winds, 2)))
    with_all, found = np.linalg.norm(whole, axis=3), []
    for change, there, share in zip(mended, exists, likely, strict=True):
        gained = (with_all - np.linalg.norm(whole - change, axis=3)).mean(axis=(1, 2))
        spread = gained[there] if int(np.count_nonzero(there)) > 1 else gained
        found.append(Gain(float(gained.mean()), float(spread.std()), share))
    return tuple(found)


def _growth(habit: Habit, winds: int) -> Vector:
    """How many times its metres a habit brings in each of the other winds (1, 1, winds, 1)."""
    if habit.in_wind is None:
        return np.ones((1, 1, winds, 1))
    size = max(float(np.hypot(*habit.metres)), 1e-6)
    grown: Vector = np.clip(np.hypot(habit.in_wind[:, 0], habit.in_wind[:, 1]) / size, 0.0, 3.0)[
        None, None, :, None
    ]
    return grown


def height_in_other_winds(
    plan: Pattern, trim: Trim, wind: WindProfile, gate: LegName, change_agl_m: float
) -> Vector:
    """Metres (winds, 2) that a turn begun so much higher brings in each of the other winds."""
    air = _other_airs(trim, wind)
    first = plan.gates[0]
    start, orders = Start(first.east_m, first.north_m, first.agl_m), orders_from(plan, first.name)
    moved = [o._replace(turn_agl_m=o.turn_agl_m + change_agl_m) if o.name == gate else o for o in orders]
    a, b = fly(air, start, moved).landing, fly(air, start, orders).landing
    return np.stack([a.east_m - b.east_m, a.north_m - b.north_m], axis=1)


def _other_airs(trim: Trim, wind: WindProfile) -> Air:
    still = Air.still(trim, wind, len(other_winds()))
    strongest = float(np.max(np.hypot(wind.east, wind.north)))
    most = MOST_WIND * trim.airspeed_mps / max(strongest, 1e-6)
    rows = [rotate(wind.east * min(f, most), wind.north * min(f, most), turn) for f, turn in other_winds()]
    return replace(still, east=np.stack([r[0] for r in rows]), north=np.stack([r[1] for r in rows]))
