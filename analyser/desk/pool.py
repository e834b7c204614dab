"""Pool: two processes of their own for everything that takes long; what hangs is killed, what crashes costs itself only."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, wait
from concurrent.futures.process import BrokenProcessPool
from typing import Any, Final

from analyser.desk.tasks import Task, perform
from analyser.desk.work import TIMEOUT_S, AnalyserError, Answer, Failed, Job, Slot

__all__ = ["Closed", "Pool"]

AHEAD: Final = 4  # debriefs handed over at a time, so that a page asked for meanwhile need not wait for all
LOOK_S: Final = 0.5


class Closed(Exception):
    """The desk is closing; what was under way is done again the next time."""


class Pool:
    """``size`` processes that stay warm between tasks; a task that outlasts ``timeout_s`` is killed with its process."""

    def __init__(
        self, size: int = 2, timeout_s: float = TIMEOUT_S, work: Callable[[Task], Any] = perform
    ) -> None:
        self._work = work
        self._timeout_s = timeout_s
        self._size = size
        self._waiting: deque[tuple[Task, Future[Any]]] = deque()
        self._lock = threading.Lock()
        self._wake: Future[None] = Future()
        self._closing = False
        self._thread = threading.Thread(target=self._serve, name="pool", daemon=True)
        self._thread.start()

    def submit(self, task: Task, *, urgent: bool = False) -> Future[Any]:
        """What the task gives, later: a value, an AnalyserError, or :class:`Closed`. Urgent ones go first."""
        future: Future[Any] = Future()
        future.set_running_or_notify_cancel()  # a request that is given up must not take the answer's place away
        with self._lock:
            if self._closing:
                future.set_exception(Closed())
            elif urgent:
                self._waiting.appendleft((task, future))
            else:
                self._waiting.append((task, future))
        self._nudge()
        return future

    def warm(self) -> None:
        """Start the processes before they are needed."""
        for _ in range(self._size):
            self.submit(Task("warm", None))

    def debriefs(self, jobs: Iterator[Job]) -> Iterator[tuple[Job, Answer | Failed]]:
        """Answers as they come, a few tracks ahead: a runner for the logbook's update. Raises Closed."""
        open_: dict[Future[Any], Job] = {}
        more = True
        while more or open_:
            while more and len(open_) < AHEAD:
                job = next(jobs, None)
                if job is None:
                    more = False
                else:
                    open_[self.submit(Task("debrief", job))] = job
            for future in wait(open_, return_when=FIRST_COMPLETED).done if open_ else ():
                job = open_.pop(future)
                error = future.exception()
                if isinstance(error, AnalyserError):
                    yield job, Failed(error.what)
                else:
                    yield job, future.result()

    def close(self) -> None:
        """End the processes in whatever they do; every open task raises Closed."""
        with self._lock:
            self._closing = True
        self._nudge()
        self._thread.join(timeout=30.0)

    def _nudge(self) -> None:
        with self._lock:
            if not self._wake.done():
                self._wake.set_result(None)

    def _serve(self) -> None:
        slots: list[Slot[Task, Any]] = []
        futures: dict[int, Future[Any]] = {}
        try:
            while not self._closing:
                self._hand_out(slots, futures)
                busy = [slot.queue[0][1] for slot in slots if slot.queue]
                wait([*busy, self._wake], LOOK_S if busy else None, return_when=FIRST_COMPLETED)
                with self._lock:
                    if self._wake.done():
                        self._wake = Future()
                for slot in list(slots):
                    held = [task for task, _ in slot.queue]
                    try:
                        for task, answer in slot.collect(self._timeout_s):
                            _settle(futures.pop(id(task)), answer)
                    except OSError as error:  # its process could not be started again
                        slots.remove(slot)
                        for lost in filter(None, (futures.pop(id(task), None) for task in held)):
                            lost.set_exception(_no_process(error))
        finally:
            for slot in slots:
                slot.stop(kill=True)
            left = [*futures.values(), *(future for _, future in self._waiting)]
            for future in left:
                future.set_exception(Closed())

    def _hand_out(self, slots: list[Slot[Task, Any]], futures: dict[int, Future[Any]]) -> None:
        """Give waiting tasks to idle processes, one each; make the processes as they are needed."""
        while True:
            slot = next((s for s in slots if not s.queue), None)
            with self._lock:
                if not self._waiting or (slot is None and len(slots) == self._size):
                    return
                task, future = self._waiting.popleft()
            try:
                if slot is None:
                    slot = Slot(self._work)
                    slots.append(slot)
                try:
                    slot.give(task)
                except BrokenProcessPool:  # it died while it had nothing to do
                    slot.restart(kill=False)
                    slot.give(task)
            except OSError as error:
                if slot is not None:
                    slots.remove(slot)
                future.set_exception(_no_process(error))
                continue
            futures[id(task)] = future


def _no_process(error: OSError) -> AnalyserError:
    reason = (error.strerror or type(error).__name__).lower()
    return AnalyserError(f"no process could be started ({reason})", "close other programs and try again")


def _settle(future: Future[Any], answer: Any) -> None:
    if isinstance(answer, Failed):
        future.set_exception(AnalyserError(answer.reason))
    elif isinstance(answer, AnalyserError):
        future.set_exception(answer)
    else:
        future.set_result(answer)
