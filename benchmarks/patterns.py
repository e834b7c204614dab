"""How well the legs of made-up jumps are named and their turns placed; every third jump is from the list of hard patterns.

*Strict*: exactly the legs the pilot had in mind. *Lenient*: a base flown with no straight flight at all, and the downwind and base of one
long arc, may be told or left out. *In place*: lenient, and the middle of every leg lies within the leg flown.

Run: python benchmarks/patterns.py FIRST_SEED COUNT [--wind recovered|true] [--three] [--planned] [--each]
"""

from __future__ import annotations

import argparse
import itertools
from collections import defaultdict
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import tests_path  # noqa: F401
from worlds.hard_patterns import hard_jump

from analyser.legs import find_legs
from analyser.pattern import Pattern
from analyser.phases import Phases, find_phases
from analyser.synthetic.scenario import record_jump
from analyser.synthetic.setup import draw_setup
from analyser.synthetic.truth import SyntheticJump, Truth
from analyser.track import Track, build_track
from analyser.wind.estimate import estimate_wind
from analyser.wind.profile import WindProfile

STRAIGHT_S = 0.5  # a base with less straight flight may be told or left out (lenient figures)
BINS = (0.0, 0.5, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0)


class Verdict(NamedTuple):
    """One jump: the legs right by both measures, in place, none invented by both measures; leg by leg confidence and whether it lies in place."""

    strict: bool
    lenient: bool
    placed: bool
    uninvented: bool
    uninvented_lenient: bool
    confidence: float
    legs: tuple[tuple[float, bool], ...]


def verdict_of(truth: Truth, track: Track, flown: Pattern) -> Verdict:
    """What is right of a flown pattern."""
    expected, found = legs_flown(truth), tuple(leg.name for leg in flown.legs)
    may = optional_legs(truth)
    extra = set(found) - set(expected)
    needed = tuple(n for n in expected if n not in may)
    lenient = tuple(n for n in found if n not in may) == needed
    spans = _spans(truth, track)
    inside = [
        leg.name in may
        or (leg.name in spans and spans[leg.name][0] <= 0.5 * (leg.start_s + leg.end_s) <= spans[leg.name][1])
        for leg in flown.legs
    ]
    return Verdict(
        found == expected,
        lenient,
        lenient and all(inside),
        not extra,
        not extra - may,
        flown.confidence,
        tuple((leg.confidence, ok) for leg, ok in zip(flown.legs, inside)),
    )


def optional_legs(truth: Truth) -> set[str]:
    """Legs that may be told or left out: those of an arc, and a base on which the wing never flew straight."""
    base, final = truth.gate("base"), truth.gate("final")
    short = base and final and base.end_agl_m - final.agl_m < STRAIGHT_S * truth.sink_mps
    return {*truth.optional, *(("base",) if short else ())}


def _spans(truth: Truth, track: Track) -> dict[str, tuple[float, float]]:
    """Begin and end of every leg flown, in track time [s]."""
    begins = [gate.utc_s - track.start_utc_s for gate in truth.gates]
    ends = [*begins[1:], np.inf]
    spans = {gate.name: (a, b) for gate, a, b in zip(truth.gates, begins, ends)}
    spans.setdefault("final", (begins[-1] if begins else -np.inf, np.inf))
    return spans


@dataclass
class Tally:
    """Counts over jumps of one kind, and the turns' errors of height and time with the stated standard deviations of the heights."""

    verdicts: list[Verdict] = field(default_factory=list)
    hands: int = 0
    hand_right: int = 0
    errors_m: list[float] = field(default_factory=list)
    sds_m: list[float] = field(default_factory=list)
    late_s: list[float] = field(default_factory=list)

    def add(self, truth: Truth, track: Track, flown: Pattern) -> Verdict:
        """Count one jump."""
        verdict = verdict_of(truth, track, flown)
        self.verdicts.append(verdict)
        if truth.hand is not None:
            self.hands += 1
            self.hand_right += flown.hand == truth.hand
        for gate in truth.gates:
            mine = flown.gate(gate.name)  # type: ignore[arg-type]
            if mine is not None and mine.t_s is not None:
                self.errors_m.append(mine.agl_m - gate.agl_m)
                self.sds_m.append(mine.agl_sd_m)
                self.late_s.append(mine.t_s + track.start_utc_s - gate.utc_s)
        return verdict

    def row(self, label: str) -> str:
        """One line of the table."""
        e, sd = np.abs(self.errors_m), np.array(self.sds_m)
        turns = (
            f"{np.median(e):6.1f} {np.quantile(e, 0.9):6.1f} {np.max(e):6.1f} {np.mean(e <= 15.0):7.1%} "
            f"{np.mean(e <= 1.96 * sd):7.1%} {np.mean(e <= 0.674 * sd):7.1%} {np.median(self.late_s):+7.2f}"
            if e.size
            else "-"
        )
        hand = f"{self.hand_right / self.hands:6.1%}" if self.hands else "     -"
        shares = np.mean([v[:5] for v in self.verdicts], axis=0)
        return (
            f"{label:32} {len(self.verdicts):5d} "
            + " ".join(f"{x:7.1%}" for x in shares)
            + f" {hand} {turns}"
        )

    def reliability(self) -> str:
        """Stated confidence against what came true, of whole patterns and of single legs, in bins."""
        whole = np.array([[v.confidence, v.strict, v.lenient, v.placed] for v in self.verdicts])
        legs = np.array([leg for v in self.verdicts for leg in v.legs], dtype=np.float64)
        lines = ["confidence     jumps  stated   strict lenient  placed     legs  stated  placed"]
        for low, high in itertools.pairwise(BINS):
            parts = [_binned(whole, low, high), _binned(legs, low, high)]
            lines.append(f"{low:4.2f} to {high:4.2f}  " + "    ".join(parts))
        return "\n".join(lines)


def _binned(rows: np.ndarray, low: float, high: float) -> str:
    """Count and means of the rows whose first column lies in a bin."""
    some = rows[(rows[:, 0] >= low) & (rows[:, 0] < (high if high < 1.0 else 1.01))]
    means = some.mean(axis=0) if some.shape[0] else np.full(rows.shape[1], np.nan)
    return f"{some.shape[0]:5d} " + " ".join(f"{m:7.1%}" for m in means)


HEAD = (
    f"{'':32} jumps  strict lenient  placed uninvnt lenient   hand  median    p90    max  <=15 m "
    "95 % in 50 % in    late   (heights of turns, m; begin of turns, s)"
)


def legs_flown(truth: Truth) -> tuple[str, ...]:
    """The legs that were flown; the ground ends a final that was turned onto too late to be marked."""
    names = tuple(gate.name for gate in truth.gates)
    return names if names and names[-1] == "final" else (*names, "final")


def jump_of(seed: int, k: int) -> tuple[str, SyntheticJump]:
    """Every third jump is a hard one."""
    if k % 3 == 2:
        jump = hard_jump(seed)
        return jump.truth.errors[0], jump
    return "ensemble of record", record_jump(seed)


def three_leg_jump(seed: int) -> SyntheticJump:
    """A jump of the ensemble of record without the crosswind leg, in the plan as in the flight."""
    setup = draw_setup(seed)
    later = slice(1 if setup.legs[0] == "crosswind" else 0, None)
    return record_jump(
        seed,
        legs=setup.legs[later],
        planned_m=setup.planned_m[later],
        flown_m=setup.flown_m[later],
        heading_errors_deg=setup.heading_errors_deg[later],
    )


def true_profile(truth: Truth) -> WindProfile:
    """The mean wind that was there, as if it were known."""
    low = truth.wind_agl_m <= 2000.0
    k = int(low.sum())
    return WindProfile(
        truth.wind_agl_m[low].copy(),
        truth.wind_east[low].copy(),
        truth.wind_north[low].copy(),
        0.01 * np.eye(2 * k),
        ("measured",) * k,
        ("",) * k,
    )


def flown_of(
    track: Track, phases: Phases, truth: Truth, wind: str, *, planned: bool = False
) -> Pattern | None:
    """The pattern that the chain finds, or None without a canopy flight; ``planned``: told which legs the plan had."""
    canopy = phases.canopy()
    if canopy is None:
        return None
    profile = (
        true_profile(truth) if wind == "true" else estimate_wind(track, canopy.start, canopy.stop).profile
    )
    legs = tuple(gate.name for gate in truth.plan) if planned else ()
    return find_legs(track, canopy.start, canopy.stop, profile, landing_s=phases.landing_s, planned=legs)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("first", type=int)
    parser.add_argument("count", type=int)
    parser.add_argument("--wind", choices=("recovered", "true"), default="recovered")
    parser.add_argument(
        "--each", action="store_true", help="list the jumps that are not strictly right and in place"
    )
    parser.add_argument(
        "--three", action="store_true", help="jumps planned and flown without a crosswind leg"
    )
    parser.add_argument("--planned", action="store_true", help="told which legs the plan of each jump had")
    args = parser.parse_args()
    tallies: dict[str, Tally] = defaultdict(Tally)
    for k in range(args.count):
        label, jump = (
            ("three legs", three_leg_jump(args.first + k)) if args.three else jump_of(args.first + k, k)
        )
        track = build_track(jump.recording)
        flown = flown_of(track, find_phases(track), jump.truth, args.wind, planned=args.planned)
        if flown is None:
            print(f"seed {args.first + k}: no canopy flight found")
            continue
        verdict = tallies["all"].add(jump.truth, track, flown)
        tallies[label].add(jump.truth, track, flown)
        if args.each and not (verdict.strict and verdict.placed):
            names = " ".join(leg.name for leg in flown.legs)
            print(
                f"seed {args.first + k} ({label}): {' '.join(legs_flown(jump.truth))} -> {names} ({flown.confidence:.2f})"
            )
    print(HEAD)
    for label, tally in tallies.items():
        print(tally.row(label))
    print(tallies["all"].reliability())


if __name__ == "__main__":
    main()
