"""Speed as ratios in one run on one machine: ``python benchmarks/speed.py``.

Every figure is the CPU time (user and system, children included) of a fresh process, the least of several runs, over that of
a reference process: what the interpreter and the libraries need to load and to parse the same file. Compiled modules are kept,
as an installed package has them: the first run of each makes them.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from analyser.synthetic.scenario import record_jump
from analyser.synthetic.truth import Fixes
from analyser.synthetic.write import fit_bytes, gpx_bytes

ENVIRONMENT = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
ENVIRONMENT.pop("PYTHONDONTWRITEBYTECODE", None)
IMPORTS = "import numpy, scipy.optimize"


def cpu(words: list[str], runs: int) -> float:
    """Least CPU time [s] of a command over some runs, its output thrown away."""
    best = float("inf")
    for _ in range(runs):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(
            words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=ENVIRONMENT, check=True
        )
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        best = min(best, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return best


def peak_mb(words: list[str]) -> float:
    """Peak memory [MB] of a command, measured in a process of its own."""
    script = (
        "import resource, subprocess, sys;"
        "subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, check=True);"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, *words], capture_output=True, text=True, env=ENVIRONMENT, check=True
    )
    return int(done.stdout) / 1024.0


def fixes(count: int, seed: int = 7) -> Fixes:
    """A 10 Hz recording of one jump, brought to ``count`` fixes by waiting on the ground before it or by thinning."""
    jump = record_jump(seed).recording
    n = len(jump)
    if count < n:
        keep = np.unique(np.linspace(0, n - 1, count).astype(int))
        rows = [a[keep] for a in (jump.time_s, jump.lat_deg, jump.lon_deg, jump.altitude_m)]
    else:
        extra = count - n
        wait = jump.time_s[0] - 0.1 * np.arange(extra, 0, -1)
        rng = np.random.default_rng(1)
        still = [
            a[0] + s * rng.standard_normal(extra)
            for a, s in ((jump.lat_deg, 3e-6), (jump.lon_deg, 3e-6), (jump.altitude_m, 0.3))
        ]
        rows = [np.concatenate([wait, jump.time_s])]
        rows += [
            np.concatenate([s, a])
            for s, a in zip(still, (jump.lat_deg, jump.lon_deg, jump.altitude_m), strict=True)
        ]
    none = np.full(rows[0].shape, np.nan)
    return Fixes(*rows, none, none, np.zeros(none.shape, dtype=bool), rows[0])


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument(
        "--sizes", type=int, nargs="*", default=[1500, 15000, 150000], help="fixes, for the last table"
    )
    args = parser.parse_args()
    python = sys.executable
    crabline = [python, "-m", "analyser"]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        ENVIRONMENT["PYTHONPYCACHEPREFIX"] = str(folder / "compiled")
        rows = fixes(15_000)
        gpx, fit = folder / "t.gpx", folder / "t.fit"
        gpx.write_bytes(gpx_bytes(rows, name="speed"))
        fit.write_bytes(fit_bytes(rows))
        read_gpx = f"import gpxpy, gpxpy.parser, xml.etree.ElementTree as E; gpxpy.parser.mod_etree = E; gpxpy.parse(open({str(gpx)!r}))"
        read_fit = f"import fitparse; list(fitparse.FitFile({str(fit)!r}).get_messages())"
        base = {
            "typer": cpu([python, "-c", "import typer"], args.runs),
            "gpxpy": cpu([python, "-c", read_gpx], args.runs),
            "gpx": cpu([python, "-c", f"{IMPORTS}; {read_gpx}"], args.runs),
            "fit": cpu([python, "-c", f"{IMPORTS}; {read_fit}"], args.runs),
        }
        page = ["--html", str(folder / "p.html"), "--json", str(folder / "p.json")]
        ours = {
            "help": cpu([*crabline, "--help"], args.runs),
            "gpx": cpu([*crabline, "debrief", str(gpx), "--json", "-"], args.runs),
            "page": cpu([*crabline, "debrief", str(gpx), *page], args.runs),
            "fit": cpu([*crabline, "debrief", str(fit), "--json", "-"], args.runs),
        }
        print("| what | CPU s | against | CPU s | ratio | bound |\n| --- | --- | --- | --- | --- | --- |")
        for text, a, reference, b, bound in (
            ("crabline --help", "help", "import typer", "typer", 1.25),
            ("debrief of 15,000 fixes, GPX, JSON", "gpx", "gpxpy.parse alone", "gpxpy", 3.0),
            ("the same", "gpx", "numpy, scipy.optimize, gpxpy.parse", "gpx", 1.8),
            ("the same with the page", "page", "numpy, scipy.optimize, gpxpy.parse", "gpx", 2.5),
            ("debrief of 15,000 fixes, FIT, JSON", "fit", "numpy, scipy.optimize, fitparse", "fit", 1.8),
        ):
            print(
                f"| {text} | {ours[a]:.2f} | {reference} | {base[b]:.2f} | {ours[a] / base[b]:.2f} | ≤ {bound} |"
            )
        print("\n| fixes | CPU s | µs per fix | peak MB | bound MB |\n| --- | --- | --- | --- | --- |")
        for count in args.sizes:
            gpx.write_bytes(gpx_bytes(fixes(count), name="speed"))
            words = [*crabline, "debrief", str(gpx), "--json", "-"]
            seconds = cpu(words, min(args.runs, 3))
            print(
                f"| {count} | {seconds:.2f} | {1e6 * seconds / count:.0f} | {peak_mb(words):.0f} | {120 + count / 1024:.0f} |"
            )
        words = [*crabline, "debrief", str(fit), "--json", "-"]
        found = json.loads(
            subprocess.run(words, capture_output=True, text=True, env=ENVIRONMENT, check=True).stdout
        )
        print(
            f"\n{found['source']['points']} fixes at {found['source']['rate_hz']} Hz, {len(found['winds'])} heights"
        )


if __name__ == "__main__":
    main()
