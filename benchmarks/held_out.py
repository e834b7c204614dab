"""What the check that needs no truth is worth: ``python benchmarks/held_out.py --first 872000 --jumps 12``.

For each family of made-up jumps: the scaled residual of the held-out seconds and how often it lies between 0.8 and 1.25; whether it goes
with the squared errors of the winds; and, with the stays in brakes switched off in the model, how often it lies above what one flight
in ten has with them, on jumps that flew in brakes. Beside that, on the same jumps, how often the search for stays itself finds one.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context
from typing import NamedTuple

import numpy as np
from families_jump import heights
from worlds.families import FAMILIES, WorldTruth, make_jump

from analyser.phases import find_phases
from analyser.track import build_track
from analyser.wind.estimate import estimate_wind
from analyser.wind.priors import Priors

NO_STAYS = Priors(stay_every_s=1e12)
BRAKES, BRAKED_S = 0.2, 15.0
LOW, HIGH = 0.8, 1.25


class Checked(NamedTuple):
    """Scaled residual with and without stays, factor on the errors, mean squared error of the winds over their variance before it, seconds in brakes, stays found."""

    family: str
    residual: float
    without: float
    factor: float
    squares: float
    braked_s: float
    stays: int


def one(seed: int, family: str) -> Checked | None:
    """One jump; None where there is nothing to check."""
    jump = make_jump(family, seed)
    track = build_track(jump.recording)
    canopy = find_phases(track).canopy()
    if canopy is None:
        return None
    usual, off = (estimate_wind(track, canopy.start, canopy.stop, priors=p) for p in (None, NO_STAYS))
    rows = [r for r in heights(usual.profile, jump.truth) if r.measured]
    if usual.check is None or off.check is None or not rows:
        return None
    factor = usual.check.widened_by
    squares = float(np.mean([(r.east / r.sd_east) ** 2 + (r.north / r.sd_north) ** 2 for r in rows])) / 2.0
    return Checked(
        family,
        usual.check.scaled_residual,
        off.check.scaled_residual,
        factor,
        squares * factor**2,
        braked(jump.truth, usual.t_s[[0, -1]] + track.start_utc_s),
        len(usual.stays),
    )


def braked(truth: WorldTruth, span: np.ndarray) -> float:
    """Seconds of the part of the flight that counts with more than a fifth of the brakes."""
    use = (truth.t_utc_s >= span[0]) & (truth.t_utc_s <= span[1]) & (truth.brake > BRAKES)
    return float(np.sum(np.gradient(truth.t_utc_s)[use]))


def ranks(values: np.ndarray) -> np.ndarray:
    """Places in order of size."""
    return np.argsort(np.argsort(values)).astype(np.float64)


def line(name: str, found: list[Checked], limit: float) -> str:
    """One row of the table."""
    residual = np.array([c.residual for c in found])
    within = np.mean((residual >= LOW) & (residual <= HIGH))
    goes = np.corrcoef(ranks(residual), ranks(np.array([c.squares for c in found])))[0, 1]
    flown = [c for c in found if c.braked_s > BRAKED_S]
    fires = np.mean([c.without > limit for c in flown]) if flown else np.nan
    seen = np.mean([c.stays > 0 for c in flown]) if flown else np.nan
    factors = np.percentile([c.factor for c in found], (10, 50, 90))
    return (
        f"{name:10s} {len(found):3d}  residual {np.median(residual):.2f}, inside {within:4.0%}; with the squared errors {goes:+.2f}; "
        f"factor {factors[0]:.2f} {factors[1]:.2f} {factors[2]:.2f}; in brakes {len(flown)}: fires without stays {fires:4.0%}, stays found {seen:4.0%}"
    )


def main() -> None:
    """Read the command line, run, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=872_000, help="first seed")
    parser.add_argument("--jumps", type=int, default=12)
    parser.add_argument("--processes", type=int, default=2)
    args = parser.parse_args()
    seeds = range(args.first, args.first + args.jumps)
    with ProcessPoolExecutor(args.processes, mp_context=get_context("spawn")) as pool:
        each = {
            name: [c for c in pool.map(partial(one, family=name), seeds) if c is not None]
            for name in FAMILIES
        }
    everyone = [c for found in each.values() for c in found if np.isfinite(c.residual)]
    limit = float(np.percentile([c.residual for c in everyone], 90))
    print(f"seeds {seeds.start} … {seeds.stop - 1}; one flight in ten lies above {limit:.2f}")
    for name, found in each.items():
        print(line(name, [c for c in found if np.isfinite(c.residual)], limit))
    print(line("all", everyone, limit))
    others = [c for c in everyone if c.braked_s <= BRAKED_S]
    print(f"stays found in {np.mean([c.stays > 0 for c in others]):.0%} of {len(others)} other jumps")


if __name__ == "__main__":
    main()
