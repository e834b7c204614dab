"""run_processes: the same work for many files on several processes; a crash or a hang costs its own file only."""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from multiprocessing import connection, get_context, parent_process
from typing import Final, Generic, NamedTuple, TypeVar

__all__ = ["Failed", "Slot", "awake_clock", "run_processes"]

Job = TypeVar("Job")
Answer = TypeVar("Answer")

CHUNK: Final = 4  # files handed to one process at a time: enough that it never waits for the parent
TRIES: Final = (
    3  # a process may be killed from outside: its file is blamed only when that happens again and again
)
_POLL_S: Final = 0.5
_SLEPT_S: Final = 5.0  # the parent looks twice a second; a longer gap means that the run itself was stopped
_QUIET: Final = "ignore::UserWarning:multiprocessing.resource_tracker"
_THREADS: Final = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


class Failed(NamedTuple):
    """Instead of an answer: the process crashed or hung on this job; ``again`` where the file may not be to blame."""

    reason: str
    again: bool = False


def awake_clock() -> Callable[[], float]:
    """Seconds, without those in which this process was stopped (a suspended run is nobody's hang)."""
    last, total = time.monotonic(), 0.0

    def now() -> float:
        nonlocal last, total
        moment = time.monotonic()
        total += min(moment - last, _SLEPT_S)
        last = moment
        return total

    return now


class Slot(Generic[Job, Answer]):
    """One process with the jobs it was given; they run in order, so the first unfinished one is the one it works on."""

    def __init__(self, work: Callable[[Job], Answer], clock: Callable[[], float] | None = None) -> None:
        self._work = work
        self._clock = clock or awake_clock()
        self.queue: deque[tuple[Job, Future[Answer]]] = deque()
        self.crashes = 0
        self._start()

    def _start(self) -> None:
        self.pool = ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=_prepare)
        self.pid: Future[int] = self.pool.submit(os.getpid)
        self.since = float("inf")

    def give(self, job: Job) -> None:
        """Hand one more job to the process."""
        if not self.queue:
            self.since = float("inf")
        self.queue.append((job, self.pool.submit(self._work, job)))

    def restart(self, *, kill: bool) -> None:
        """A new process for the jobs that are left."""
        self.stop(kill=kill)
        jobs = [job for job, _ in self.queue]
        self.queue.clear()
        self._start()
        for job in jobs:
            self.give(job)

    def stop(self, *, kill: bool) -> None:
        """End the process; ``kill`` ends it in whatever it is doing (never one that died already)."""
        if kill and self.pid.done() and not self.pid.cancelled() and self.pid.exception() is None:
            with suppress(OSError):
                os.kill(self.pid.result(), getattr(signal, "SIGKILL", signal.SIGTERM))
        self.pool.shutdown(wait=not kill, cancel_futures=True)

    def collect(self, timeout_s: float) -> Iterator[tuple[Job, Answer | Failed]]:
        """The answers that are there, in order; deals with a crash or a hang of the job in front."""
        while self.queue:
            job, future = self.queue[0]
            if not future.done():
                now = self._clock()
                if self.pid.done() and self.since == float("inf"):
                    self.since = now
                if now - self.since <= timeout_s:
                    return
                self.queue.popleft()
                self.restart(kill=True)
                yield job, Failed(f"took longer than {timeout_s:g} s and was given up")
                continue
            crashed = False
            try:
                answer: Answer | Failed = future.result()
            except BrokenProcessPool:
                self.crashes += 1
                if self.crashes < TRIES:
                    self.restart(kill=False)
                    return
                answer = Failed("the process that read it crashed", again=True)
                crashed = True
            except Exception as error:
                answer = Failed(f"an unforeseen error: {type(error).__name__}: {error}")
            self.queue.popleft()
            self.since, self.crashes = self._clock(), 0
            if crashed:
                self.restart(kill=False)
            yield job, answer


def run_processes(
    jobs: Iterator[Job],
    work: Callable[[Job], Answer],
    *,
    processes: int,
    timeout_s: float,
    clock: Callable[[], float] | None = None,
) -> Iterator[tuple[Job, Answer | Failed]]:
    """Answers as they come, in no fixed order. ``jobs`` is drawn as needed; ``work`` must be importable by name.

    Each process (started afresh, one thread for linear algebra) holds at most CHUNK jobs. A job that outlasts ``timeout_s``
    is killed with its process; one that crashes its process is tried again, then given up; the others go on. ``clock``
    gives the seconds that count for the limit.
    """
    slots: list[Slot[Job, Answer]] = []
    clock = clock or awake_clock()
    with _one_thread():
        try:
            more = True
            while True:
                while more and (len(slots) < processes or min(len(s.queue) for s in slots) < CHUNK):
                    job = next(jobs, None)
                    if job is None:
                        more = False
                        break
                    _emptiest(slots, processes, work, clock).give(job)
                if not any(slot.queue for slot in slots):
                    return
                fronts = [slot.queue[0][1] for slot in slots if slot.queue]
                wait(fronts, timeout=min(_POLL_S, timeout_s), return_when=FIRST_COMPLETED)
                for slot in slots:
                    yield from slot.collect(timeout_s)
        finally:
            for slot in slots:
                slot.stop(kill=bool(slot.queue))


def _emptiest(
    slots: list[Slot[Job, Answer]],
    processes: int,
    work: Callable[[Job], Answer],
    clock: Callable[[], float],
) -> Slot[Job, Answer]:
    idle = [slot for slot in slots if not slot.queue]
    if not idle and len(slots) < processes:
        slots.append(Slot(work, clock))
        return slots[-1]
    return min(slots, key=lambda slot: len(slot.queue))


@contextmanager
def _one_thread() -> Iterator[None]:
    """Processes started meanwhile use one thread each for linear algebra, and what a kill leaves is cleaned without a word."""
    before = {name: os.environ.get(name) for name in _THREADS}
    os.environ.update(dict.fromkeys(_THREADS, "1"))
    sys.warnoptions.append(_QUIET)
    try:
        yield
    finally:
        sys.warnoptions.remove(_QUIET)
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _prepare() -> None:
    """In each process: leave an interrupt to the parent, and end when the parent ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    connection.wait([sentinel])
    os._exit(1)
