"""Desk: the parts that one open desk is made of, and how they end together."""

from __future__ import annotations

import asyncio
import time
from collections import OrderedDict
from collections.abc import Callable
from typing import Any, Final

from analyser.desk.corrections import Corrections, JumpId
from analyser.desk.folder import DeskFolder
from analyser.desk.keeper import Keeper
from analyser.desk.library import Library
from analyser.desk.measures import UNITS
from analyser.desk.pool import Pool
from analyser.desk.tasks import Task
from analyser.desk.uploads import Limits

__all__ = ["IDLE_S", "Desk"]

IDLE_S: Final = 3600.0
KEPT_CHANGES: Final = 200
AT_ONCE: Final = 4


class Desk:
    """An open desk on one folder. ``clock`` [s] is what the hour without a page is counted by."""

    def __init__(
        self,
        folder: DeskFolder,
        *,
        limits: Limits | None = None,
        pool: Pool | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.folder = folder
        self.limits = limits or Limits()
        self.pool = pool or Pool()
        self.keeper = Keeper(folder, self.pool, UNITS)
        self.library = Library(folder)
        self.corrections = Corrections(folder)
        self.uploading = asyncio.Semaphore(AT_ONCE)
        self.waiting: dict[str, int] = {}
        """Content hash → bytes of what was dropped and is not debriefed yet."""
        self.closing = asyncio.Event()
        self._changed: OrderedDict[JumpId, str] = OrderedDict()
        self._clock = clock
        self._seen = clock()

    def changed(self, jump: JumpId) -> str:
        """The table of what the last save changed in a jump; "" for nothing."""
        return self._changed.get(jump, "")

    def remember(self, jump: JumpId, table: str) -> None:
        """Keep that table for the jump's page."""
        self._changed[jump] = table
        self._changed.move_to_end(jump)
        while len(self._changed) > KEPT_CHANGES:
            self._changed.popitem(last=False)

    def alive(self) -> None:
        """A page is open."""
        self._seen = self._clock()

    def idle(self) -> bool:
        """Whether the last sign of an open page is an hour ago and nothing is under way."""
        return not self.keeper.progress.running and self._clock() - self._seen > IDLE_S

    async def does(self, name: str, argument: Any) -> Any:
        """What a task in the pool gives, before anything that only waits its turn."""
        return await asyncio.wrap_future(self.pool.submit(Task(name, argument), urgent=True))

    async def run(self, *, retry: bool = False) -> None:
        """Bring the logbook up to the folder; returns when a run that began after this call has ended."""
        await asyncio.wrap_future(self.keeper.run(retry=retry))

    def close(self) -> None:
        """End everything; what was under way is taken up the next time."""
        self.pool.close()
        self.keeper.close()
        self.library.close()
        self.folder.close()
