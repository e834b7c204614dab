"""Reach at its edge: does the sign of the margin agree with what the made-up canopy can really reach?

Run: python benchmarks/reach.py [JUMPS] [FIRST_SEED]. The debrief finds wind and trim in the recording of a made-up jump. The made-up
canopy then turns toward a goal in the true mean wind and flies in full flight until it is down at the goal's height: past it or short of it?

- Flights to the edge: whole flights moved so that at one moment there is next to nothing to spare to the first gate. Every ten seconds of
  them is asked, for that gate and for the target; and that one moment by itself.
- Goals set within a quarter of the radius about the edge, from moments of ordinary holding flights.
"""

from __future__ import annotations

import itertools
import math
import sys
from dataclasses import dataclass

import numpy as np
import tests_path  # noqa: F401
from worlds.edge import edge_jump, reach_margin

from analyser.debrief import debrief_recording
from analyser.flight import Air as Ensemble
from analyser.pattern import Gate
from analyser.plan.jump import flown_trim
from analyser.reach import ROOM_M, SURE, Goal, GoalReach, find_reach, reach_of
from analyser.settings import Settings, Site
from analyser.synthetic.canopy import Flight, Pilot, integrate
from analyser.synthetic.pilot import steer, turn
from analyser.synthetic.scenario import record_jump
from analyser.synthetic.setup import draw_setup
from analyser.synthetic.truth import SyntheticJump

GOAL_AGL_M = 300.0
MOMENTS = 3
EDGE = 0.25
STEP_S = 10.0
BINS_M = (0.0, 20.0, 40.0, 80.0, 160.0, math.inf)
BINS_SD = (0.0, 0.5, 1.0, 2.0, 3.0, math.inf)


@dataclass(frozen=True, slots=True)
class Edge:
    """One goal near the edge: the margin as the debrief has it with its sd, and the true one [m]; the radius of what can be reached."""

    margin_m: float
    sd_m: float
    true_m: float
    radius_m: float


def toward(flight: Flight, heading: float, bank_deg: float) -> Pilot:
    """Turn to a heading and hold it."""
    yield from turn(flight, heading, 0, bank_deg)
    while True:
        steer(flight, heading)
        yield


def furthest(jump: SyntheticJump, i: int, heading_deg: float) -> np.ndarray:
    """Where the made-up canopy is at the goal's height [m] when it turns to a heading at instant ``i`` and stays in full flight."""
    truth, setup = jump.truth, draw_setup(jump.truth.seed)
    flight = Flight(setup.canopy, float(truth.agl_m[i]), math.radians(float(truth.heading_deg[i])))
    pilot = toward(flight, math.radians(heading_deg), setup.canopy.bank_deg)
    path = integrate(
        flight, setup.air.still(), pilot, None, elevation_m=truth.ground_elevation_m, floor_agl_m=GOAL_AGL_M
    )
    return np.array([truth.east_m[i] + path.east_m[-1], truth.north_m[i] + path.north_m[-1]])


def edges(seed: int) -> list[Edge]:
    """A few goals near the edge for one jump."""
    jump, rng = record_jump(seed), np.random.default_rng([seed, 5])
    truth = jump.truth
    found = debrief_recording(
        jump.recording, Settings(site=Site(target=(truth.target_lat, truth.target_lon)))
    )
    if found.wind is None:
        return []
    trim = flown_trim(Settings(), found.wind.canopy, found.track.ground_elevation_m)
    canopy = found.phases.canopy()
    if trim is None or canopy is None:
        return []
    air = Ensemble.drawn(trim, found.wind.profile, np.random.default_rng(1), 100, central=True)
    rows = []
    inside = np.flatnonzero(
        (truth.agl_m > GOAL_AGL_M + 150.0) & (truth.agl_m < float(truth.agl_m[0]) - 120.0)
    )
    for i in rng.choice(inside, MOMENTS, replace=False) if inside.size >= MOMENTS else ():
        heading = float(rng.uniform(0.0, 360.0))
        end = furthest(jump, int(i), heading)
        seconds = float(truth.t_utc_s[i]) - found.track.start_utc_s
        east, north, agl = (
            np.array([np.interp(seconds, found.track.t_s, v)])
            for v in (found.track.east_m, found.track.north_m, found.track.agl_m)
        )
        v_east, v_north = (
            np.interp(seconds, found.track.t_s, v) for v in (found.track.v_east, found.track.v_north)
        )
        wind_east, wind_north = found.wind.profile.vector(agl)
        nose = np.degrees(np.arctan2(v_east - wind_east, v_north - wind_north))
        radius = trim.glide * (float(truth.agl_m[i]) - GOAL_AGL_M)
        over = float(rng.uniform(-EDGE, EDGE)) * radius
        goal = end + over * np.array([math.sin(math.radians(heading)), math.cos(math.radians(heading))])
        margin, _, _ = reach_of(
            air, Goal(float(goal[0]), float(goal[1]), GOAL_AGL_M), east, north, agl, nose, 0.0
        )
        rows.append(Edge(float(margin[0, 0]), float(np.std(margin[1:, 0])), -over, radius))
    return rows


@dataclass(frozen=True, slots=True)
class EdgeFlight:
    """One flight to the edge: margins every ten seconds to the first gate and to the target, and at the moment of the edge."""

    entry: list[Edge]
    target: list[Edge]
    moment: list[Edge]


def flown_to_the_edge(seed: int, spread_m: float = 40.0, step_s: float = STEP_S) -> EdgeFlight | None:
    """A whole flight that at one moment has next to nothing to spare to its first gate; None where the debrief knows no reach."""
    jump, moment, _ = edge_jump(seed, spread_m)
    truth = jump.truth
    found = debrief_recording(
        jump.recording, Settings(site=Site(target=(truth.target_lat, truth.target_lon)))
    )
    canopy, goal = found.phases.canopy(), truth.plan[0]
    if found.trim is None or found.wind is None or canopy is None:
        return None
    gate = Gate(goal.name, goal.agl_m, goal.east_m, goal.north_m, goal.heading_deg, goal.track_deg)
    reach = find_reach(found.track, canopy.start, canopy.stop, found.wind.profile, found.trim, entry=gate)
    if reach is None or reach.entry is None:
        return None
    seconds = reach.t_s + found.track.start_utc_s
    every = np.arange(float(seconds[0]), min(float(seconds[-1]), float(truth.t_utc_s[-1])), step_s)
    entry, target = Goal(goal.east_m, goal.north_m, goal.agl_m), Goal(0.0, 0.0, 0.0)
    return EdgeFlight(
        _asked(jump, seconds, reach.entry, entry, every, found.trim.glide),
        _asked(jump, seconds, reach.target, target, every, found.trim.glide),
        _asked(jump, seconds, reach.entry, entry, np.array([moment]), found.trim.glide),
    )


def _asked(
    jump: SyntheticJump, seconds: np.ndarray, told: GoalReach, goal: Goal, every: np.ndarray, glide: float
) -> list[Edge]:
    """The margin as told and as it was, at the instants ``every`` [UTC s] above the goal."""
    rows = []
    for utc in every:
        margin, sd = (float(np.interp(utc, seconds, v)) for v in (told.margin_m, told.margin_sd_m))
        above = float(np.interp(utc, jump.truth.t_utc_s, jump.truth.agl_m)) - goal.agl_m
        if above > ROOM_M and math.isfinite(margin):
            true = reach_margin(jump, float(utc), (goal.east_m, goal.north_m), goal.agl_m)
            rows.append(Edge(margin, sd, true, glide * above))
    return rows


def columns(rows: list[Edge]) -> tuple[np.ndarray, ...]:
    """Margin, sd, true margin and radius [m] of all rows."""
    return tuple(np.array([getattr(e, n) for e in rows]) for n in ("margin_m", "sd_m", "true_m", "radius_m"))


def report(name: str, rows: list[Edge]) -> None:
    """Print how often the sign agrees, and how far the margin lies from the truth."""
    margin, sd, true, radius = columns(rows)
    agree, sure, error = np.sign(margin) == np.sign(true), np.abs(margin) > SURE * sd, margin - true
    print(
        f"{len(rows)} {name}, radius {np.median(radius):.0f} m (median): sign agrees {np.mean(agree):.1%}; "
        f"where the margin stands out of twice its error ({np.mean(sure):.0%}): {np.mean(agree[sure]):.1%}"
    )
    print(
        f"  margin minus truth: median {np.median(error):.1f} m, median size {np.median(np.abs(error)):.1f} m, rms "
        f"{np.sqrt(np.mean(error**2)):.1f} m, stated {np.median(sd):.1f} m; within 1.96 sd {np.mean(np.abs(error) <= 1.96 * sd):.0%}, "
        f"within 0.674 sd {np.mean(np.abs(error) <= 0.674 * sd):.0%}"
    )
    by_bins("true margin [m]", np.abs(true), BINS_M, agree)
    by_bins("margin over its error", np.abs(margin) / sd, BINS_SD, agree)


def by_bins(name: str, values: np.ndarray, edges_of: tuple[float, ...], agree: np.ndarray) -> None:
    """Print how often the sign agrees by size."""
    cells = []
    for low, high in itertools.pairwise(edges_of):
        here = (values >= low) & (values < high)
        share = f"{np.mean(agree[here]):.0%}" if here.any() else "–"
        cells.append(f"{low:g}–{high:g}: {share} of {np.count_nonzero(here)}")
    print(f"  sign by {name}: {'; '.join(cells)}")


def main(jumps: int = 60, first: int = 50_000) -> None:
    """Print all tables."""
    flown = [f for i in range(jumps) if (f := flown_to_the_edge(first + i)) is not None]
    print(f"{len(flown)} of {jumps} flights to the edge with a reach")
    report("moments of flights to the edge, gate and target", [e for f in flown for e in f.entry + f.target])
    report("of them to the gate", [e for f in flown for e in f.entry])
    report("of them to the target", [e for f in flown for e in f.target])
    report("moments at the edge, true margins ±40 m (1 sigma)", [e for f in flown for e in f.moment])
    near = [e for i in range(jumps) for e in edges(first + i)]
    report(f"goals within ±{EDGE:.0%} of the edge", near)


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:3]))
