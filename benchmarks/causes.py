"""Planted causes: one error in an otherwise good flight; does the largest part of the budget name it, with its sign and metres?

Run: python benchmarks/causes.py [JUMPS] [FIRST_SEED]. Kinds: a turn begun 40 to 120 ft too high or low, the pattern begun 40 to 100 m
away, a leg flown without crab, brakes on final, a wind misread by 3 to 8 kt. The others stay within a good pilot's spread: heights
4 m, place of the entry 8 m, wind in the plan 0.3 m/s. The truth of each cause is its own controlled replay: the same pilot in the same
mean air without gusts or other errors, with the planted one, minus the same without it.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
import tests_path  # noqa: F401
from advice import FOUR, follow, plan_for
from one_error import fit_for_a_plan, profile_of, settings_for
from worlds.followed import PlanErrors

from analyser.debrief import Debrief, debrief_recording
from analyser.pattern import to_landing_frame
from analyser.replay.parts import Part
from analyser.settings import PatternSetup
from analyser.synthetic.setup import Setup

KINDS = ("height", "place", "direction", "speed", "wind")
FOOT, KNOT = 0.3048, 0.514444
LEAST_M = 25.0
GOOD = {"height_m": 4.0, "place_m": 8.0, "wind_mps": 0.3}


@dataclass(frozen=True, slots=True, eq=False)
class Planted:
    """A jump with one planted cause: which row and part it belongs to, its true metres (along, across), and the debrief."""

    kind: str
    row: str
    true_m: tuple[float, float]
    debrief: Debrief


def planted_error(
    kind: str, rng: np.random.Generator, setup: Setup
) -> tuple[str, PlanErrors, tuple[float, float]]:
    """The row it belongs to, the error, and the misreading of the wind [m/s]."""
    way = rng.uniform(0.0, 2.0 * np.pi)
    unit = np.array([np.cos(way), np.sin(way)])
    if kind == "height":
        late = float(rng.uniform(40.0, 120.0) * FOOT)
        turn = "final" if rng.random() < 0.5 else "base"
        late *= (
            -1.0
            if (turn == "base" and rng.random() < 0.5) or (turn == "final" and rng.random() < 0.5)
            else 1.0
        )
        late = min(late, 28.0) if turn == "final" else late
        return (
            ("base leg", PlanErrors(final_late_m=late), (0.0, 0.0))
            if turn == "final"
            else ("downwind leg", PlanErrors(base_late_m=late), (0.0, 0.0))
        )
    if kind == "place":
        return "entry", PlanErrors(entry_m=tuple((rng.uniform(40.0, 100.0) * unit).tolist())), (0.0, 0.0)
    if kind == "direction":
        return "base leg", PlanErrors(crab_missing=("base",)), (0.0, 0.0)
    if kind == "speed":
        return "final leg", PlanErrors(final_brake=float(rng.uniform(0.65, 0.95))), (0.0, 0.0)
    return "wind", PlanErrors(), tuple((rng.uniform(3.0, 8.0) * KNOT * unit).tolist())


def planted(seed: int, kind: str, pattern: PatternSetup) -> Planted | None:
    """One jump; None where the planted error moves the landing by less than its own size allows to see (25 m)."""
    setup, rng = fit_for_a_plan(seed), np.random.default_rng([seed, 91])
    row, error, shift = planted_error(kind, rng, setup)
    spread = (
        rng.normal(0.0, GOOD["height_m"], 2),
        rng.normal(0.0, GOOD["place_m"], 2),
        rng.normal(0.0, GOOD["wind_mps"], 2),
    )
    full = replace(
        error,
        final_late_m=error.final_late_m + float(spread[0][0]),
        base_late_m=error.base_late_m + float(spread[0][1]),
        entry_m=(error.entry_m[0] + float(spread[1][0]), error.entry_m[1] + float(spread[1][1])),
    )
    full_shift = (shift[0] + float(spread[2][0]), shift[1] + float(spread[2][1]))
    own, own_shift = alone(kind, row, full, full_shift)
    true = np.subtract(
        clean_landing(setup, pattern, own, own_shift),
        clean_landing(setup, pattern, PlanErrors(), (0.0, 0.0)),
    )
    if float(np.hypot(*true)) < LEAST_M:
        return None
    landing = plan_for(setup, pattern).landing_deg or 0.0
    errors, shift = full, full_shift
    plan = plan_for(setup, pattern, shift, exact=False)
    jump = follow(setup, plan, errors, gusts=True)
    told = settings_for(
        profile_of(setup.air, shift),
        setup,
        (jump.truth.target_lat, jump.truth.target_lon),
        plan,
        typed=True,
        exact=False,
    )
    told = replace(told, pattern=replace(told.pattern, crosswind_m=pattern.crosswind_m))
    found = debrief_recording(jump.recording, told)
    if not found.budget or found.landing is None:
        return Planted(kind, row, (0.0, 0.0), found)
    return Planted(kind, row, to_landing_frame(*true, found.landing.landing_deg or landing), found)


def alone(
    kind: str, row: str, full: PlanErrors, shift: tuple[float, float]
) -> tuple[PlanErrors, tuple[float, float]]:
    """What was planted with its own share of the spread, and nothing else."""
    none = (0.0, 0.0)
    if kind == "height":
        name = "final_late_m" if row == "base leg" else "base_late_m"
        return PlanErrors(**{name: getattr(full, name)}), none
    if kind == "place":
        return PlanErrors(entry_m=full.entry_m), none
    if kind == "wind":
        return PlanErrors(), shift
    return PlanErrors(final_brake=full.final_brake, crab_missing=full.crab_missing), none


def clean_landing(
    setup: Setup, pattern: PatternSetup, error: PlanErrors, shift: tuple[float, float]
) -> tuple[float, float]:
    """Where the pilot ends in smooth mean air with this error alone, east/north of the target [m]."""
    truth = follow(setup, plan_for(setup, pattern, shift), error, gusts=False, flares=True).truth
    return truth.landing_east_m or 0.0, truth.landing_north_m or 0.0


def parts_of(found: Debrief) -> list[tuple[str, Part]]:
    """Every part of the budget with its row, the largest first."""
    rows = [(r.cause, p) for r in found.budget for p in r.parts]
    return sorted(rows, key=lambda x: -np.hypot(x[1].along_m, x[1].across_m))


KIND_OF = {
    ("base leg", "height"): "height",
    ("downwind leg", "height"): "height",
    ("entry", "place"): "place",
    ("wind", "wind"): "wind",
}


def ordinary(seed: int) -> list[tuple[str, np.ndarray, np.ndarray, np.ndarray]]:
    """An ordinary jump with several errors: for every sentence with metres about a height, a place or the wind its kind, the
    metres said, their errors, and those of the controlled replay of that cause alone."""
    setup, rng = fit_for_a_plan(seed), np.random.default_rng([seed, 95])
    shift = tuple(rng.normal(0.0, 1.0, 2).tolist())
    errors = PlanErrors(
        final_late_m=float(np.clip(rng.normal(0.0, 10.0), -25.0, 25.0)),
        base_late_m=float(rng.normal(0.0, 12.0)),
        entry_m=tuple(rng.normal(0.0, 35.0, 2).tolist()),
    )
    pattern = PatternSetup()
    plan = plan_for(setup, pattern, shift, exact=False)
    jump = follow(setup, plan, errors, gusts=True)
    target = (jump.truth.target_lat, jump.truth.target_lon)
    told = settings_for(profile_of(setup.air, shift), setup, target, plan, typed=True, exact=False)
    found = debrief_recording(jump.recording, told)
    clean, rows = clean_landing(setup, pattern, PlanErrors(), (0.0, 0.0)), []
    for finding in found.findings:
        said = finding.evidence
        kind = KIND_OF.get((said.get("row"), said.get("part")))
        if kind is None or finding.metres <= 0.0:
            continue
        own, own_shift = alone(kind, str(said["row"]), errors, shift)
        true = np.subtract(clean_landing(setup, pattern, own, own_shift), clean)
        axes = np.array(to_landing_frame(*true, found.landing.landing_deg))
        seen = np.array([said["signed_along_m"], said["signed_across_m"]])
        rows.append((kind, seen, np.array([said["along_sd_m"], said["across_sd_m"]]), axes))
    return rows


def sentences(jumps: int, first: int) -> None:
    """Print how often the sentences of ordinary jumps have the sign of the controlled replay, and how often their intervals hold."""
    rows = [row for i in range(jumps) for row in ordinary(first + i)]
    print(f"\nordinary jumps: {jumps}, sentences with metres  same sign   within 30 %   95 % holds")
    for kind in ("height", "place", "wind", "all"):
        group = [r for r in rows if kind in (r[0], "all")]
        if not group:
            continue
        sign = np.mean([float(seen @ true) > 0.0 for _, seen, _, true in group])
        near = np.mean([np.hypot(*(seen - true)) <= 0.3 * np.hypot(*true) for _, seen, _, true in group])
        holds = np.mean([np.abs(seen - true) <= 1.96 * sd for _, seen, sd, true in group])
        print(f"{kind:10s} {len(group):36d} {sign:10.0%} {near:11.0%} {holds:12.0%}", flush=True)


def main(jumps: int = 10, first: int = 230_000) -> None:
    """Print, for each kind: planted = main, sign, metres within 30 %, and what was named instead."""
    print("kind        jumps  main is it   sign   within 30 %   95 % holds   instead")
    for number, kind in enumerate(KINDS):
        cases, seed = [], first + 1000 * number
        while len(cases) < jumps:
            case, seed = planted(seed, kind, FOUR if seed % 4 == 0 else PatternSetup()), seed + 1
            if case is not None:
                cases.append(case)
        right, sign, near, holds, instead = [], [], [], [], Counter()
        for case in cases:
            named = parts_of(case.debrief)
            if not named:
                instead["no budget"] += 1
                right.append(False)
                continue
            main = case.debrief.main_cause
            said = (main.evidence.get("row"), main.evidence.get("part")) if main else ("nothing", "named")
            right.append(said == (case.row, case.kind))
            if not right[-1]:
                instead[f"{said[0]}: {said[1]}"] += 1
            own = next(p for row, p in named if row == case.row and p.part == case.kind)
            true, seen = np.array(case.true_m), np.array([own.along_m, own.across_m])
            sd = np.maximum([own.along_sd_m, own.across_sd_m], 1e-6)
            sign.append(float(true @ seen) > 0.0)
            near.append(float(np.hypot(*(seen - true))) <= 0.3 * float(np.hypot(*true)))
            holds += (np.abs(seen - true) <= 1.96 * sd).tolist()
            if "-v" in sys.argv:
                print(
                    "   ",
                    case.row,
                    kind,
                    "true",
                    np.round(true),
                    "seen",
                    np.round(seen),
                    "sd",
                    np.round(sd),
                    [(r, p.part, round(p.along_m), round(p.across_m)) for r, p in named[:3]],
                )
        print(
            f"{kind:10s} {len(cases):5d} {np.mean(right):10.0%} {np.mean(sign):8.0%} {np.mean(near):11.0%} {np.mean(holds):12.0%}   {dict(instead)}",
            flush=True,
        )


if __name__ == "__main__":
    numbers = [int(a) for a in sys.argv[1:] if a.isdigit()] or [10, 230_000]
    if "sentences" not in sys.argv:
        main(*numbers)
    sentences(3 * numbers[0], numbers[1] + 50_000)
