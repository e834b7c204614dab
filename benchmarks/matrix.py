"""Every kind of jump with every receiver: are the phases right or refused, and does any result lie beyond its stated error?

Run: python benchmarks/matrix.py [FIRST_SEED] [SEEDS] [--kinds A,B] [--receivers A,B] [--each]. The rows of each file go through the
cleaning of the importers, faults and all. Verdicts: "right" all boundaries within 4 s (or within the hole of the recording they lie
in); "said" the phases differ from the truth and a note says what could not be seen; "refused" no jump, with a reason; "wrong".
"""

from __future__ import annotations

import argparse
import math
from collections import Counter, defaultdict
from dataclasses import dataclass, field

import numpy as np
import tests_path  # noqa: F401
from numpy.typing import NDArray
from worlds.receivers import RECEIVERS

from analyser.errors import AnalyserError
from analyser.importers.drop_unusable import clean
from analyser.importers.raw import RawFixes
from analyser.importers.recording import Recording
from analyser.legs import find_legs
from analyser.phases import Phases, find_phases
from analyser.phases.thresholds import PHASES
from analyser.synthetic.kinds import KINDS, kind_jump
from analyser.synthetic.truth import Fixes, SyntheticJump
from analyser.track import Track, build_track
from analyser.wind.estimate import estimate_wind

Vector = NDArray[np.float64]
RIDES = ("ride down", "low circuit")
SAYS = (
    "phase-in-a-hole",
    "exit-not-seen",
    "starts-under-canopy",
    "starts-in-air",
    "starts-in-free-fall",
    "landing-in-a-hole",
    "stops-in-air",
)


@dataclass
class Results:
    """Deviations of results that were stated with an error, in units of it."""

    winds: list[float] = field(default_factory=list)
    turns: list[float] = field(default_factory=list)
    places: list[float] = field(default_factory=list)
    times: list[float] = field(default_factory=list)

    def everything(self) -> Vector:
        """All of them."""
        return np.abs(np.array(self.winds + self.turns + self.places + self.times))


def as_read(jump: SyntheticJump) -> Recording:
    """The rows of the file through the importers' cleaning."""
    f = jump.fixes
    raw = RawFixes(
        "gpx",
        f.time_s,
        f.lat_deg,
        f.lon_deg,
        f.altitude_m,
        f.speed_mps,
        f.course_deg,
        np.zeros(len(f), dtype=np.int64),
    )
    return clean(raw)


def true_times(fixes: Fixes, recording: Recording, track: Track) -> Vector:
    """When each fix of the track was really taken [UTC s], found again by its place; NaN where the place is not unique."""
    keys = list(zip(fixes.lat_deg.tolist(), fixes.lon_deg.tolist()))
    seen = Counter(keys)
    known = {k: t for k, t in zip(keys, fixes.true_s.tolist()) if seen[k] == 1}
    return np.array(
        [known.get(k, np.nan) for k in zip(recording.lat_deg.tolist(), recording.lon_deg.tolist())]
    )


def boundaries_off(jump: SyntheticJump, track: Track, phases: Phases, true_s: Vector) -> list[str]:
    """The boundaries further than 4 s from the truth, the sampling interval around them allowed for."""
    ok = np.isfinite(true_s)
    off = []
    truth = {(p.name, k): p.start_utc_s for k, p in enumerate(jump.truth.phases)}
    for k, (name, at) in enumerate((p.name, p.start_s) for p in phases.intervals):
        if k == 0 or (name, k) not in truth:
            continue
        real = float(np.interp(at, track.t_s[ok], true_s[ok]))
        i = int(np.clip(np.searchsorted(track.t_s, at), 1, len(track) - 1))
        hole = float(np.max(np.diff(track.t_s[i - 1 : i + 2])))
        if abs(real - truth[(name, k)]) > max(4.0, hole + 1.0):
            off.append(f"{name} {real - truth[(name, k)]:+.1f} s")
    return off


def verdict(jump: SyntheticJump, track: Track, phases: Phases, true_s: Vector) -> tuple[str, str]:
    """Verdict on the phases and what was wrong."""
    ride = jump.truth.jump in RIDES
    if phases.kind == "no jump":
        return ("right" if ride else "refused"), phases.reason
    if ride:
        return "wrong", "a jump that was none"
    names = [p.name for p in phases.intervals]
    off = boundaries_off(jump, track, phases, true_s)
    if names == [p.name for p in jump.truth.phases]:
        return ("wrong", ", ".join(off)) if off else ("right", "")
    said = [n.code for n in phases.notes if n.code in SAYS]
    return ("said", " ".join(said)) if said else ("wrong", " ".join(names))


def collect(
    jump: SyntheticJump, track: Track, phases: Phases, results: Results, true_s: Vector | None = None
) -> None:
    """Winds called measured, turn heights, landing place and time, each against the truth in its own errors.

    The place is that of the fix at the landing, whatever the clock says: the error of the clock is no excuse there.
    """
    canopy = phases.canopy()
    truth = jump.truth
    if canopy is None or phases.kind == "no jump" or canopy.stop - canopy.start < 20:
        return
    wind = estimate_wind(track, canopy.start, canopy.stop).profile
    for k, agl in enumerate(wind.agl_m):
        if wind.status[k] == "measured" and truth.agl_m.size and agl <= truth.agl_m.max():
            east, north = truth.wind(agl)
            sd = np.sqrt(np.diag(wind.covariance))[[k, k + wind.agl_m.shape[0]]]
            results.winds += [
                float((wind.east[k] - east) / sd[0]),
                float((wind.north[k] - north) / sd[1]),
            ]
    if phases.landing_s is None or truth.landing_lat is None or truth.landing_lon is None:
        return
    flown = find_legs(track, canopy.start, canopy.stop, wind, landing_s=phases.landing_s)
    for gate in truth.gates:
        mine = flown.gate(gate.name)  # type: ignore[arg-type]
        if mine is not None:
            results.turns.append((mine.agl_m - gate.agl_m) / mine.agl_sd_m)
    east, north = track.frame.to_local(truth.landing_lat, truth.landing_lon)
    at = [np.interp(phases.landing_s, track.t_s, v) for v in (track.east_m, track.north_m)]
    sd_s = phases.landing_sd_s or 0.0
    if true_s is not None and truth.landing_utc_s is not None and np.isfinite(true_s).any():
        known = np.isfinite(true_s)
        really = float(np.interp(phases.landing_s, track.t_s[known], true_s[known]))
        results.times.append((really - truth.landing_utc_s) / sd_s)
    speed = 6.0 * math.sqrt(max(sd_s**2 - PHASES.clock_sd_s**2, 0.0))
    results.places += [
        float((a - b) / np.hypot(track.position_sd_m, speed)) for a, b in zip(at, (east, north))
    ]


def one(kind: str, receiver: str, seed: int, results: Results) -> tuple[str, str]:
    """One cell of the matrix."""
    jump = kind_jump(seed, kind, receiver=RECEIVERS[receiver])
    try:
        recording = as_read(jump)
        track = build_track(recording)
    except AnalyserError as error:
        return "refused", str(error)
    phases = find_phases(track)
    true_s = true_times(jump.fixes, recording, track)
    collect(jump, track, phases, results, true_s)
    return verdict(jump, track, phases, true_s)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("first", type=int, nargs="?", default=0)
    parser.add_argument("seeds", type=int, nargs="?", default=1)
    parser.add_argument("--kinds", default=",".join(KINDS))
    parser.add_argument("--receivers", default=",".join(RECEIVERS))
    parser.add_argument("--each", action="store_true", help="list the cells that are not right")
    args = parser.parse_args()
    table: dict[str, Counter[str]] = defaultdict(Counter)
    beyond: dict[str, list[float]] = defaultdict(list)
    results = Results()
    for receiver in args.receivers.split(","):
        cell = Results()
        for kind in args.kinds.split(","):
            for seed in range(args.first, args.first + args.seeds):
                word, why = one(kind, receiver, seed, cell)
                table[receiver][word] += 1
                if args.each and word != "right":
                    print(f"{word:8} {receiver}, {kind}, seed {seed}: {why}")
        beyond[receiver] = cell.everything().tolist()
        results.winds += cell.winds
        results.turns += cell.turns
        results.places += cell.places
        results.times += cell.times
    print(f"{'receiver':26} right  said refused wrong   results, beyond 3 sd")
    for receiver, counts in table.items():
        z = np.array(beyond[receiver])
        share = f"{z.size:6d} {np.mean(z > 3.0):7.2%}" if z.size else "     -"
        print(
            f"{receiver:26} {counts['right']:5d} {counts['said']:5d} {counts['refused']:7d} {counts['wrong']:5d}   {share}"
        )
    for label in ("winds", "turns", "places", "times"):
        values = getattr(results, label)
        z = np.abs(np.array(values))
        if z.size:
            print(
                f"{label}: {z.size} results, {np.mean(z > 3.0):.2%} beyond 3 sd, {np.mean(z > 2.0):.2%} beyond 2 sd"
            )
    z = results.everything()
    print(f"all: {z.size} results, {np.mean(z > 3.0):.2%} beyond 3 sd")


if __name__ == "__main__":
    main()
