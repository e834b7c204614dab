"""Keeper: brings the logbook up to what lies in the folder, one run at a time, and knows how far it is."""

from __future__ import annotations

import threading
from concurrent.futures import Future
from typing import NamedTuple

from analyser.desk.folder import DeskFolder
from analyser.desk.pool import Closed, Pool
from analyser.desk.work import AnalyserError, Logbook, Pages, Plans, update, write_assets

__all__ = ["Keeper", "Progress"]


class Progress(NamedTuple):
    """Whether a run is under way, how many of how many tracks it has dealt with, the error of the last, its warnings."""

    running: bool
    done: int
    total: int
    error: str | None
    warnings: tuple[str, ...]


class Keeper:
    """Runs what ``crabline season`` runs, with a page for every jump; asked twice during a run, it runs once more after it."""

    def __init__(self, folder: DeskFolder, pool: Pool, units: str) -> None:
        self._folder = folder
        self._pool = pool
        self._pages = Pages(folder.pages, units)
        self._lock = threading.Lock()
        self._asked: list[Future[None]] = []
        self._retry = False
        self._thread: threading.Thread | None = None
        self._closing = False
        self.progress = Progress(False, 0, 0, None, ())

    def run(self, *, retry: bool = False) -> Future[None]:
        """Ask for a run; done when a run that began after this call has ended. Fails with its AnalyserError, or Closed."""
        future: Future[None] = Future()
        future.set_running_or_notify_cancel()  # a request that is given up must not take the answer's place away
        with self._lock:
            if self._closing:
                future.set_exception(Closed())
                return future
            self._asked.append(future)
            self._retry |= retry
            if self._thread is None:
                self.progress = self.progress._replace(running=True)
                self._thread = threading.Thread(target=self._serve, name="keeper", daemon=True)
                self._thread.start()
        return future

    def close(self) -> None:
        """Wait until the run under way has ended; the pool is closed first."""
        with self._lock:
            self._closing = True
            thread = self._thread
        if thread is not None:
            thread.join(timeout=30.0)

    def _serve(self) -> None:
        while True:
            with self._lock:
                asked, self._asked = self._asked, []
                retry, self._retry = self._retry, False
                if not asked or self._closing:
                    self._thread = None
                    self.progress = self.progress._replace(running=False)
                    for future in asked:
                        future.set_exception(Closed())
                    return
            error = self._once(retry)
            for future in asked:
                if error is None:
                    future.set_result(None)
                else:
                    future.set_exception(error)

    def _once(self, retry: bool) -> Exception | None:
        self.progress = Progress(True, 0, 0, None, ())
        try:
            write_assets(self._folder.pages)
            with Logbook(self._folder.logbook) as book:
                counts = update(
                    book,
                    [self._folder.path],
                    Plans(),
                    self._pool.debriefs,
                    retry=retry,
                    pages=self._pages,
                    progress=self._tell,
                )
        except (AnalyserError, Closed) as error:
            self.progress = self.progress._replace(error=str(error) or None)
            return error
        except Exception as error:  # a fault of this program must not end the desk
            self.progress = self.progress._replace(error=f"an unforeseen error: {type(error).__name__}")
            return error
        self.progress = self.progress._replace(warnings=tuple(counts.warnings))
        return None

    def _tell(self, done: int, total: int) -> None:
        self.progress = self.progress._replace(done=done, total=total)
