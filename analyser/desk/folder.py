"""DeskFolder: where the desk keeps tracks, logbook, plans and pages; one desk at a time."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path
from typing import Final

from analyser.desk.work import FILE_NAME, LOGBOOK_NAME, OutputError

__all__ = ["DeskFolder", "own_folder"]

HIDDEN: Final = ".desk"
PART: Final = ".part"


def own_folder() -> Path:
    """The folder that is taken where none is named: the user's own place for data."""
    from platformdirs import user_data_dir

    return Path(user_data_dir("crabline", appauthor=False)) / "desk"


class DeskFolder:
    """A folder of tracks with its logbook, opened for one desk alone until :meth:`close`.

    Made (readable by its owner only) where missing. Raises OutputError where it can not be made or written, or where another
    desk is open on it.
    """

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self.path = Path(os.path.abspath(path))
        self.hidden = self.path / HIDDEN
        self.pages = self.hidden / "pages"
        self.plans = self.path / "plans"
        self.logbook = self.path / LOGBOOK_NAME
        self.settings = self.path / FILE_NAME
        self._make()
        self._lock = self._locked()
        self._sweep()

    def _make(self) -> None:
        try:
            if not self.path.exists():
                self.path.mkdir(parents=True)
                os.chmod(self.path, 0o700)
            for folder in (self.hidden, self.pages):
                folder.mkdir(mode=0o700, exist_ok=True)
        except OSError as error:
            reason = (error.strerror or type(error).__name__).lower()
            raise OutputError(
                f"can not be used as the desk's folder ({reason})", "name another folder", str(self.path)
            ) from None

    def _locked(self) -> sqlite3.Connection:
        """A lock that every system knows and that ends with the process, however it ends: a transaction held open."""
        db = sqlite3.connect(
            self.hidden / "open.sqlite", timeout=0.2, isolation_level=None, check_same_thread=False
        )
        try:
            db.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError:
            db.close()
            raise OutputError(
                "another desk is open on this folder",
                "use its page, close it first, or name another folder",
                str(self.path),
            ) from None
        return db

    def _sweep(self) -> None:
        """Uploads and drafts that a desk left behind when it was killed."""
        for left in self.hidden.glob(f".drop.*{PART}"):
            left.unlink(missing_ok=True)

    def close(self) -> None:
        """Let the next desk in."""
        self._lock.close()
