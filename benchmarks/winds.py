"""Recovered layer winds of fresh made-up jumps against their truth: ``python benchmarks/winds.py --first 900000 --jumps 200``.

Prints the table of ``docs/method.md``: the joint fit, the same fit given the true airspeed at every instant, a circle fit per layer,
and the mean of the true air's velocity, which only gusts limit; how many heights are measured; how often the intervals hold
the truth, per holding style; the harsh ensemble; the jumps that leave the wind open. ``--ways`` measures what every part of the
model is worth instead. Seeds below 100,000 were used in development.
"""

from __future__ import annotations

import argparse
import math
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context
from typing import Any

import numpy as np
import tests_path  # noqa: F401
from worlds.ensembles import ambiguous_jump, harsh_jump

from analyser.errors import EstimateError
from analyser.phases import find_phases
from analyser.phases.settled import find_settled
from analyser.synthetic.scenario import record_jump
from analyser.synthetic.truth import SyntheticJump, Truth
from analyser.track import Track, build_track
from analyser.wind.circle import fit_circle
from analyser.wind.estimate import FLARE_M, estimate_wind
from analyser.wind.fit import fit_wind
from analyser.wind.priors import Priors
from analyser.wind.profile import WindProfile
from analyser.wind.samples import Samples, from_positions
from analyser.wind.status import undetermined_profile, wind_profile
from analyser.wind.straight import spread_of

CHI2_95 = -2.0 * math.log(0.05)
CHI2_50 = -2.0 * math.log(0.5)
LAYER_M = 50.0

MAKERS: dict[str, Callable[[int], SyntheticJump]] = {
    "record": record_jump,
    "harsh": harsh_jump,
    "ambiguous": ambiguous_jump,
}

WAYS: dict[str, Priors | None] = {
    "everything": None,
    "white errors only (no gusts, no wander, no scatter)": Priors(
        gusts=(1e-3,), wanders=((0.45, 0.01),), scatter=0.0
    ),
    "airspeed wander, no gusts": Priors(gusts=(1e-3,), wanders=((0.45, 3.0),)),
    "no brake term": Priors(brake_slope=1e-3, brake_slope_sd=1e-4),
    "brakes without scatter": Priors(scatter=0.0),
    "no load factor": Priors(load=0.0, load_sd=1e-4, surge_sd=1e-4),
    "no lag of the airspeed": Priors(period_s=0.3, damping=1.0 - 1e-6),
    "no smoothing of the receiver": Priors(blur=0.0, blur_sd=1e-4),
    "no power law": Priors(exponent=0.0, exponent_sd=0.15),
    "one shear scale": Priors(wiggles=(0.45,)),
    "free shear (2 m/s)": Priors(wiggles=(2.0,), turn=1.0),
    "one gust scale": Priors(gusts=(1.0,)),
    "no averaging at all": Priors(gusts=(1.0,), wanders=((0.15, 3.0),), wiggles=(0.45,)),
}


def of_truth(truth: Truth, agl_m: Iterable[float]) -> np.ndarray:
    """True mean wind (2, n) at heights."""
    east, north = truth.wind(np.asarray(list(agl_m)))
    return np.stack([east, north])


def scored(profile: WindProfile, truth: Truth) -> list[tuple[float, float, float, bool, float]]:
    """Per height from the ground to 50 m below the opening: height, error, its squared distance in standard deviations, measured?, worst sd."""
    rows = []
    for h in np.arange(0.0, float(truth.agl_m[0]) - LAYER_M + 1e-9, LAYER_M):
        at = profile.at(float(h))
        d = np.array([at.east, at.north]) - of_truth(truth, [h])[:, 0]
        distance = float(d @ np.linalg.solve(at.covariance, d))
        measured = at.status == "measured" and h <= profile.agl_m[-1] + 1e-9
        rows.append((float(h), float(np.hypot(*d)), distance, measured, at.worst_sd))
    return rows


def open_heights(
    rows: list[tuple[float, float, float, bool, float]], truth: Truth
) -> list[tuple[float, float, float, bool, float]]:
    """Those heights within 120 m of which the true air headings lie along one line (less than 45° of arc)."""
    heading = np.stack([truth.air_east, truth.air_north]) / np.hypot(truth.air_east, truth.air_north)
    return [r for r in rows if spread_of(heading[:, np.abs(truth.agl_m - r[0]) <= 120.0]) < 0.05]


def rms(rows: list[tuple[float, float, float, bool, float]]) -> float:
    """Root mean square vector error over the measured heights."""
    squares = [r[1] ** 2 for r in rows if r[3]]
    return math.sqrt(np.mean(squares)) if squares else math.nan


def known_airspeed(track: Track, truth: Truth, samples: Samples) -> WindProfile:
    """The same fit, given the true airspeed of every sample."""
    t = truth.t_utc_s - track.start_utc_s
    way = np.concatenate([[0.0], np.cumsum(np.hypot(truth.air_east, truth.air_north)[:-1] * np.diff(t))])
    ends = (np.interp(samples.t_s + side * samples.dt_s, t, way) for side in (0.5, -0.5))
    speed = (next(ends) - next(ends)) / samples.dt_s
    fit = fit_wind(samples, elevation_m=track.ground_elevation_m, airspeed=speed, low_m=0.0)
    return wind_profile(fit, samples, np.arange(0.0, float(truth.agl_m[0]), LAYER_M))


def per_layer(samples: Samples, truth: Truth) -> float:
    """RMS error of one circle fit per layer of 100 m about each height (errors over 50 m/s count as 50)."""
    squares = []
    for h in np.arange(0.0, float(truth.agl_m[0]) - LAYER_M + 1e-9, LAYER_M):
        near = np.abs(samples.agl_m - h) <= LAYER_M
        try:
            circle = fit_circle(samples.v_east[near], samples.v_north[near])
        except EstimateError:
            continue
        d = np.array([circle.east, circle.north]) - of_truth(truth, [h])[:, 0]
        squares.append(min(float(np.hypot(*d)), 50.0) ** 2)
    return math.sqrt(np.mean(squares)) if squares else math.nan


def floor(truth: Truth) -> float:
    """RMS error of the true velocity of the air, gusts included, averaged over the 50 m about each height."""
    mean = of_truth(truth, truth.agl_m)
    squares = []
    for h in np.arange(0.0, float(truth.agl_m[0]) - LAYER_M + 1e-9, LAYER_M):
        near = np.abs(truth.agl_m - h) <= LAYER_M / 2.0
        air = mean[:, near] + np.stack([truth.gust_east[near], truth.gust_north[near]])
        squares.append(float(np.sum((air.mean(axis=1) - of_truth(truth, [h])[:, 0]) ** 2)))
    return math.sqrt(np.mean(squares))


def one(seed: int, ensemble: str, priors: Priors | None = None, beside: bool = True) -> dict[str, Any]:
    """Everything to be counted about one jump."""
    jump = MAKERS[ensemble](seed)
    truth, track = jump.truth, build_track(jump.recording)
    canopy = find_phases(track).canopy()
    if canopy is None:
        profile = undetermined_profile(np.array([0.0]), "no canopy flight found")
        return {"seed": seed, "style": truth.style, "rows": scored(profile, truth), "ms": 0.0, "n": 0}
    start = time.process_time()
    found = estimate_wind(track, canopy.start, canopy.stop, priors=priors)
    row: dict[str, Any] = {"seed": seed, "style": truth.style, "ms": 1000 * (time.process_time() - start)}
    row["n"] = found.t_s.size
    row["rows"] = scored(found.profile, truth)
    row["open"] = open_heights(row["rows"], truth)
    if beside and found.t_s.size:
        part = slice(canopy.start, canopy.stop)
        t, h = track.t_s[part], track.agl_m[part]
        use = find_settled(track, canopy.start, canopy.stop).counts & (h > FLARE_M)
        samples = from_positions(t[use], track.east_m[part][use], track.north_m[part][use], h[use])
        row["known"] = scored(known_airspeed(track, truth, samples), truth)
        row["circle"], row["floor"] = per_layer(samples, truth), floor(truth)
    return row


def spread(values: Iterable[float]) -> str:
    """Median and 90th percentile, as the table shows them."""
    known = [v for v in values if math.isfinite(v)]
    return f"{np.median(known):5.2f} median {np.percentile(known, 90):5.2f} p90" if known else "–"


def coverage(rows: list[tuple[float, float, float, bool, float]]) -> str:
    """How many heights lie in their 95 % and 50 % ellipses."""
    if not rows:
        return "–"
    distance = np.array([r[2] for r in rows])
    return f"{100 * np.mean(distance <= CHI2_95):5.1f} % in 95 %  {100 * np.mean(distance <= CHI2_50):5.1f} % in 50 %"


def measured(found: list[dict[str, Any]], key: str = "rows") -> list[tuple[float, float, float, bool, float]]:
    """All measured heights of all jumps."""
    return [r for f in found if key in f for r in f[key] if r[3]]


def share(found: list[dict[str, Any]]) -> float:
    """Measured heights of all between the ground and 50 m below the opening."""
    return len(measured(found)) / max(sum(len(f["rows"]) for f in found), 1)


def report_record(found: list[dict[str, Any]]) -> None:
    """The table of the ensemble of record."""
    joint, known = [rms(f["rows"]) for f in found], [rms(f["known"]) for f in found if "known" in f]
    print(f"circle fit per layer          {spread(f.get('circle', math.nan) for f in found)}")
    print(f"joint fit                     {spread(joint)}")
    print(
        f"  given the true airspeed     {spread(known)}   ratio {np.nanmedian(joint) / np.nanmedian(known):.3f}"
    )
    print(f"mean of the true air          {spread(f.get('floor', math.nan) for f in found)}")
    print(f"heights measured              {100 * share(found):.1f} %")
    print(f"truth inside                  {coverage(measured(found))}")
    print(f"  given the true airspeed     {coverage(measured(found, 'known'))}")
    for style in sorted({f["style"] for f in found}):
        some = [f for f in found if f["style"] == style]
        values = spread(rms(f["rows"]) for f in some)
        print(
            f"  {style:18s} {len(some):4d}  {values}  {coverage(measured(some))}  {100 * share(some):.0f} % measured"
        )
    for low, high in ((0, 25), (25, 125), (125, 325), (325, 625), (625, 1500)):
        some_rows = [r for r in measured(found) if low <= r[0] < high]
        size = math.sqrt(np.mean([r[1] ** 2 for r in some_rows])) if some_rows else math.nan
        print(f"  {low:4d}–{high:4d} m          rms {size:.2f}  {coverage(some_rows)}")
    ms = [f["ms"] for f in found]
    print(
        f"one estimate                  {np.median(ms):.0f} ms median, {np.percentile(ms, 90):.0f} ms p90, of {np.median([f['n'] for f in found]):.0f} samples"
    )


def report_other(name: str, found: list[dict[str, Any]]) -> None:
    """One line for another ensemble, and the heights that are further off than they say."""
    rows = measured(found)
    bad = [r for r in rows if r[1] > 3.0 * r[4]]
    print(
        f"{name:29s} {spread(rms(f['rows']) for f in found)}  {coverage(rows)}  {100 * share(found):.0f} % measured, {len(bad)} beyond 3 sd"
    )


def report_ways(run: Callable[..., list[dict[str, Any]]], seeds: range) -> None:
    """What each part is worth: the joint fit without it."""
    for name, priors in WAYS.items():
        found = run("record", seeds, priors=priors, beside=False)
        print(
            f"{name:52s} {spread(rms(f['rows']) for f in found)}  {coverage(measured(found))}  {100 * share(found):.0f} % measured",
            flush=True,
        )


def main() -> None:
    """Read the command line, run, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=900_000, help="first seed")
    parser.add_argument("--jumps", type=int, default=200)
    parser.add_argument("--harsh", type=int, default=100)
    parser.add_argument("--ambiguous", type=int, default=60)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--ways", action="store_true", help="what every part of the model is worth")
    args = parser.parse_args()
    with ProcessPoolExecutor(args.processes, mp_context=get_context("spawn")) as pool:

        def run(ensemble: str, seeds: range, **options: Any) -> list[dict[str, Any]]:
            return list(pool.map(partial(one, ensemble=ensemble, **options), seeds, chunksize=4))

        if args.ways:
            report_ways(run, range(args.first, args.first + args.jumps))
            return
        print(
            f"seeds {args.first} … {args.first + args.jumps - 1}; errors of the vector [m/s] at measured heights, RMS per jump"
        )
        report_record(run("record", range(args.first, args.first + args.jumps)))
        report_other("harsh ensemble", run("harsh", range(args.first, args.first + args.harsh), beside=False))
        found = run("ambiguous", range(args.first, args.first + args.ambiguous), beside=False)
        report_other("jumps with few headings", found)
        some = [r for f in found for r in f.get("open", [])]
        bad = sum(r[3] and r[1] > 3.0 * r[4] for r in some)
        print(
            f"  where they leave it open    {len(some)} heights, {sum(r[3] for r in some)} measured, {bad} of these beyond 3 sd"
        )


if __name__ == "__main__":
    main()
