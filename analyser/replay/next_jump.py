"""What a change would gain on other jumps of the same jumper: the same habits in other winds, with other chance.

A part of the budget is chance, or habit and chance. A habit in every fourth jumper for each part, of about 40 m, and a chance of 8 to 15 m
from jump to jump (ours, near the spreads of made-up good pilots) tell the two apart by Bayes' rule: small parts are most likely chance,
large ones habit, and earlier jumps decide. Their own spread widens the chance, so that one large miss among small ones stays chance.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.angles import rotate
from analyser.flight import Air, Start, Trim, fly
from analyser.pattern import LegName, Pattern
from analyser.plan import orders_from
from analyser.replay.parts import PARTS, PartName
from analyser.replay.thresholds import REPLAY
from analyser.wind.profile import WindProfile

__all__ = [
    "NO_JUMPS",
    "Earlier",
    "Gain",
    "Habit",
    "gains",
    "growth_of_height",
    "growth_of_wind",
    "worth_it",
]

Vector = NDArray[np.float64]
CHANCE_OF: dict[PartName, float] = dict(zip(PARTS, REPLAY.chance_of_m, strict=True))


class Earlier(NamedTuple):
    """What earlier jumps of the same jumper showed: how many they are, and their parts (along, across) [m] by (row, part)."""

    jumps: int = 0
    parts: Mapping[tuple[str, str], Sequence[tuple[float, float]]] = MappingProxyType({})


class Habit(NamedTuple):
    """A part of this jump's budget as (along, across) [m]: its row and name, its metres and error.

    ``growth``: how many times its metres it brings in each of the other winds; None: the same in all. ``meant``: seen to be done on
    purpose (brakes held all along a leg), so no chance.
    """

    row: str
    part: PartName
    metres: tuple[float, float]
    sd: tuple[float, float]
    growth: tuple[float, ...] | None = None
    meant: bool = False


class Gain(NamedTuple):
    """Metres by which the mean miss of other jumps becomes smaller, its standard deviation where the part is a habit,
    how likely it is one, and how likely it then is that there is a gain at all."""

    metres: float
    sd: float
    habit: float
    surely: float = 1.0


NO_JUMPS = Earlier()


def other_winds() -> list[tuple[float, float]]:
    """The other winds: how many times this one, turned by how many degrees against the landing direction."""
    return [(factor, turn) for factor in REPLAY.wind_factors for turn in REPLAY.wind_turns_deg]


class _Known(NamedTuple):
    """What is known of a habit: its mean (2,) and sd (2,) [m] if there is one, and how likely there is."""

    mean: Vector
    sd: Vector
    likely: float


def _known(habit: Habit, earlier: Earlier) -> _Known:
    """From this jump and the earlier ones, by Bayes' rule."""
    past = earlier.parts.get((habit.row, habit.part), ())
    rows = np.array([habit.metres, *past], dtype=np.float64)
    mean, more = rows.mean(axis=0), rows.shape[0] - 1
    seen = 0.5 * float(np.sum(np.square(rows - mean)))
    chance = (REPLAY.expected_jumps * CHANCE_OF[habit.part] ** 2 + seen) / (REPLAY.expected_jumps + more)
    error = (chance + np.square(habit.sd)) / rows.shape[0]
    wide = REPLAY.habit_m**2 + error
    keep = REPLAY.habit_m**2 / wide
    if habit.meant:
        return _Known(keep * mean, np.sqrt(keep * error), 1.0)
    odds = np.sum(0.5 * np.log(error / wide) + 0.5 * mean**2 * (1.0 / error - 1.0 / wide))
    odds = float(np.clip(odds + np.log(REPLAY.likely / (1.0 - REPLAY.likely)), -50.0, 50.0))
    return _Known(keep * mean, np.sqrt(keep * error), 1.0 / (1.0 + np.exp(-odds)))


def gains(habits: Sequence[Habit], earlier: Earlier = NO_JUMPS) -> tuple[Gain, ...]:
    """For each habit: how much smaller the mean miss of other jumps would be without it, all others staying as they are."""
    rng, winds = np.random.default_rng(REPLAY.habit_seed), len(other_winds())
    chance = REPLAY.chance_m * rng.standard_normal((1, REPLAY.chance_draws, winds, 2))
    ways, mended, exists, likely = [], [], [], []
    for habit in habits:
        known, grown = _known(habit, earlier), _growth(habit, winds)
        there = rng.random((REPLAY.habit_draws, 1, 1, 1)) < known.likely
        ways.append(
            np.where(there, known.mean + known.sd * rng.standard_normal((REPLAY.habit_draws, 1, 1, 2)), 0.0)
            * grown
        )
        mended.append(known.mean * grown)
        exists.append(there[:, 0, 0, 0])
        likely.append(known.likely)
    whole = chance + sum(ways, start=np.zeros((1, 1, winds, 2)))
    with_all, found = np.linalg.norm(whole, axis=3), []
    for change, there, share in zip(mended, exists, likely, strict=True):
        gained = (with_all - np.linalg.norm(whole - change, axis=3)).mean(axis=(1, 2))
        spread = gained[there] if int(np.count_nonzero(there)) > 1 else gained
        found.append(Gain(float(gained.mean()), float(spread.std()), share, float(np.mean(spread > 0.0))))
    return tuple(found)


def _growth(habit: Habit, winds: int) -> Vector:
    """How many times its metres a habit brings in each of the other winds (1, 1, winds, 1)."""
    grown = np.ones(winds) if habit.growth is None else np.asarray(habit.growth)
    return grown[None, None, :, None]


def worth_it(habits: Sequence[Habit], earlier: Earlier = NO_JUMPS) -> dict[int, Gain]:
    """Which habits would gain more than the least, and surely enough, on other jumps, by their place in the sequence.

    Surely enough is as sure as a normal law is of a gain of one standard deviation. The gain itself is no normal law: what the other
    parts of the same jump may be, habits or chance, gives it a long tail to the good side, which its standard deviation counts as doubt.
    """
    found = enumerate(gains(habits, earlier))
    return {
        i: gain for i, gain in found if gain.metres >= REPLAY.least_gain_m and gain.surely >= REPLAY.sure_gain
    }


def growth_of_wind() -> tuple[float, ...]:
    """How what comes with the wind grows in the other winds."""
    return tuple(factor for factor, _ in other_winds())


def growth_of_height(
    plan: Pattern, trim: Trim, wind: WindProfile, gate: LegName, change_agl_m: float, size_m: float
) -> tuple[float, ...]:
    """How many times its metres here a turn begun so much higher brings in each of the other winds."""
    moved = np.linalg.norm(_height_in_other_winds(plan, trim, wind, gate, change_agl_m), axis=1)
    return tuple(np.clip(moved / max(size_m, 1e-6), 0.0, REPLAY.most_growth).tolist())


def _height_in_other_winds(
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
    most = REPLAY.most_wind * trim.airspeed_mps / max(strongest, 1e-6)
    rows = [rotate(wind.east * min(f, most), wind.north * min(f, most), turn) for f, turn in other_winds()]
    return replace(still, east=np.stack([r[0] for r in rows]), north=np.stack([r[1] for r in rows]))
