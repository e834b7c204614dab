"""kill -9 at random moments of a season run, then a re-run: are the exports those of an undisturbed one, byte for byte?

Run: python benchmarks/season_kills.py [KILLS] [JUMPS_EACH]. Uses the command itself, two processes.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from analyser.synthetic.season import write_season

ROOT = Path(__file__).resolve().parent.parent


def command(folder: Path, out: Path | None = None) -> list[str]:
    """The season command over a folder, with exports into ``out``."""
    rest = (
        []
        if out is None
        else [
            "--csv",
            str(out / "rows.csv"),
            "--json",
            str(out / "season.json"),
            "--html",
            str(out / "page.html"),
        ]
    )
    return [sys.executable, "-m", "analyser", "season", str(folder), "--jobs", "2", *rest]


def environment() -> dict[str, str]:
    """One thread for linear algebra."""
    return {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}


def finish(folder: Path, out: Path) -> dict[str, bytes]:
    """Run to the end; the exports."""
    out.mkdir()
    subprocess.run(command(folder, out), env=environment(), check=True, stdout=subprocess.DEVNULL)
    return {path.name: path.read_bytes() for path in sorted(out.iterdir())}


def main() -> None:
    """Kill, go on, compare."""
    kills, jumps = (int(a) for a in (sys.argv[1:] + ["20", "10"][len(sys.argv) - 1 :]))
    rng = random.Random(7)
    with tempfile.TemporaryDirectory() as name:
        top = Path(name)
        write_season(top / "calm" / "season", 7, jumps)
        write_season(top / "wild" / "season", 7, jumps)
        begin = time.perf_counter()
        calm = finish(top / "calm" / "season", top / "calm" / "out")
        whole = time.perf_counter() - begin
        for i in range(kills):
            process = subprocess.Popen(
                command(top / "wild" / "season"),
                env=environment(),
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
            time.sleep(rng.uniform(0.2, max(1.5, 0.25 * whole)))
            process.send_signal(signal.SIGKILL)
            ended = process.wait()
            print(
                f"kill {i + 1:2d}: {'killed' if ended == -signal.SIGKILL else f'had ended with {ended}'}",
                flush=True,
            )
        wild = finish(top / "wild" / "season", top / "wild" / "out")
    for file, data in calm.items():
        print(
            f"{file}: {'the same, byte for byte' if wild[file] == data else 'DIFFERENT'} ({len(data)} bytes)"
        )
    sys.exit(calm != wild)


if __name__ == "__main__":
    main()
