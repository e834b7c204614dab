"""One wind of a load of five against the wind of each track alone, and the check that needs no truth.

Run: python benchmarks/load_winds.py [LOADS] [FIRST_SEED]. Truth is the mean wind that each jumper crossed, with its change in time. Error and
interval at every height of the profile up to 1,000 m that both call determined; intervals are 95 % ellipses. The agreement
is that of the single tracks' winds at 100, 300, 600 and 900 m; "halved": with every stated error halved by hand. Half of the jumpers land near each
other only by chance; nobody is made to pass close.
"""

from __future__ import annotations

import sys
from typing import NamedTuple

import numpy as np
import tests_path  # noqa: F401
from numpy.typing import NDArray
from worlds.families.jump import WorldTruth
from worlds.loads import make_load

from analyser.debrief import begin_every
from analyser.load.agreement import Agreement, agreement, total
from analyser.load.clocks import on_one_clock
from analyser.load.flights import flights_of
from analyser.load.members import Group, find_loads
from analyser.load.study import winds_of
from analyser.load.winds import HeldWind, held_wind, load_wind, shared_airspeed
from analyser.wind.estimate import estimate_wind
from analyser.wind.profile import WindProfile

FAMILIES = ("glider", "kinematic", "parafoil")
ELLIPSE = 5.991
TOP_M = 1000.0


class Row(NamedTuple):
    """One height of one jumper: error alone and together [m/s], and whether each ellipse holds the truth."""

    agl_m: float
    alone: float
    together: float
    alone_held: bool
    together_held: bool


def off(profile: WindProfile, truth: WorldTruth, i: int) -> tuple[float, bool]:
    """Error of one height [m/s], and whether its 95 % ellipse holds the truth."""
    k = profile.agl_m.size
    east, north = truth.wind(float(profile.agl_m[i]))
    gap = np.array([profile.east[i] - float(east), profile.north[i] - float(north)])
    pair = profile.covariance[np.ix_([i, k + i], [i, k + i])]
    return float(np.hypot(*gap)), bool(gap @ np.linalg.solve(pair, gap) <= ELLIPSE)


def halved(held: HeldWind) -> HeldWind:
    """The same profile with its errors halved by hand."""
    p = held.profile
    return HeldWind(WindProfile(p.agl_m, p.east, p.north, 0.25 * p.covariance, p.status, p.reason), held.t_s)


def one_load(seed: int) -> tuple[list[Row], Agreement, Agreement, list[tuple[float, float]]]:
    load = make_load(seed, 5, FAMILIES, close=False)
    begun = [begin_every(jump.recording)[0] for jump in load.jumps]
    flights = flights_of(begun)
    rides = {pair: ride for group in find_loads(flights) for pair, ride in group.rides.items()}
    flights = on_one_clock(flights, Group(tuple(range(len(flights))), rides))
    held, speeds = [], []
    winds = []
    for jump, flight in zip(begun, flights):
        canopy = jump.phases.canopy()
        assert canopy is not None
        winds.append(estimate_wind(jump.track, canopy.start, canopy.stop))
        held.append(held_wind(winds[-1].profile, flight))
    rows = []
    for wind, profile, jump in zip(winds, load_wind(held).profiles, load.jumps):
        alone, truth = wind.profile, jump.truth
        better = shared_airspeed(wind.canopy, alone, profile)
        if wind.canopy.airspeed_mps is not None and better.airspeed_mps is not None:
            speeds.append(
                (
                    abs(wind.canopy.airspeed_mps - truth.airspeed_mps),
                    abs(better.airspeed_mps - truth.airspeed_mps),
                )
            )
        for i, h in enumerate(alone.agl_m):
            if h <= TOP_M and "undetermined" not in (alone.status[i], profile.status[i]):
                (a, inside), (b, also) = off(alone, truth, i), off(profile, truth, i)
                rows.append(Row(float(h), a, b, inside, also))
    plain = agreement([winds_of(one) for one in held])
    return rows, plain, agreement([winds_of(halved(one)) for one in held]), speeds


def show(rows: list[Row], title: str) -> None:
    table: NDArray[np.float64] = np.array([[float(v) for v in row] for row in rows])
    alone, together = np.median(table[:, 1]), np.median(table[:, 2])
    print(
        f"{title:>14}: {len(rows):5} heights, median error alone {alone:.2f}, together {together:.2f} m/s, ratio {together / alone:.2f}; "
        f"95 % holds alone {table[:, 3].mean():.1%}, together {table[:, 4].mean():.1%}"
    )


def main() -> None:
    loads, first = (
        int(sys.argv[1]) if len(sys.argv) > 1 else 20,
        int(sys.argv[2]) if len(sys.argv) > 2 else 827000,
    )
    rows: list[Row] = []
    plain: list[Agreement] = []
    half: list[Agreement] = []
    speeds: list[tuple[float, float]] = []
    for seed in range(first, first + loads):
        found, a, b, v = one_load(seed)
        rows, speeds = rows + found, speeds + v
        plain.append(a)
        half.append(b)
    print(f"{loads} loads of five, from seed {first}")
    show(rows, "all")
    for low, high in ((0, 30), (30, 110), (110, 310), (310, 610), (610, 1001)):
        show([r for r in rows if low <= r.agl_m < high], f"{low} to {high} m")
    for name, found in (("as stated", total(plain)), ("halved", total(half))):
        print(f"agreement, errors {name}: {found.within} of {found.pairs} pairs, {found.share or 0.0:.1%}")
    v = np.median(np.array(speeds), axis=0)
    print(f"airspeed, median error: alone {v[0]:.2f}, in the load's wind {v[1]:.2f} m/s")


if __name__ == "__main__":
    main()
