"""How well the legs of made-up jumps are named and their turns placed; every third jump is from the list of hard patterns.

Run: python benchmarks/patterns.py FIRST_SEED COUNT [--wind recovered|true] [--each]
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np

from analyser.legs import find_legs
from analyser.pattern import Pattern
from analyser.phases import Phases, find_phases
from analyser.synthetic.hard_patterns import hard_jump
from analyser.synthetic.scenario import record_jump
from analyser.synthetic.truth import SyntheticJump, Truth
from analyser.track import Track, build_track
from analyser.wind.estimate import estimate_wind
from analyser.wind.profile import WindProfile


@dataclass
class Tally:
    """Counts over jumps of one kind, and the turns' height errors with their stated standard deviations."""

    jumps: int = 0
    named: int = 0
    uninvented: int = 0
    hands: int = 0
    hand_right: int = 0
    errors_m: list[float] = field(default_factory=list)
    sds_m: list[float] = field(default_factory=list)

    def add(self, truth: Truth, flown: Pattern) -> bool:
        """Count one jump; whether its legs were all named right."""
        expected = legs_flown(truth)
        found = tuple(leg.name for leg in flown.legs)
        right = found == expected
        self.jumps += 1
        self.named += right
        self.uninvented += not set(found) - set(expected)
        if truth.hand is not None:
            self.hands += 1
            self.hand_right += flown.hand == truth.hand
        for gate in truth.gates:
            mine = flown.gate(gate.name)  # type: ignore[arg-type]
            if mine is not None:
                self.errors_m.append(mine.agl_m - gate.agl_m)
                self.sds_m.append(mine.agl_sd_m)
        return right

    def row(self, label: str) -> str:
        """One line of the table."""
        e, sd = np.abs(self.errors_m), np.array(self.sds_m)
        turns = (
            f"{np.median(e):6.1f} {np.quantile(e, 0.9):6.1f} {np.mean(e <= 15.0):7.1%} "
            f"{np.mean(e <= 1.96 * sd):7.1%} {np.mean(e <= 0.674 * sd):7.1%}"
            if e.size
            else "-"
        )
        hand = f"{self.hand_right / self.hands:6.1%}" if self.hands else "     -"
        return f"{label:32} {self.jumps:5d} {self.named / self.jumps:7.1%} {self.uninvented / self.jumps:9.1%} {hand} {turns}"


HEAD = (
    f"{'':32} jumps   named  uninvent   hand  median    p90  <=15 m  95 % in 50 % in   (heights of turns, m)"
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


def flown_of(track: Track, phases: Phases, truth: Truth, wind: str) -> Pattern | None:
    """The pattern that the chain finds, or None without a canopy flight."""
    canopy = phases.canopy()
    if canopy is None:
        return None
    profile = (
        true_profile(truth) if wind == "true" else estimate_wind(track, canopy.start, canopy.stop).profile
    )
    return find_legs(track, canopy.start, canopy.stop, profile, landing_s=phases.landing_s)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("first", type=int)
    parser.add_argument("count", type=int)
    parser.add_argument("--wind", choices=("recovered", "true"), default="recovered")
    parser.add_argument("--each", action="store_true", help="list the jumps that were not named right")
    args = parser.parse_args()
    tallies: dict[str, Tally] = defaultdict(Tally)
    for k in range(args.count):
        label, jump = jump_of(args.first + k, k)
        track = build_track(jump.recording)
        flown = flown_of(track, find_phases(track), jump.truth, args.wind)
        if flown is None:
            print(f"seed {args.first + k}: no canopy flight found")
            continue
        right = tallies["all"].add(jump.truth, flown)
        tallies[label].add(jump.truth, flown)
        if args.each and not right:
            names = " ".join(leg.name for leg in flown.legs)
            print(
                f"seed {args.first + k} ({label}): {' '.join(legs_flown(jump.truth))} -> {names} ({flown.confidence:.2f})"
            )
    print(HEAD)
    for label, tally in tallies.items():
        print(tally.row(label))


if __name__ == "__main__":
    main()
