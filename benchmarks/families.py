"""Whole debriefs of every family of made-up jumps against their truth: ``python benchmarks/families.py --family all --first 700000 --jumps 60``.

For each family: the recovered winds beside one circle per layer and the fit that is given the true airspeed; how often the intervals
of a component and the ellipses hold the truth; trim of the canopy; landing; turn heights; names; phases; each holding style; and flights
whose headings leave the wind open (``--open``). Nothing is given that a user would not give: phases are found in the recording.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context
from typing import Any

import numpy as np
from families_jump import Height, one
from worlds.families import FAMILIES, OPEN_STYLES

CHI2_95 = -2.0 * math.log(0.05)
CHI2_50 = -2.0 * math.log(0.5)
NORMAL_95, NORMAL_50 = 1.96, 0.6745
Found = list[dict[str, Any]]


def measured(found: Found, key: str = "rows") -> list[Height]:
    """All measured heights of all jumps."""
    return [r for f in found for r in f.get(key, []) if r.measured]


def rms(rows: Sequence[Height]) -> float:
    """Root mean square vector error over the measured heights of a jump."""
    squares = [r.size**2 for r in rows if r.measured]
    return math.sqrt(np.mean(squares)) if squares else math.nan


def spread(values: Iterable[float]) -> str:
    """Median and 90th percentile."""
    known = [v for v in values if math.isfinite(v)]
    return f"{np.median(known):5.2f} median {np.percentile(known, 90):5.2f} p90" if known else "–"


def inside(rows: Sequence[Height]) -> str:
    """How many components lie in their intervals, and heights in their ellipses."""
    if not rows:
        return "–"
    z = np.abs([v for r in rows for v in (r.east / r.sd_east, r.north / r.sd_north)])
    d = np.array([r.distance for r in rows])
    parts = (np.mean(z <= NORMAL_95), np.mean(z <= NORMAL_50), np.mean(d <= CHI2_95), np.mean(d <= CHI2_50))
    return "95 %: {:5.1%}  50 %: {:5.1%}  ellipses {:5.1%} / {:5.1%}".format(*parts)


def errors(pairs: Sequence[tuple[float, ...]], unit: str) -> str:
    """Median size, bias, stated standard deviation and coverage of errors with their standard deviations."""
    if not pairs:
        return "–"
    e, sd = (np.array(c) for c in list(zip(*pairs))[:2])
    ratio = np.abs(e) / np.maximum(sd, 1e-9)
    return (
        f"median {np.median(np.abs(e)):5.2f} {unit}, bias {np.median(e):+5.2f}, stated {np.median(sd):4.2f}; "
        f"95 %: {np.mean(ratio <= NORMAL_95):5.1%}  50 %: {np.mean(ratio <= NORMAL_50):5.1%}  ({len(pairs)})"
    )


def relative(pairs: Sequence[tuple[float, float, float]]) -> str:
    """The same in percent of the true value."""
    return errors([(100.0 * e / true, 100.0 * sd / true) for e, sd, true in pairs], "%")


def report_winds(found: Found) -> None:
    """Winds, beside a circle per layer and the fit given the true airspeed, then each holding style and band of heights."""
    joint, known = [rms(f["rows"]) for f in found], [rms(f.get("known", [])) for f in found]
    share = sum(r.measured for f in found for r in f["rows"]) / max(sum(f["heights"] for f in found), 1)
    print(f"  circle per layer         {spread(f.get('circle', math.nan) for f in found)}")
    print(f"  wind                     {spread(joint)}   {share:.0%} of heights measured")
    print(
        f"  given the true airspeed  {spread(known)}   ratio {np.nanmedian(joint) / np.nanmedian(known):.2f}"
    )
    print(f"  truth inside             {inside(measured(found))}")
    print(f"    given the airspeed     {inside(measured(found, 'known'))}")
    for style in sorted({f["style"] for f in found}):
        some = [f for f in found if f["style"] == style]
        print(
            f"    {style:18s} {len(some):3d}  {spread(rms(f['rows']) for f in some)}  {inside(measured(some))}"
        )
    for low, high in ((0, 30), (30, 125), (125, 325), (325, 625), (625, 1000), (1000, 4000)):
        rows = [r for r in measured(found) if low <= r.agl_m < high]
        size = math.sqrt(np.mean([r.size**2 for r in rows])) if rows else math.nan
        print(f"    {low:4d}–{high:4d} m {len(rows):5d}     rms {size:.2f}  {inside(rows)}")


def report_rest(found: Found) -> None:
    """Canopy, landing, pattern, phases."""
    listed = {
        key: [f[key] for f in found if key in f]
        for key in ("airspeed", "sink", "along", "across", "offset", "settled")
    }
    print(f"  trim airspeed            {relative(listed['airspeed'])}")
    print(f"  trim sink                {relative(listed['sink'])}")
    print(f"  flight counts from       {errors(listed['settled'], 's')}")
    for key in ("along", "across", "offset"):
        print(f"  landing, {key:15s} {errors(listed[key], 'm')}")
    turns = [t for f in found for t in f["turns"]]
    lost = sum(f["lost"] for f in found)
    print(f"  turn heights             {errors(turns, 'm')}, {lost} of {lost + len(turns)} not found")
    hands, kinds = np.mean([f["hand"] for f in found]), np.mean([f["kind"] for f in found])
    print(f"  hand right {hands:.1%}, whole pattern named right {kinds:.1%}")
    told = [f["crosswind"] for f in found]
    flown, none = [a for a, b in told if b], [a for a, b in told if not b]
    print(
        f"  crosswind leg told in {sum(flown)} of {len(flown)} jumps that had one, and in {sum(none)} of {len(none)} that had none"
    )
    phases = np.array([f["phases"] for f in found])
    within = ", ".join(f"{np.mean(column <= 4.0):.0%}" for column in phases.T)
    print(f"  phase boundaries within 4 s (climb, free fall, opening, canopy, ground): {within}")
    print(f"  one debrief {np.median([f['ms'] for f in found]):.0f} ms")


def report_open(found: Found) -> None:
    """Heights whose headings leave the wind open: how many are called measured, and how many of those are far off."""
    rows = [r for f in found for r in f["rows"] if r.open]
    called = [r for r in rows if r.measured]
    bad = [r for r in called if r.size > 3.0 * r.worst_sd]
    print(
        f"  headings leave it open   {len(found)} jumps, {len(rows)} heights, {len(called)} called measured, {len(bad)} of these beyond 3 sd"
    )


def main() -> None:
    """Read the command line, run, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--family", default="all", choices=("all", *FAMILIES))
    parser.add_argument("--first", type=int, default=700_000, help="first seed")
    parser.add_argument("--jumps", type=int, default=60)
    parser.add_argument("--open", type=int, default=12, help="jumps with few headings")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--each", action="store_true", help="print a line per jump")
    args = parser.parse_args()
    names = FAMILIES if args.family == "all" else (args.family,)
    seeds = range(args.first, args.first + args.jumps)
    print(
        f"seeds {seeds.start} … {seeds.stop - 1}; errors of the wind vector [m/s] at measured heights, RMS per jump"
    )
    with ProcessPoolExecutor(args.processes, mp_context=get_context("spawn")) as pool:
        for name in names:
            found = list(pool.map(partial(one, family=name), seeds, chunksize=2))
            print(f"\n{name}")
            for f in found if args.each else []:
                print(
                    f"    {f['seed']} {rms(f['rows']):.2f} {rms(f.get('known', [])):.2f} {f['style']} | {f['truth']}"
                )
            if found:
                report_winds(found)
                report_rest(found)
            tries = range(args.first, args.first + args.open)
            styles = [OPEN_STYLES[s % len(OPEN_STYLES)] for s in tries]
            report_open(list(pool.map(one, tries, [name] * len(styles), styles)))


if __name__ == "__main__":
    main()
