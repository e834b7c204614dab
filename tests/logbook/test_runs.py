"""Runs that are killed, and two at once: one logbook, nothing lost."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from logbook_made import dump, run, twelve_tracks
from season_fakes import write_track

from analyser.logbook import Logbook

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return twelve_tracks(tmp_path / "season")


SCRIPT = """
import sys
from pathlib import Path
sys.path[:0] = [{tests!r}]
from season_fakes import fake_job
from analyser.logbook import Logbook
from analyser.logbook.toml_keys import LOGBOOK_KEYS
from analyser.logbook.plans import Plans
from analyser.batch.update import update
def serial(jobs):
    for i, job in enumerate(jobs):
        if i == {stop}:
            sys.stdin.readline()
        print(i, flush=True)
        yield job, fake_job(job)
with Logbook({book!r}) as logbook:
    print("open", flush=True)
    update(logbook, [Path({folder!r})], Plans(), serial)
"""


def start(folder: Path, stop: int = -1) -> subprocess.Popen[str]:
    """A run of its own, which waits for ever at the job of number ``stop``."""
    book = str(folder / "logbook.sqlite")
    script = SCRIPT.format(tests=str(ROOT / "tests"), book=book, folder=str(folder), stop=stop)
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    return subprocess.Popen(
        [sys.executable, "-c", script],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=environment,
    )


def many(top: Path, n: int) -> Path:
    for i in range(n):
        write_track(top / f"{i:03d}.gpx", f"slow track {i} jumps={1 + i % 3}")
    return top


@pytest.mark.slow
def test_a_killed_run_goes_on_where_it_was(tmp_path: Path) -> None:
    calm = many(tmp_path / "calm", 40)
    run(calm)
    wild = many(tmp_path / "wild", 40)
    for seen in (3, 8, 5):
        process = start(wild, stop=12)
        assert process.stdout is not None
        while process.stdout.readline().strip() != str(seen):
            pass
        process.send_signal(signal.SIGKILL)
        process.communicate()
    with Logbook(wild / "logbook.sqlite") as logbook:
        assert 0 < logbook.count() < 79  # the kills came in the middle of the work
    last = run(wild)
    assert 0 < last.unchanged < 40
    assert dump(wild / "logbook.sqlite") == dump(calm / "logbook.sqlite")


def test_two_runs_at_once_give_one_logbook(tmp_path: Path) -> None:
    calm = many(tmp_path / "calm", 25)
    run(calm)
    both = many(tmp_path / "both", 25)
    processes = [start(both) for _ in range(2)]
    for process in processes:
        process.communicate()
        assert process.returncode == 0
    assert dump(both / "logbook.sqlite") == dump(calm / "logbook.sqlite")


def test_a_run_waits_for_another_that_writes(folder: Path) -> None:
    run(folder)
    write_track(folder / "may" / "new.gpx", "new")
    other = sqlite3.connect(folder / "logbook.sqlite", isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")
    release = threading.Timer(0.4, other.execute, ("COMMIT",))
    release.start()
    assert run(folder).debriefed == 1
    release.join()
    other.close()
