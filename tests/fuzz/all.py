"""Every fuzzer one after the other: ``python tests/fuzz/all.py --minutes 20 --seed 1``, in minutes of CPU.

Readers by format, whole debriefs, and what people give beside tracks share the minutes; each has a process of its own. Prints the table
of docs/robustness.md, and the broken cases where there are any. Exit code 1 where a rule was broken or a run came to no end.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple

HERE = Path(__file__).resolve().parent
READERS = ("gpx", "fit", "igc", "nmea", "tcx", "csv")
GIVEN = ("plan", "corrections", "winds", "logbook")
RUNS = {
    **{f"reader, {name}": ("mutate.py", "--only", name) for name in READERS},
    "whole debriefs": ("mutate.py", "--whole"),
    **{name: ("given.py", "--only", name) for name in GIVEN},
}
LAST = re.compile(r"(\d+)  cases; slowest ([\d.]+) s; peak (\d+) MB; broken cases in (.+)")
HEAD = "| run | cases | used | used, with notes | refused | broken | slowest | peak |\n|" + " --- |" * 8


class Found(NamedTuple):
    """What one run printed."""

    counts: Counter[str]
    slowest_s: float
    peak_mb: float
    keep: str
    errors: str
    code: int


def told(name: str, seconds: float, seed: int) -> Found:
    """Run one of them."""
    script, *words = RUNS[name]
    command = [sys.executable, str(HERE / script), *words, "--seconds", f"{seconds:.1f}", "--seed", str(seed)]
    done = subprocess.run(command, capture_output=True, text=True)
    counts = Counter[str]()
    last = None
    for line in done.stdout.splitlines():
        last = LAST.search(line) or last
        number, _, what = line.strip().partition("  ")
        if number.isdigit() and not LAST.search(line):
            counts[what] += int(number)
    if last is None:
        return Found(Counter({"BROKEN, no end": 1}), 0.0, 0.0, "", done.stderr, 1)
    return Found(counts, float(last[2]), float(last[3]), last[4], done.stderr, done.returncode)


def row(name: str, found: Found) -> str:
    """One line of the table."""
    kinds = Counter[str]()
    for what, count in found.counts.items():
        kind = next((k for k in ("BROKEN", "refused", "with notes") if k in what), "used")
        kinds[kind] += count
    cells = (sum(kinds.values()), kinds["used"], kinds["with notes"], kinds["refused"], kinds["BROKEN"])
    numbers = " | ".join(f"{n:,}" for n in cells)
    return f"| {name} | {numbers} | {found.slowest_s:.2f} s | {found.peak_mb:.0f} MB |"


def main() -> int:
    """Run all and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=20.0, help="of CPU, over all runs")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    given = parser.parse_args()
    seconds = 60.0 * given.minutes / len(RUNS)
    print(f"{given.minutes:g} CPU minutes, seeds {given.seed} to {given.seed + len(RUNS) - 1}\n\n{HEAD}")
    broken = False
    with ThreadPoolExecutor(given.jobs) as pool:
        seeds = range(given.seed, given.seed + len(RUNS))
        for name, found in zip(RUNS, pool.map(told, RUNS, [seconds] * len(RUNS), seeds), strict=True):
            print(row(name, found), flush=True)
            if found.code:
                broken = True
                kept = [what for what in found.counts if what.startswith("BROKEN")]
                print(f"{name}: {', '.join(kept)}; kept in {found.keep}\n{found.errors}", file=sys.stderr)
    return int(broken)


if __name__ == "__main__":
    raise SystemExit(main())
