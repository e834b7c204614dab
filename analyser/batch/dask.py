"""run_cluster: the same work on a Dask cluster, for more tracks than one machine can hold (extra ``cluster``)."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from typing import Any, Final, TypeVar

from analyser.batch.processes import Failed
from analyser.errors import AnalyserError

__all__ = ["run_cluster"]

Job = TypeVar("Job")
Answer = TypeVar("Answer")

PER_THREAD: Final = 4  # jobs under way for each thread of the cluster
CONNECT_S: Final = 15.0
POLL_S: Final = 0.05


def run_cluster(
    jobs: Iterator[Job], work: Callable[[Job], Answer], *, address: str, timeout_s: float
) -> Iterator[tuple[Job, Answer | Failed]]:
    """Answers as they come, in no fixed order; the workers must see the tracks under the same paths and have this package.

    A job that kills its worker, or that is not answered within ``timeout_s`` once nothing else is, is given up. Raises
    AnalyserError where the extra is missing or the scheduler can not be reached.
    """
    client = _connect(address)
    under_way: dict[Any, Job] = {}
    try:
        room = PER_THREAD * max(1, sum(client.nthreads().values()))
        more, last = True, time.monotonic()
        while True:
            while more and len(under_way) < room:
                job = next(jobs, None)
                if job is None:
                    more = False
                    break
                under_way[client.submit(work, job, pure=False, retries=1)] = job
            if not under_way:
                return
            done = _finished(under_way)
            if done:
                last = time.monotonic()
            elif time.monotonic() - last > timeout_s:
                done = list(under_way)
            for future in done:
                yield under_way.pop(future), _answer(future, timeout_s)
    finally:
        client.cancel(list(under_way), force=True)
        client.close()


def _connect(address: str) -> Any:
    try:
        import distributed
    except ImportError:
        raise AnalyserError(
            "--scheduler needs the extra: cluster", "pip install 'crabline[cluster]'"
        ) from None
    connect: Any = distributed.Client
    try:
        return connect(address, timeout=CONNECT_S, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        reason = str(error).split("\n")[0][:200]
        raise AnalyserError(
            f"no Dask scheduler answers at {address} ({type(error).__name__}: {reason})", "check the address"
        ) from None


def _finished(under_way: dict[Any, Any]) -> list[Any]:
    done = [future for future in under_way if future.done()]
    if not done:
        time.sleep(POLL_S)
    return done


def _answer(future: Any, timeout_s: float) -> Any:
    if not future.done():
        future.cancel(force=True)
        return Failed(f"took longer than {timeout_s:g} s and was given up")
    try:
        return future.result()
    except Exception as error:  # KilledWorker, a lost connection, or a fault in the work
        return Failed(f"the cluster gave it up: {type(error).__name__}", again=True)
