"""What every named receiver does to a track: `python benchmarks/receivers.py [--jumps N] [--seed S]` prints a Markdown table.

The same made-up jumps pass through each receiver of `analyser.synthetic.receivers`, are cleaned and made into tracks, and are compared with
their truth between opening and landing. Nothing here is an estimate of winds or legs.
"""

from __future__ import annotations

import argparse
import re
from collections import Counter

import numpy as np

from analyser.errors import AnalyserError
from analyser.importers.clean import clean
from analyser.importers.raw import RawFixes
from analyser.synthetic.receivers import RECEIVERS
from analyser.synthetic.scenario import record_jump
from analyser.synthetic.truth import Fixes, SyntheticJump
from analyser.track import Track, build_track


def raw_of(f: Fixes) -> RawFixes:
    """The rows of the made-up file as a reader hands them over."""
    columns = (f.time_s, f.lat_deg, f.lon_deg, f.altitude_m, f.speed_mps, f.course_deg)
    return RawFixes("gpx", *(c.copy() for c in columns), np.zeros(len(f), dtype=np.int64))


def errors(jump: SyntheticJump, track: Track) -> tuple[float, float, float, float]:
    """Root mean squares under canopy: horizontal velocity component, climb [m/s]; mean height error [m] and its stated sd."""
    truth = jump.truth
    utc = track.start_utc_s + track.t_s
    if "odd-date" in {n.code for n in track.quality.notes}:
        utc = utc + 1024 * 7 * 86400.0
    shift = (
        round((truth.t_utc_s[0] - utc[0]) / 43200.0) * 43200.0
    )  # a date the clock shift left half a day off
    utc = utc + shift
    at = (utc > truth.t_utc_s[0] + 3) & (utc < truth.t_utc_s[-1] - 3)

    def off(place: np.ndarray, v: np.ndarray) -> np.ndarray:
        return v[at] - np.interp(utc[at], truth.t_utc_s, np.gradient(place, truth.t_utc_s))

    level = np.concatenate([off(truth.east_m, track.v_east), off(truth.north_m, track.v_north)])
    height = track.agl_m[at] - np.interp(utc[at], truth.t_utc_s, truth.agl_m)
    return (
        float(np.sqrt(np.nanmean(level**2))),
        float(np.sqrt(np.nanmean(off(truth.agl_m, track.v_up) ** 2))),
        float(np.nanmean(height)),
        track.agl_sd_m,
    )


def row(name: str, seeds: range) -> str:
    """One line of the table."""
    found, grades, notes, refused = [], Counter(), Counter(), Counter()
    for seed in seeds:
        jump = record_jump(seed, receiver=RECEIVERS[name])
        try:
            track = build_track(
                clean(raw_of(jump.fixes)), origin=(jump.truth.target_lat, jump.truth.target_lon)
            )
        except AnalyserError as error:
            refused[re.sub(r"[0-9]+", "N", error.what)] += 1
            continue
        found.append(errors(jump, track))
        grades[track.quality.grade] += 1
        notes.update({n.code for n in track.quality.notes})
    if not found:
        what = "; ".join(w if len(w) < 60 else w[:57] + "…" for w in refused)
        return f"| {name} | – | – | – | – | refused: {what} |"
    v, up, height, sd = np.array(found).T
    said = ", ".join(f"`{code}` {count}" for code, count in notes.most_common()) or "–"
    grade = ", ".join(f"{g} {n}" for g, n in grades.most_common())
    return (
        f"| {name} | {np.sqrt(np.mean(v**2)):.2f} | {np.sqrt(np.mean(up**2)):.2f} | {np.sqrt(np.mean(height**2)):.1f} "
        f"({np.sqrt(np.mean((height / sd) ** 2)):.1f}) | {grade} | {said} |"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--jumps", type=int, default=12)
    parser.add_argument("--seed", type=int, default=8100)
    given = parser.parse_args()
    print(
        "| receiver | velocity, m/s | climb, m/s | height, m (in stated sd) | grade, of tracks | notes, of tracks |"
    )
    print("| --- | --- | --- | --- | --- | --- |")
    for name in RECEIVERS:
        print(row(name, range(given.seed, given.seed + given.jumps)), flush=True)


if __name__ == "__main__":
    main()
