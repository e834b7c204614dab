"""Whole debriefs of fresh made-up jumps against their truth: ``python benchmarks/debriefs.py --first 500000 --jumps 40``.

Prints the table that the README quotes: phases, landing offset, hand, turn heights, wind and its intervals, the per-layer circle
fit beside, and whether the budget adds up. The jumps are those of the ensemble of record; seeds above 100,000 are kept for reporting.
"""

from __future__ import annotations

import argparse
import math
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from typing import Any

import numpy as np

from analyser.debrief import Debrief, debrief_recording
from analyser.errors import EstimateError
from analyser.settings import Settings, Site
from analyser.synthetic.scenario import record_jump
from analyser.synthetic.truth import Truth
from analyser.wind.circle import fit_circle

CHI2_95 = -2.0 * math.log(0.05)
CHI2_50 = -2.0 * math.log(0.5)


def one(seed: int) -> dict[str, Any]:
    """Everything to be counted about one jump."""
    jump = record_jump(seed)
    truth = jump.truth
    settings = Settings(site=Site(target=(truth.target_lat, truth.target_lon)))
    found = debrief_recording(jump.recording, settings)
    row: dict[str, Any] = {"seed": seed, "style": truth.style}
    row["phases"] = phase_errors(found, truth)
    landing = found.landing
    true = math.hypot(truth.landing_east_m, truth.landing_north_m)
    row["offset"] = math.inf if landing is None else abs(landing.offset_m - true)
    row["place"] = math.inf
    if landing is not None:
        east, north = landing.east_m - truth.landing_east_m, landing.north_m - truth.landing_north_m
        row["place"] = math.hypot(east, north)
    row["hand"] = bool(found.flown and found.flown.hand == truth.hand)
    row["kind"] = bool(found.flown and found.flown.kind == truth.kind)
    gates = {g.name: g for g in found.flown.gates} if found.flown else {}
    row["turns"] = [gates[g.name].agl_m - g.agl_m if g.name in gates else math.nan for g in truth.gates]
    row |= winds(found, truth)
    row["circle"] = circles(found, truth)
    if found.budget and landing is not None:
        row["budget"] = max(
            abs(sum(r.along_m for r in found.budget) - landing.along_m),
            abs(sum(r.across_m for r in found.budget) - landing.across_m),
        )
    return row


def phase_errors(found: Debrief, truth: Truth) -> list[float]:
    """Seconds between every true phase boundary and the found one (infinite where that phase was not found)."""
    starts = {p.name: found.track.start_utc_s + p.start_s for p in found.phases.intervals}
    return [abs(starts[p.name] - p.start_utc_s) if p.name in starts else math.inf for p in truth.phases[1:]]


def winds(found: Debrief, truth: Truth) -> dict[str, Any]:
    """RMS vector error at measured heights, and how many of those hold the truth in the 95 % and 50 % ellipses."""
    if found.wind is None:
        return {"wind": math.nan, "in95": [], "in50": [], "share": 0.0}
    profile = found.wind.profile
    errors, in95, in50 = [], [], []
    for height in profile.agl_m:
        at = profile.at(float(height))
        if at.status != "measured":
            continue
        e = at.east - np.interp(height, truth.wind_agl_m, truth.wind_east)
        n = at.north - np.interp(height, truth.wind_agl_m, truth.wind_north)
        distance = float(np.array([e, n]) @ np.linalg.solve(at.covariance, np.array([e, n])))
        errors.append(e * e + n * n)
        in95.append(distance <= CHI2_95)
        in50.append(distance <= CHI2_50)
    rms = math.sqrt(np.mean(errors)) if errors else math.nan
    return {"wind": rms, "in95": in95, "in50": in50, "share": len(errors) / profile.agl_m.size}


def circles(found: Debrief, truth: Truth) -> float:
    """RMS error of what a notebook would do: one circle through the ground velocities of each 100 m layer."""
    canopy = found.phases.canopy()
    if canopy is None:
        return math.nan
    part = slice(canopy.start, canopy.stop)
    agl, east, north = found.track.agl_m[part], found.track.v_east[part], found.track.v_north[part]
    errors = []
    for low in np.arange(0.0, float(np.nanmax(agl)) - 100.0, 100.0):
        use = (agl >= low) & (agl < low + 100.0) & np.isfinite(east)
        try:
            circle = fit_circle(east[use], north[use])
        except EstimateError:
            continue
        e = circle.east - np.interp(low + 50.0, truth.wind_agl_m, truth.wind_east)
        n = circle.north - np.interp(low + 50.0, truth.wind_agl_m, truth.wind_north)
        errors.append(e * e + n * n)
    return math.sqrt(np.mean(errors)) if errors else math.nan


def table(rows: list[dict[str, Any]]) -> str:
    """The figures as a Markdown table."""
    phases = np.array([e for r in rows for e in r["phases"]])
    offsets = np.array([r["offset"] for r in rows])
    places = np.array([r["place"] for r in rows])
    turns = np.abs(np.array([t for r in rows for t in r["turns"]]))
    turns = np.where(np.isfinite(turns), turns, np.inf)
    wind = np.array([r["wind"] for r in rows])
    circle = np.array([r["circle"] for r in rows])
    in95 = np.concatenate([np.array(r["in95"], float) for r in rows])
    in50 = np.concatenate([np.array(r["in50"], float) for r in rows])
    budget = [r["budget"] for r in rows if "budget" in r]
    lines = [
        ("phase boundaries within 4 s", f"{np.mean(phases <= 4.0):.1%} (worst {np.max(phases):.1f} s)"),
        (
            "landing offset, distance from the target",
            f"median error {np.median(offsets):.1f} m, worst {np.max(offsets):.1f} m; within 6 m {np.mean(offsets <= 6.0):.0%}",
        ),
        (
            "landing place (receiver drift included)",
            f"median error {np.median(places):.1f} m, worst {np.max(places):.1f} m",
        ),
        ("hand right", f"{np.mean([r['hand'] for r in rows]):.1%}"),
        ("whole pattern named right", f"{np.mean([r['kind'] for r in rows]):.1%}"),
        ("turn heights within 15 m", f"{np.mean(turns <= 15.0):.1%} (median error {np.median(turns):.1f} m)"),
        (
            "wind error, joint fit",
            f"median {np.nanmedian(wind):.2f} m/s, 90 % {np.nanpercentile(wind, 90):.2f} m/s",
        ),
        ("wind error, circle per 100 m layer", f"median {np.nanmedian(circle):.2f} m/s"),
        ("heights measured", f"{np.mean([r['share'] for r in rows]):.0%}"),
        ("truth inside the 95 % / 50 % ellipse", f"{np.mean(in95):.1%} / {np.mean(in50):.1%}"),
        ("budget minus offset, worst", f"{max(budget):.4f} m over {len(budget)} jumps"),
    ]
    return "\n".join(["| figure | found |", "| --- | --- |", *(f"| {a} | {b} |" for a, b in lines)])


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=500_000, help="first seed")
    parser.add_argument("--jumps", type=int, default=40)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--each", action="store_true", help="print a line per jump")
    args = parser.parse_args()
    seeds = range(args.first, args.first + args.jumps)
    with ProcessPoolExecutor(args.jobs, mp_context=get_context("spawn")) as pool:
        rows = list(pool.map(one, seeds, chunksize=2))
    if args.each:
        for r in rows:
            print({k: v for k, v in r.items() if k not in ("in95", "in50")})
    print(f"seeds {args.first}…{args.first + args.jumps - 1}\n\n{table(rows)}")


if __name__ == "__main__":
    main()
