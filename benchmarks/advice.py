"""Advice followed: the same made-up pilot flies again in the same mean wind, with other gusts and the advised change; how much of the miss is left?

Run: python benchmarks/advice.py [JUMPS] [FIRST_SEED]. Also prints how near to the target a plan lands that is followed
without any error in smooth air.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace

import numpy as np
import tests_path  # noqa: F401
from one_error import fit_for_a_plan, profile_of, settings_for
from worlds.followed import PlanErrors, fly_plan

from analyser.debrief import Debrief, debrief_recording
from analyser.flight import Trim
from analyser.pattern import Pattern
from analyser.plan import plan_pattern, surface_wind
from analyser.replay import Advice
from analyser.settings import PatternSetup
from analyser.synthetic.pilot import Habits
from analyser.synthetic.setup import Setup
from analyser.synthetic.truth import SyntheticJump

FOUR = PatternSetup(crosswind_m=366.0)


@dataclass(frozen=True, slots=True, eq=False)
class Again:
    """A jump with errors, the advice of its debrief, and the miss when that is followed [m]."""

    debrief: Debrief
    advice: Advice | None
    miss_m: float
    again_m: float


def plan_for(setup: Setup, pattern: PatternSetup, shift: tuple[float, float] = (0.0, 0.0)) -> Pattern:
    """The plan for the mean wind of a setup, misread by ``shift``; lands into the wind of the lowest 100 m."""
    wind = profile_of(setup.air)
    landing = float(np.degrees(np.arctan2(*(-w for w in surface_wind(wind)))) % 360.0)
    trim = Trim(setup.canopy.airspeed_mps, setup.canopy.sink_mps, setup.turn_bank_deg, setup.elevation_m)
    hand = "right" if setup.side > 0 else "left"
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


def changed(errors: PlanErrors, advice: Advice, landing_deg: float) -> PlanErrors:
    """The same errors with the advised change added."""
    up = advice.change_agl_m or 0.0
    along, across = advice.change_along_m or 0.0, advice.change_across_m or 0.0
    angle = np.radians(landing_deg)
    east = along * np.sin(angle) + across * np.cos(angle)
    north = along * np.cos(angle) - across * np.sin(angle)
    return replace(
        errors,
        final_late_m=errors.final_late_m - (up if advice.gate == "final" else 0.0),
        base_late_m=errors.base_late_m - (up if advice.gate == "base" else 0.0),
        entry_m=(errors.entry_m[0] + float(east), errors.entry_m[1] + float(north)),
    )


def again(seed: int, *, gusts: bool = True) -> Again:
    """One jump with several errors, and the same again with the first advice."""
    setup, rng = fit_for_a_plan(seed), np.random.default_rng([seed, 13])
    shift = tuple(rng.normal(0.0, 1.5, 2).tolist())
    plan = plan_for(setup, PatternSetup(), shift)
    errors = PlanErrors(
        final_late_m=float(np.clip(rng.normal(0.0, 15.0), -25.0, 20.0)),
        entry_m=tuple(rng.normal(0.0, 50.0, 2).tolist()),
        base_late_m=float(np.clip(rng.normal(0.0, 15.0), -25.0, 25.0)),
    )
    jump = follow(setup, plan, errors, gusts=gusts)
    target = (jump.truth.target_lat, jump.truth.target_lon)
    told = settings_for(profile_of(setup.air, shift), setup, target, plan, typed=True)
    found = debrief_recording(jump.recording, told)
    first = next((a for a in found.advice if a.blocked_by is None and a.gate is not None), None)
    if first is None or found.landing is None or found.landing.landing_deg is None:
        return Again(found, None, miss_of(jump), miss_of(jump))
    better = follow(
        setup, plan, changed(errors, first, found.landing.landing_deg), gusts=gusts, chance=seed + 500_000
    )
    return Again(found, first, miss_of(jump), miss_of(better))


def main(jumps: int = 50, first: int = 60_000) -> None:
    """Print both tables."""
    for name, pattern in (("three gates", PatternSetup()), ("four gates", FOUR)):
        for flares in (False, True):
            misses = [faultless(first + i, pattern, flares=flares) for i in range(max(jumps // 4, 5))]
            print(
                f"plan followed without error, {name}, {'with' if flares else 'without'} flare: median {np.median(misses):.1f} m, worst {max(misses):.1f} m"
            )
    rows = [again(first + i) for i in range(jumps)]
    told = [r for r in rows if r.advice is not None]
    for name, group in (("all", rows), ("with advice", told)):
        print(
            f"{name:12s} {len(group):3d} jumps: median miss {np.median([r.miss_m for r in group]):5.0f} m -> {np.median([r.again_m for r in group]):5.0f} m"
        )
    for kind in ("height", "place"):
        group = [r for r in told if (r.advice.change_agl_m is not None) == (kind == "height")]
        if group:
            print(
                f"  {kind:10s} {len(group):3d} jumps: median miss {np.median([r.miss_m for r in group]):5.0f} m -> {np.median([r.again_m for r in group]):5.0f} m, "
                f"worse {np.mean([r.again_m > r.miss_m for r in group]):.0%}"
            )


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:3]))
