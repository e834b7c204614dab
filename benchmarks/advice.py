"""Advice followed: pilots with a habit debrief one jump, follow its advice on the next ones in other winds, and land how far from the target?

Run: python benchmarks/advice.py [PILOTS] [FIRST_SEED] [NEXT_JUMPS]. Every pilot has one habit of size (as benchmarks/causes.py plants
them) within a good pilot's spread; the next jumps have other winds, other gusts and another draw of the spread. Beside it stand the
same jumps without advice and with "shift everything by the miss", the landing of the first jump turned round. Also prints how near to
the target a plan lands that is followed without any error in smooth air.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
import tests_path  # noqa: F401
from one_error import fit_for_a_plan, profile_of, settings_for, typed_trim
from worlds.followed import PlanErrors, fly_plan

from analyser.debrief import Debrief, debrief_recording
from analyser.pattern import Pattern, to_landing_frame
from analyser.plan import plan_pattern, surface_wind
from analyser.replay import Advice
from analyser.settings import PatternSetup
from analyser.synthetic.pilot import Habits
from analyser.synthetic.setup import Setup
from analyser.synthetic.truth import SyntheticJump

FOUR = PatternSetup(crosswind_m=366.0)


GOOD_HEIGHT_M, GOOD_PLACE_M, GOOD_WIND_MPS = 4.0, 8.0, 0.3
FOOT, KNOT = 0.3048, 0.514444
KINDS = ("height", "place", "direction", "speed", "wind")


@dataclass(frozen=True, slots=True, eq=False)
class Habit:
    """What a pilot does on every jump: errors of the flight, with the entry along/across the landing direction [m], and the wind
    misread, along/across the landing direction [m/s]."""

    kind: str
    errors: PlanErrors
    entry_m: tuple[float, float] = (0.0, 0.0)
    wind_mps: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class Again:
    """A pilot: the debrief of the first jump, its advice, the misses [m] of the first and of the next jumps by policy."""

    debrief: Debrief
    advice: Advice | None
    kind: str
    miss_m: float
    next_m: dict[str, list[float]]


def plan_for(
    setup: Setup, pattern: PatternSetup, shift: tuple[float, float] = (0.0, 0.0), *, exact: bool = True
) -> Pattern:
    """The plan for the mean wind of a setup, misread by ``shift``; lands into the wind of the lowest 100 m. Not ``exact``: drawn with
    the trim as typed, off by its error."""
    wind = profile_of(setup.air)
    landing = float(np.degrees(np.arctan2(*(-w for w in surface_wind(wind)))) % 360.0)
    hand = "right" if setup.side > 0 else "left"
    trim = typed_trim(setup, exact=exact)
    return plan_pattern(pattern, trim, profile_of(setup.air, shift), hand=hand, landing_deg=landing)


def follow(
    setup: Setup,
    plan: Pattern,
    errors: PlanErrors,
    *,
    gusts: bool,
    flares: bool = True,
    chance: int | None = None,
) -> SyntheticJump:
    """The made-up pilot flies a plan with errors; ``chance`` another seed for gusts and whims in the same mean wind."""
    habits = Habits(
        wander_deg=1.0 if gusts else 0.0,
        brake_share=0.35,
        final_brake_share=0.0,
        final_brake=errors.final_brake,
        flares=flares,
    )
    return fly_plan(
        [(g.name, g.agl_m, g.east_m, g.north_m, g.track_deg) for g in plan.gates],
        landing_deg=plan.landing_deg or 0.0,
        airspeed_mps=setup.canopy.airspeed_mps,
        sink_mps=setup.canopy.sink_mps,
        air=setup.air,
        seed=setup.seed if chance is None else chance,
        bank_deg=setup.turn_bank_deg,
        errors=errors,
        gusts=gusts,
        receiver=setup.receiver,
        canopy=replace(setup.canopy, bank_deg=setup.turn_bank_deg),
        habits=habits,
        lat_deg=setup.lat_deg,
        lon_deg=setup.lon_deg,
        elevation_m=setup.elevation_m,
    )


def miss_of(jump: SyntheticJump) -> float:
    """The true distance of the landing from the target [m]."""
    return float(np.hypot(jump.truth.landing_east_m or 0.0, jump.truth.landing_north_m or 0.0))


def faultless(seed: int, pattern: PatternSetup, *, flares: bool) -> float:
    """The miss of a plan followed without error in smooth air [m]."""
    setup = fit_for_a_plan(seed)
    return miss_of(follow(setup, plan_for(setup, pattern), PlanErrors(), gusts=False, flares=flares))


def drawn_habit(kind: str, rng: np.random.Generator) -> Habit:
    """A habit of one kind: a turn 40 to 120 ft off, the entry 40 to 100 m off, no crab on base, brakes, a wind misread by 3 to 8 kt."""
    way, sign = rng.uniform(0.0, 2.0 * np.pi), float(rng.choice([-1.0, 1.0]))
    unit = np.array([np.cos(way), np.sin(way)])
    if kind == "height":
        late = sign * float(rng.uniform(40.0, 120.0)) * FOOT
        on_final = bool(rng.random() < 0.5)
        return Habit(
            kind, PlanErrors(final_late_m=min(late, 28.0)) if on_final else PlanErrors(base_late_m=late)
        )
    if kind == "place":
        return Habit(kind, PlanErrors(), entry_m=tuple((rng.uniform(40.0, 100.0) * unit).tolist()))
    if kind == "direction":
        return Habit(kind, PlanErrors(crab_missing=("base",)))
    if kind == "speed":
        return Habit(kind, PlanErrors(final_brake=float(rng.uniform(0.5, 0.85))))
    return Habit(kind, PlanErrors(), wind_mps=tuple((rng.uniform(3.0, 8.0) * KNOT * unit).tolist()))


def in_east_north(along_across: tuple[float, float], landing_deg: float) -> tuple[float, float]:
    """A vector along/across the landing direction as east/north."""
    (along, across), angle = along_across, np.radians(landing_deg)
    east = along * np.sin(angle) + across * np.cos(angle)
    return float(east), float(along * np.cos(angle) - across * np.sin(angle))


def other_air(setup: Setup, rng: np.random.Generator) -> Setup:
    """The same pilot and canopy on another day: the wind of another setup."""
    other = fit_for_a_plan(int(rng.integers(100_000)))
    return replace(setup, air=other.air, seed=int(rng.integers(1, 2**31)))


def jump_with(
    setup: Setup, habit: Habit, rng: np.random.Generator
) -> tuple[SyntheticJump, Pattern, tuple[float, float]]:
    """One jump of a pilot with a habit and a good pilot's spread; its plan and by how much its wind was misread (east, north)."""
    landing = plan_for(setup, PatternSetup()).landing_deg or 0.0
    chance = rng.normal(0.0, GOOD_WIND_MPS, 2) + in_east_north(habit.wind_mps, landing)
    shift = (float(chance[0]), float(chance[1]))
    plan = plan_for(setup, PatternSetup(), shift)
    entry = np.add(in_east_north(habit.entry_m, landing), rng.normal(0.0, GOOD_PLACE_M, 2))
    late = rng.normal(0.0, GOOD_HEIGHT_M, 2)
    errors = replace(
        habit.errors,
        final_late_m=habit.errors.final_late_m + float(late[0]),
        base_late_m=habit.errors.base_late_m + float(late[1]),
        entry_m=(float(entry[0]), float(entry[1])),
    )
    return follow(setup, plan, errors, gusts=True), plan, shift


def mended(habit: Habit, found: Debrief) -> Habit:
    """The habit after the first advice of a debrief: only what it says is changed."""
    advice, errors = found.advice[0] if found.advice else None, habit.errors
    if advice is None or advice.blocked_by is not None:
        return habit
    if advice.kind == "turn height":
        name = "final_late_m" if advice.gate == "final" else "base_late_m"
        return replace(
            habit, errors=replace(errors, **{name: getattr(errors, name) - (advice.change_agl_m or 0.0)})
        )
    if advice.kind == "turn place":
        moved = (advice.change_along_m or 0.0, advice.change_across_m or 0.0)
        return replace(habit, entry_m=tuple(np.add(habit.entry_m, moved).tolist()))
    if advice.kind == "crab":
        return replace(
            habit,
            errors=replace(errors, crab_missing=tuple(n for n in errors.crab_missing if n != advice.gate)),
        )
    if advice.kind == "brakes":
        return replace(habit, errors=replace(errors, final_brake=0.0) if advice.gate == "final" else errors)
    return replace(habit, wind_mps=read_better(habit, found)) if advice.kind == "plan the wind" else habit


def read_better(habit: Habit, found: Debrief) -> tuple[float, float]:
    """The misreading that is left when the difference the debrief found is taken off the next reading."""
    heights = np.linspace(0.0, 305.0, 9)
    thought = found.settings.wind_profile
    there = [float(np.mean(v)) for v in found.profile.vector(heights)]
    told = [float(np.mean(v)) for v in thought.vector(heights)]
    along, across = to_landing_frame(told[0] - there[0], told[1] - there[1], found.plan.pattern.landing_deg)
    return habit.wind_mps[0] - along, habit.wind_mps[1] - across


def shifted(habit: Habit, found: Debrief) -> Habit:
    """Everything moved by the miss turned round."""
    spot = found.landing
    return replace(
        habit, entry_m=(habit.entry_m[0] - (spot.along_m or 0.0), habit.entry_m[1] - (spot.across_m or 0.0))
    )


def again(seed: int, kind: str, jumps: int = 3) -> Again | None:
    """A pilot with a habit: one jump with its debrief, then the next ones without advice, with it, and shifted by the miss."""
    setup, rng = fit_for_a_plan(seed), np.random.default_rng([seed, 13])
    habit = drawn_habit(kind, rng)
    jump, plan, shift = jump_with(setup, habit, rng)
    target = (jump.truth.target_lat, jump.truth.target_lon)
    told = settings_for(profile_of(setup.air, shift), setup, target, plan, typed=True)
    found = debrief_recording(jump.recording, told)
    if found.landing is None or found.landing.along_m is None or not found.budget:
        return None
    ways = {"no advice": habit, "advice": mended(habit, found), "shift": shifted(habit, found)}
    misses: dict[str, list[float]] = {name: [] for name in ways}
    for i in range(jumps):
        day = other_air(setup, np.random.default_rng([seed, 17, i]))
        for name, way in ways.items():
            try:
                misses[name].append(miss_of(jump_with(day, way, np.random.default_rng([seed, 19, i]))[0]))
            except ValueError:  # a plan that no longer begins above its gates
                misses[name].append(np.nan)
    first = found.advice[0] if found.advice else None
    return Again(found, first, kind, miss_of(jump), misses)


def main(pilots: int = 10, first: int = 60_000, jumps: int = 3) -> None:
    """Print both tables."""
    for name, pattern in (("three gates", PatternSetup()), ("four gates", FOUR)):
        for flares in (False, True):
            misses = [faultless(first + i, pattern, flares=flares) for i in range(5)]
            print(
                f"plan followed without error, {name}, {'with' if flares else 'without'} flare: median {np.median(misses):.1f} m, worst {max(misses):.1f} m"
            )
    print(
        "\nhabit      pilots  first miss  next: no advice  advice  shift by the miss   worse than no advice   kinds of advice"
    )
    rows: list[Again] = []
    for number, kind in enumerate(KINDS):
        group = [r for i in range(pilots) if (r := again(first + 1000 * number + i, kind, jumps)) is not None]
        rows += group
        line(kind, group)
    line("all", rows)


def line(name: str, group: list[Again]) -> None:
    """Print one row: medians over all next jumps, and in how many pilots the advice made the median worse by more than a metre."""
    by = {
        way: [float(np.nanmedian(r.next_m[way])) for r in group] for way in ("no advice", "advice", "shift")
    }
    worse = np.mean([a > n + 1.0 for a, n in zip(by["advice"], by["no advice"], strict=True)])
    kinds = Counter(r.advice.kind if r.advice else "none" for r in group)
    print(
        f"{name:10s} {len(group):5d} {np.median([r.miss_m for r in group]):9.0f} m {np.median(by['no advice']):13.0f} m "
        f"{np.median(by['advice']):7.0f} m {np.median(by['shift']):12.0f} m {worse:18.0%}             {dict(kinds)}; "
        f"{np.median(by['advice']) / np.median(by['no advice']):.2f} of no advice, {np.median(by['advice']) / np.median(by['shift']):.2f} of shift",
        flush=True,
    )


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:4]))
