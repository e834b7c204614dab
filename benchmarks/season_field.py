"""A field of a federation: made-up jumps of hundreds of pupils over four years; what its pages cost, and one more jump.

Run: python benchmarks/season_field.py [PUPILS] [JUMPS EACH] [FOLDER]. Every jump is a small file whose "debrief" is a row drawn at random with the
document of a sample track, so that the time is that of the logbook, the statistics and the pages. The CPU time is that of the parent.
"""

from __future__ import annotations

import json
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import tests_path  # noqa: F401
from season_made import HABITS, _jump

from analyser import api
from analyser.batch.run import SeasonResult, run_season
from analyser.batch.work import Answer, Job, JumpAnswer
from analyser.cli.many import write_coach, write_season
from analyser.cli.talk import write_sheets
from analyser.load.thresholds import LOAD
from analyser.logbook import Logbook
from analyser.logbook.jump_columns import COLUMNS

ROOT = Path(__file__).resolve().parent.parent
T = TypeVar("T")
KINDS = list(HABITS.values())
SEED = 5800
LOADS_A_DAY = 36  # every 18 minutes: loads of some eleven
START = datetime.fromisoformat("2028-04-01T10:00:00+00:00")


@cache
def sample_document() -> str:
    """The document of a sample jump, so that logbook and sheets have their real size."""
    plan = ROOT / "shared" / "plans" / "steady_breeze.toml"
    return json.dumps(api.debrief(ROOT / "sample_tracks" / "steady_breeze.fit", plan=plan).document())


def made_up(job: Job) -> Answer:
    """A row drawn at random in place of the debrief; the file says of which pupil and which jump."""
    pupil, i, n, document = Path(job.path).read_text(encoding="utf-8")[5:-6].split(" ", 3)
    rng = np.random.default_rng(np.random.SeedSequence([SEED, int(pupil), int(i)]))
    day = 1400.0 * float(i) / float(n) + float(rng.integers(LOADS_A_DAY)) / 80.0
    when = datetime.fromtimestamp(
        START.timestamp() + 86_400.0 * day + float(rng.uniform(0.0, 100.0)), START.tzinfo
    )
    row: dict[str, Any] = _jump(rng, "", KINDS[int(pupil) % len(KINDS)], int(i), int(n), when, True)
    told = json.dumps(moved(json.loads(document), when))
    return Answer((JumpAnswer(1, {name: row[name] for name in COLUMNS}, told),))


def moved(document: dict[str, Any], landing: datetime) -> dict[str, Any]:
    """A document of that moment: its phases, and the winds that are compared with those of the others in the load."""
    spans = (("free fall", 300.0, 250.0, 4000.0), ("canopy", 250.0, 0.0, 1000.0))
    phases = [
        {
            "phase": name,
            "start_utc": (landing - timedelta(seconds=begin)).isoformat(),
            "end_utc": (landing - timedelta(seconds=end)).isoformat(),
            "start_agl_m": high,
        }
        for name, begin, end, high in spans
    ]
    rng = np.random.default_rng(int(landing.timestamp()))
    winds = [
        {
            "agl_m": h,
            "east_mps": 3.0 + 0.6 * float(rng.standard_normal()),
            "north_mps": 0.6 * float(rng.standard_normal()),
            "sd_east_mps": 0.6,
            "sd_north_mps": 0.6,
            "correlation": 0.0,
        }
        for h in LOAD.heights_m
    ]
    return document | {"phases": phases, "winds": winds}


def write_tracks(top: Path, pupils: int, jumps: int) -> None:
    """A folder for each pupil; the latest jumps, which the sheets draw, carry a whole document."""
    for pupil in range(pupils):
        folder = top / f"{pupil:04d}"
        folder.mkdir(parents=True)
        (folder / "logbook.toml").write_text(
            f'[jumper]\nname = "Pupil {pupil:04d}"\n[canopy]\nname = "Wide 230"\n'
        )
        for i in range(jumps):
            write_track(folder, pupil, i, jumps, jumps - i <= 7)


def write_track(folder: Path, pupil: int, i: int, jumps: int, whole: bool) -> None:
    document = sample_document() if whole else "{}"
    (folder / f"{i:04d}.gpx").write_text(f"<gpx>{pupil} {i} {jumps} {document}</gpx>", encoding="utf-8")


def timed(name: str, work: Callable[[], T]) -> T:
    """Run, and print what it took."""
    cpu, wall = time.process_time(), time.perf_counter()
    found = work()
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    print(
        f"{name:28} {time.process_time() - cpu:7.1f} s CPU {time.perf_counter() - wall:7.1f} s   parent {memory:4.0f} MB",
        flush=True,
    )
    return found


def pages(result: SeasonResult, out: Path) -> None:
    """Everything a coach gets."""
    with Logbook(result.logbook, sound=True) as book:
        write_sheets(book, result.season, out / "talks", "uk", False)
        write_season(book, result.season, out / "season.html", "uk", False, None, None, "")
        write_coach(result.season, out / "coach.html", "uk", False, out / "season.html", out / "talks")


def main(pupils: int, jumps: int, top: Path) -> None:
    """Print a line for each stage, and the largest page."""
    write_tracks(top / "tracks", pupils, jumps)

    def run() -> SeasonResult:
        return run_season([top / "tracks"], jobs=1, work=made_up)

    result = timed("logbook and statistics", run)
    timed("pages", lambda: pages(result, top / "out"))
    made = list((top / "out").rglob("*.html"))
    print(f"{len(made)} pages, the largest {max(p.stat().st_size for p in made) / 1e6:.2f} MB")
    result = timed("again, nothing new", run)
    write_track(top / "tracks" / "0000", 0, jumps, jumps, True)
    result = timed("one more jump: figures", run)
    timed("one more jump: pages", lambda: pages(result, top / "out"))


if __name__ == "__main__":
    counts = [int(a) for a in (sys.argv[1:3] + ["400", "50"][len(sys.argv[1:3]) :])]
    if len(sys.argv) > 3:
        main(*counts, Path(sys.argv[3]))
    else:
        with tempfile.TemporaryDirectory() as name:
            main(*counts, Path(name))
