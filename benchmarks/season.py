"""What a season costs: cold on one and on two processes, an unchanged re-run, memory of the parent.

Run: python benchmarks/season.py [JUMPS ...] (default 30 300; multiples of 6). Writes its made-up tracks to a temporary folder.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from analyser.synthetic.season import write_season

ROOT = Path(__file__).resolve().parent.parent
ONE_RUN = """
import json, os, resource, sys, time
from analyser.batch.run import run_season
if __name__ == "__main__":
    begin = time.perf_counter()
    result = run_season([sys.argv[1]], logbook=sys.argv[2], jobs=int(sys.argv[3]))
    seconds = time.perf_counter() - begin
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    print(json.dumps({
        "seconds": seconds,
        "jumps": result.season.jumps,
        "debriefed": result.counts.debriefed,
        "parent_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        "worker_cpu": children.ru_utime + children.ru_stime,
    }))
"""


@dataclass(frozen=True, slots=True)
class Run:
    """One run in an interpreter of its own: wall time [s], jumps in the logbook, tracks debriefed, memory [MB], CPU of the workers [s]."""

    seconds: float
    jumps: int
    debriefed: int
    parent_mb: float
    worker_cpu: float


def one_run(folder: Path, logbook: Path, processes: int) -> Run:
    """Bring a logbook up to date in a fresh interpreter."""
    script = folder.parent / "one_run.py"
    script.write_text(ONE_RUN, encoding="utf-8")
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    command = [sys.executable, str(script), str(folder), str(logbook), str(processes)]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
    return Run(**json.loads(done.stdout))


def measure(jumps: int) -> None:
    """One line of the table."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "season"
        write_season(folder, seed=7, jumps=jumps // 6)
        two = one_run(folder, Path(name) / "two.sqlite", 2)
        one = one_run(folder, Path(name) / "one.sqlite", 1)
        again = one_run(folder, Path(name) / "two.sqlite", 2)
        size = (Path(name) / "two.sqlite").stat().st_size / 1e6
    print(
        f"{two.jumps:6d} {one.seconds:9.1f} {two.seconds:9.1f} {two.seconds / one.seconds:8.2f} "
        f"{1000 * one.seconds / one.jumps:9.0f} {1000 * two.worker_cpu / two.jumps:9.0f} {again.seconds:8.2f} "
        f"{again.debriefed:6d} {two.parent_mb:9.0f} {size:8.1f}",
        flush=True,
    )


def main() -> None:
    """Print the table."""
    sizes = [int(a) for a in sys.argv[1:]] or [30, 300]
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}, {time.strftime('%Y-%m-%d')}")
    print(" jumps  1 proc s  2 proc s  2 over 1  ms/jump  CPU ms/jump  again s  redone  parent MB  file MB")
    for jumps in sizes:
        measure(jumps)


if __name__ == "__main__":
    main()
