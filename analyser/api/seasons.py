"""season: folders of tracks -> a logbook, a table, a summary."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyser.api.files import save_as
from analyser.batch.run import run_season
from analyser.logbook.export import load_frame

if TYPE_CHECKING:
    import pandas as pd

    from analyser.batch.run import SeasonResult

__all__ = ["SeasonRun", "season"]

AnyPath = str | os.PathLike[str]


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class SeasonRun:
    """Many jumps: the table, the summary, files.

    Parameters
    ----------
    result : SeasonResult
        ``logbook`` (where it stands), ``counts`` (what the run met and did), ``season`` (every statistic).
    folders, plans : tuples of path-like
        What it was made from; ``save`` writes over no file of it.

    Examples
    --------
    >>> run = season("sample_tracks", logbook="/no/such/folder/logbook.sqlite", jobs=1)
    Traceback (most recent call last):
    ...
    analyser.errors.OutputError: ...
    """

    result: SeasonResult
    folders: tuple[Path, ...] = ()
    plans: tuple[AnyPath, ...] = ()

    def __repr__(self) -> str:
        counts, found = self.result.counts, self.result.season
        new = f"{counts.debriefed} debriefed now, {counts.failed} failed"
        return f"<SeasonRun of {counts.tracks} tracks ({new}): {found.jumps} jumps in {self.result.logbook.name}>"

    @property
    def logbook(self) -> Path:
        """Where the logbook stands."""
        return self.result.logbook

    def frame(self) -> pd.DataFrame:
        """The jumps as a table.

        Returns
        -------
        pandas.DataFrame
            One row per jump in order of landing: SI units, which end the names of the columns; angles in degrees true.
        """
        return load_frame(self.result.logbook)

    def document(self) -> dict[str, Any]:
        """The statistics as plain dicts and lists.

        Returns
        -------
        dict
            Schema ``crabline.season/1``.
        """
        from analyser.report.documents.season import to_season_document

        return to_season_document(self.result.season)

    def save(self, path: AnyPath) -> None:
        """Write a file, whole or not at all; its suffix says what.

        Parameters
        ----------
        path : path-like
            ``.json`` the statistics, ``.csv`` one line per jump.

        Raises
        ------
        OutputError
            Where it can not be written, would be written over what the season reads, or the suffix is another.
        """
        from analyser.batch.inputs import refuse_outputs, season_inputs
        from analyser.logbook.plans import Plans
        from analyser.report.documents.values import to_json

        writers = {
            ".json": lambda run: to_json(run.document()),
            ".csv": lambda run: run.frame().to_csv(index=False),
        }
        refuse_outputs([Path(path)], season_inputs(self.folders, Plans(self.plans), self.logbook))
        save_as(path, self, writers)


def season(
    folders: AnyPath | Sequence[AnyPath],
    *,
    logbook: AnyPath | None = None,
    plans: Sequence[AnyPath] = (),
    jobs: int | None = None,
    retry: bool = False,
) -> SeasonRun:
    """Debrief every new or changed track below some folders into one logbook.

    Parameters
    ----------
    folders : path-like or sequence of them
        Where the tracks lie, at any depth.
    logbook : path-like, optional
        By default ``logbook.sqlite`` in the first folder.
    plans : sequence of path-like
        Plan files that hold for all tracks.
    jobs : int, optional
        Processes; by default one per core. In a script, call this below ``if __name__ == "__main__":``.
    retry : bool
        Take up again tracks that failed before.

    Returns
    -------
    SeasonRun
        A bad track is listed there, not raised.

    Raises
    ------
    InputError
        Where a folder can not be read.
    SettingsError
        Where a plan breaks a rule.
    OutputError
        Where the logbook can not be written.

    Notes
    -----
    Statistics and their sources stand in docs/season.md; nothing is claimed below ten jumps under one canopy.

    Examples
    --------
    >>> import shutil, tempfile
    >>> folder = tempfile.mkdtemp()
    >>> copied = shutil.copy("sample_tracks/steady_breeze.fit", folder)
    >>> table = season(folder, jobs=1).frame()
    >>> len(table), table["pattern"][0]
    (1, 'box')
    >>> shutil.rmtree(folder)
    """
    places = [folders] if isinstance(folders, (str, os.PathLike)) else folders
    found = run_season(places, logbook=logbook, plans=plans, jobs=jobs, retry=retry)
    return SeasonRun(found, tuple(Path(os.path.abspath(place)) for place in places), tuple(plans))
