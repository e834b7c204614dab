"""What every named receiver does to a jump: `python benchmarks/receivers.py [--jumps N] [--seed S] [--results]` prints a Markdown table.

The same made-up jumps pass through each receiver of `worlds.receivers`, are cleaned and made into tracks, and are compared with
their truth between opening and landing. With `--results` they go through the whole debrief instead: how far landing place and time, turn
heights and winds lie from the truth.
"""

from __future__ import annotations

import argparse
import math
import re
from collections import Counter
from dataclasses import dataclass

import numpy as np
import tests_path  # noqa: F401
from worlds.receivers import RECEIVERS

from analyser.debrief import Debrief, debrief_recording
from analyser.errors import AnalyserError
from analyser.importers.drop_unusable import clean
from analyser.importers.raw import RawFixes
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


@dataclass(frozen=True, slots=True, eq=False)
class Moved:
    """Results minus truth and their stated sds: place [m], landing time [s], turn heights [m], components of measured winds [m/s]; (k, 2) each."""

    place: np.ndarray
    time: np.ndarray
    turns: np.ndarray
    winds: np.ndarray


def moved(jump: SyntheticJump, found: Debrief) -> Moved:
    """How far the results of a debrief lie from the truth; empty where it states none."""
    truth, track = jump.truth, found.track
    place, time, turns, winds = [], [], [], []
    landed = found.phases.landing_s
    if found.landing is not None and truth.landing_lat is not None and truth.landing_lon is not None:
        here = track.frame.to_local(found.landing.lat, found.landing.lon)
        there = track.frame.to_local(truth.landing_lat, truth.landing_lon)
        place = [(float(a - b), track.position_sd_m) for a, b in zip(here, there)]
    if landed is not None and truth.landing_utc_s is not None:
        late = landed + track.start_utc_s - truth.landing_utc_s
        late -= (
            round(late / 43_200.0) * 43_200.0
        )  # a clock that is wrong by half days or weeks throughout can not be known
        time = [(late, found.phases.landing_sd_s or math.nan)]
    for gate in truth.gates if found.flown else ():
        mine = found.flown.gate(gate.name) if found.flown else None
        if mine is not None and mine.agl_m is not None:
            turns.append((mine.agl_m - gate.agl_m, mine.agl_sd_m))
    profile = found.wind.profile if found.wind else None
    for k, agl in enumerate(profile.agl_m if profile else ()):
        if profile is not None and profile.status[k] == "measured" and agl <= truth.agl_m.max():
            sds = np.sqrt(np.diag(profile.covariance))[[k, k + profile.agl_m.shape[0]]]
            pairs = zip((profile.east[k], profile.north[k]), truth.wind(agl), sds)
            winds += [(float(a - b), float(sd)) for a, b, sd in pairs]
    return Moved(*(np.array(rows, dtype=np.float64).reshape(-1, 2) for rows in (place, time, turns, winds)))


def result_row(name: str, seeds: range) -> str:
    """One line of the table of results."""
    found, kinds = [], Counter()
    for seed in seeds:
        jump = record_jump(seed, receiver=RECEIVERS[name])
        try:
            whole = debrief_recording(clean(raw_of(jump.fixes)))
        except AnalyserError:
            kinds["refused"] += 1
            continue
        kinds[whole.phases.kind] += 1
        found.append(moved(jump, whole))
    cells = []
    for part in ("place", "time", "turns", "winds"):
        rows = np.concatenate([getattr(m, part) for m in found]) if found else np.zeros((0, 2))
        if rows.shape[0] == 0:
            cells.append("–")
            continue
        off, z = rows[:, 0], rows[:, 0] / rows[:, 1]
        cells.append(
            f"{np.sqrt(np.mean(off**2)):.2f} ({np.sqrt(np.mean(z**2)):.1f}; {np.count_nonzero(np.abs(z) > 3.0)}/{z.size})"
        )
    what = ", ".join(f"{k} {n}" for k, n in kinds.most_common())
    return f"| {name} | {' | '.join(cells)} | {what} |"


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
    parser.add_argument("--results", action="store_true", help="of the whole debrief")
    given = parser.parse_args()
    if given.results:
        print("| receiver | landing place, m | landing time, s | turn heights, m | winds, m/s | |")
        print("| --- | --- | --- | --- | --- | --- |")
        for name in RECEIVERS:
            print(result_row(name, range(given.seed, given.seed + given.jumps)), flush=True)
        return
    print(
        "| receiver | velocity, m/s | climb, m/s | height, m (in stated sd) | grade, of tracks | notes, of tracks |"
    )
    print("| --- | --- | --- | --- | --- | --- |")
    for name in RECEIVERS:
        print(row(name, range(given.seed, given.seed + given.jumps)), flush=True)


if __name__ == "__main__":
    main()
