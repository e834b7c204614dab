"""Many files on several processes: order does not matter, a crash or a hang costs its own file only."""

from __future__ import annotations

import os
from collections.abc import Iterator
from multiprocessing import active_children
from pathlib import Path
from types import SimpleNamespace

import pytest
from effort import no_hang
from season_fakes import fake_job, write_track

from analyser.batch.processes import Failed, awake_clock, run_processes
from analyser.batch.work import Answer, Job
from analyser.settings import Settings


def jobs(folder: Path, words: list[str]) -> list[Job]:
    return [Job(str(write_track(folder / f"{i:03d}.gpx", w)), Settings()) for i, w in enumerate(words)]


def answers(work: list[Job], processes: int = 2, timeout_s: float = 600.0) -> dict[str, Answer | Failed]:
    found = list(run_processes(iter(work), fake_job, processes=processes, timeout_s=timeout_s))
    assert len(found) == len(work)
    return {Path(job.path).stem: answer for job, answer in found}


@pytest.mark.parametrize("processes", [1, 2])
def test_every_job_is_answered_as_without_processes(tmp_path: Path, processes: int) -> None:
    work = jobs(tmp_path, [f"track {i}" for i in range(23)] + ["bad"])
    assert answers(work, processes) == {Path(j.path).stem: fake_job(j) for j in work}


def test_nothing_to_do_starts_nothing() -> None:
    assert list(run_processes(iter([]), fake_job, processes=2, timeout_s=1.0)) == []


def test_a_crash_costs_its_own_file_only(tmp_path: Path) -> None:
    words = [f"track {i}" for i in range(12)]
    words[3] = words[8] = "crash"
    found = answers(jobs(tmp_path, words))
    assert found["003"] == found["008"] == Failed("the process that read it crashed", again=True)
    assert sum(isinstance(a, Answer) for a in found.values()) == 10


def test_a_hang_costs_its_own_file_only_and_does_not_stall_the_rest(tmp_path: Path) -> None:
    """The clock stands still but while the hang is all that is left to wait for, so that no honest file meets the limit."""
    work = jobs(tmp_path, ["hang"] + [f"track {i}" for i in range(11)])
    found: list[tuple[Job, Answer | Failed]] = []
    seconds = 0.0

    def clock() -> float:
        nonlocal seconds
        seconds += 10.0 if len(found) == 8 else 0.0  # three wait behind the hang in its own process
        return seconds

    with no_hang():  # the hang itself would last ten minutes
        for answer in run_processes(iter(work), fake_job, processes=2, timeout_s=2.0, clock=clock):
            found.append(answer)
    reasons = {Path(job.path).stem: answer for job, answer in found}
    assert found[8] == (work[0], Failed("took longer than 2 s and was given up"))
    assert sum(isinstance(a, Answer) for a in reasons.values()) == 11


def test_a_process_killed_from_outside_costs_nothing(tmp_path: Path) -> None:
    """Two kills of one file's process are made good in the same run."""
    found = answers(jobs(tmp_path, ["killed twice"] + [f"track {i}" for i in range(5)]))
    assert all(isinstance(a, Answer) for a in found.values())


def test_time_in_which_the_run_was_stopped_does_not_count(monkeypatch: pytest.MonkeyPatch) -> None:
    moments = iter([100.0, 100.5, 101.0, 300.0, 300.5])
    monkeypatch.setattr("analyser.batch.processes.time", SimpleNamespace(monotonic=lambda: next(moments)))
    clock = awake_clock()
    assert [clock() for _ in range(4)] == [0.5, 1.0, 6.0, 6.5]


def test_an_unforeseen_error_in_the_work_is_a_failure_of_its_file(tmp_path: Path) -> None:
    found = answers(jobs(tmp_path, ["boom", "fine"]), processes=1)
    assert found["000"] == Failed("an unforeseen error: RuntimeError: boom")
    assert isinstance(found["001"], Answer)


def test_jobs_are_drawn_as_they_are_needed(tmp_path: Path) -> None:
    drawn = 0

    def source() -> Iterator[Job]:
        nonlocal drawn
        for job in jobs(tmp_path, [f"slow {i}" for i in range(40)]):
            drawn += 1
            yield job

    ahead = 0
    for done, _ in enumerate(run_processes(source(), fake_job, processes=2, timeout_s=600.0)):
        ahead = max(ahead, drawn - done)
    assert ahead <= 2 * 4 + 2


def test_leaving_early_ends_the_processes(tmp_path: Path) -> None:
    run = run_processes(
        iter(jobs(tmp_path, ["fine", "hang", "hang"])), fake_job, processes=1, timeout_s=600.0
    )
    next(run)
    with no_hang():  # the hang itself would last ten minutes
        run.close()  # type: ignore[attr-defined]
        for process in active_children():
            process.join()


def test_processes_use_one_thread_and_the_parent_keeps_its_own_setting(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", "3")
    (found,) = run_processes(iter(["OPENBLAS_NUM_THREADS"]), os.getenv, processes=1, timeout_s=600.0)
    assert found == ("OPENBLAS_NUM_THREADS", "1")
    assert os.environ["OPENBLAS_NUM_THREADS"] == "3"
