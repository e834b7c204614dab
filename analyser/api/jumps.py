"""debrief: a track in, a Jump out: its tables, sentences, pictures and files."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from analyser.api import frames
from analyser.api.files import save_as
from analyser.debrief import debrief_every, debrief_recording
from analyser.errors import SettingsError
from analyser.findings import render
from analyser.importers.read import read
from analyser.importers.recording import Recording
from analyser.jump import Debrief, Finding
from analyser.logbook.weigh import weigh_by_logbook
from analyser.settings import Settings
from analyser.settings.toml import read_settings
from analyser.units import DISPLAY_SYSTEMS

if TYPE_CHECKING:
    import pandas as pd
    import plotly.graph_objects as go

__all__ = ["Jump", "debrief", "debrief_all"]

AnyPath = str | os.PathLike[str]
Track = AnyPath | bytes | IO[bytes]
CHAPTERS_SHOWN = 4


class Jump:
    """One debriefed jump: tables, sentences, pictures, files.

    Parameters
    ----------
    result : Debrief
        Everything known about the jump, in SI units.
    units : str
        Display system of sentences, pictures and pages: ``"us"``, ``"uk"``, ``"nordic"`` or ``"metric"``. Tables and JSON
        are in SI units always.
    read : sequence of path-like
        The files it came from; ``save`` writes over none of them.

    Notes
    -----
    Every field of :class:`Debrief` can be read here too (``jump.landing.along_m``), but for ``budget``, which is a table
    here; its rows are ``jump.result.budget``. In a notebook a jump shows the first chapters of its page.

    Examples
    --------
    >>> jump = debrief("sample_tracks/first_light.gpx", plan="shared/plans/first_light.toml")
    >>> jump.legs()["leg"].tolist()
    ['crosswind', 'downwind', 'base', 'final']
    >>> missed = jump.budget()["along_m"].sum() - jump.landing.along_m
    >>> bool(abs(missed) < 1e-6)
    True
    """

    __slots__ = ("_read", "result", "units")

    def __init__(self, result: Debrief, units: str = "metric", read: Sequence[AnyPath] = ()) -> None:
        if units not in DISPLAY_SYSTEMS:
            raise SettingsError(f"there are no units {units!r}", f"one of {', '.join(DISPLAY_SYSTEMS)}")
        self.result = result
        self.units = units
        self._read = tuple(read)

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__") or name in Jump.__slots__:
            raise AttributeError(name)
        return getattr(self.result, name)

    def __dir__(self) -> list[str]:
        return sorted({*super().__dir__(), *Debrief.__dataclass_fields__})

    def __repr__(self) -> str:
        return repr(self.result).replace("<Debrief", "<Jump", 1)

    def _repr_html_(self) -> str:
        from analyser.report.page.excerpt import excerpt

        return excerpt(self.result, units=self.units, count=CHAPTERS_SHOWN)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What can be said about the jump; each prints as a sentence in the units asked for.

        Returns
        -------
        tuple of Finding
            With ``code``, ``level`` ("good", "note" or "caution"), ``text`` and ``evidence`` (SI units, with standard
            deviations).

        Examples
        --------
        >>> jump = debrief("sample_tracks/first_light.gpx", plan="shared/plans/first_light.toml", units="us")
        >>> all(str(finding).endswith(".") for finding in jump.findings)
        True
        """
        display = DISPLAY_SYSTEMS[self.units]
        return tuple(replace(f, text=render(f, display)) for f in self.result.findings)

    def winds(self) -> pd.DataFrame:
        """The recovered wind.

        Returns
        -------
        pandas.DataFrame
            One row per height: ``agl_m`` above the landing area, ``east_mps`` and ``north_mps`` (where the air goes) with
            ``sd_…`` and ``correlation``, ``speed_mps``, ``from_deg`` (true), ``status``, ``reason``. Empty without a wind.
        """
        return frames.winds_frame(self.result)

    def legs(self) -> pd.DataFrame:
        """The legs of the pattern as flown.

        Returns
        -------
        pandas.DataFrame
            One row per leg: begin and end (UTC), ``turn_agl_m`` at which the turn onto it began, ``heading_deg`` (air) and
            ``track_deg`` (ground), ``crab_deg`` (positive: nose right of the track), ``ground_speed_mps``, ``length_m``.
        """
        return frames.legs_frame(self.result)

    def gates(self) -> pd.DataFrame:
        """Where each turn began, beside the plan.

        Returns
        -------
        pandas.DataFrame
            One row per gate flown: place (from the target, else the touchdown) and height with standard deviations, the
            ``planned_…`` ones, and ``difference_…``, flown minus planned.
        """
        return frames.gates_frame(self.result)

    def budget(self) -> pd.DataFrame:
        """Where the metres went.

        Returns
        -------
        pandas.DataFrame
            One row per cause: ``along_m`` (positive: long) and ``across_m`` (positive: right) with standard deviations;
            they add up to the landing. Empty without a target, ``jump.reasons["budget"]`` says why.
        """
        return frames.budget_frame(self.result)

    def samples(self) -> pd.DataFrame:
        """Every fix with what was found there.

        Returns
        -------
        pandas.DataFrame
            One row per fix: ``utc``, place [deg and m], ``agl_m``, ground velocity [m/s], ``phase``, ``leg``, air velocity.
        """
        return frames.samples_frame(self.result)

    def figure(self, name: str, *, wind_up: bool = False, view: str | None = None) -> go.Figure | None:
        """One picture of the page.

        Parameters
        ----------
        name : str
            ``plan-view``, ``height-to-go``, ``timeline``, ``wind-profile``, ``hodograph``, ``reach``, ``budget`` or ``redrawn``.
        wind_up : bool
            Turn maps so that the wind comes from the top.
        view : str, optional
            ``"pattern"`` or ``"whole canopy flight"``; plan view only.

        Returns
        -------
        plotly.graph_objects.Figure or None
            None where the jump has nothing to fill it with.

        Raises
        ------
        KeyError
            For an unknown name or view.
        """
        from analyser.report.pictures.figures import figure

        return figure(self.result, name, units=self.units, wind_up=wind_up, view=view)

    def document(self) -> dict[str, Any]:
        """Every result as plain dicts and lists.

        Returns
        -------
        dict
            Schema ``crabline.debrief/1``: SI units, angles in degrees true, UTC; the names of docs/interface.md.
        """
        from analyser.report.documents.debrief import to_document

        return to_document(self.result)

    def save(self, path: AnyPath) -> None:
        """Write a file, whole or not at all; its suffix says what.

        Parameters
        ----------
        path : path-like
            ``.html`` the page, ``.json`` the document, ``.gpx``, ``.kml`` and ``.geojson`` phases, path and gates.

        Raises
        ------
        OutputError
            Where it can not be written, would be written over the track or a plan, or the suffix is another.
        """
        from analyser.report.documents.values import to_json
        from analyser.report.files import geojson_text, gpx_text, kml_text
        from analyser.report.page.pages import render_page

        writers = {
            ".html": lambda jump: render_page(jump.result, units=jump.units),
            ".json": lambda jump: to_json(jump.document()),
            ".gpx": lambda jump: gpx_text(jump.result),
            ".kml": lambda jump: kml_text(jump.result),
            ".geojson": lambda jump: geojson_text(jump.result),
        }
        save_as(path, self, writers, self._read)


def debrief(
    track: Track,
    settings: Settings | None = None,
    *,
    plan: AnyPath | Sequence[AnyPath] | None = None,
    target: tuple[float, float] | None = None,
    jump: int | None = None,
    logbook: AnyPath | None = None,
    units: str = "metric",
) -> Jump:
    """The debrief of one jump, on the ground, after landing.

    Parameters
    ----------
    track : path-like, bytes or binary file
        A recorded track, plain or gzip, told by its content.
    settings : Settings, optional
        Site, canopy, pattern, wind; instead of ``plan``.
    plan : path-like or sequence of them, optional
        Plan files (TOML); a later one wins key by key.
    target : tuple of float, optional
        Latitude and longitude [deg, WGS 84] of the target; beats the plan's.
    jump : int, optional
        Which jump of the recording, from 1; by default the last.
    logbook : path-like, optional
        A season's logbook: the advice then tells habit from chance by the jumper's earlier jumps in it.
    units : str
        Display system of sentences, pictures and pages: ``"us"``, ``"uk"``, ``"nordic"`` or ``"metric"``.

    Returns
    -------
    Jump
        A recording without a jump is no error: then ``phases.kind`` is ``"no jump"``, and ``reasons`` say why.

    Raises
    ------
    InputError
        Where the track can not be used, or holds no such jump, or there is no such logbook.
    OutputError
        Where the logbook is none, or is in use.
    SettingsError
        Where a plan breaks a rule, or both plan and settings are given.

    Notes
    -----
    docs/method.md has the method and its sources. Licensed instructors and local rules decide.

    Examples
    --------
    >>> jump = debrief("sample_tracks/first_light.gpx", target=(49.7215, -107.9342))
    >>> jump.flown.kind, jump.flown.hand
    ('box', 'left')
    >>> jump.landing.along_m > 0  # long
    True
    """
    settings = _settings(settings, plan, target)
    found = debrief_recording(_recording(track), settings, jump=jump)
    found = found if logbook is None else weigh_by_logbook(found, logbook)[0]
    return Jump(found, units, _files(track, plan, settings))


def debrief_all(
    track: Track,
    settings: Settings | None = None,
    *,
    plan: AnyPath | Sequence[AnyPath] | None = None,
    target: tuple[float, float] | None = None,
    units: str = "metric",
) -> tuple[Jump, ...]:
    """The debriefs of every jump of a recording.

    Parameters
    ----------
    track, settings, plan, target, units
        As for :func:`debrief`; the same for all jumps.

    Returns
    -------
    tuple of Jump
        In the order flown; one without a jump where the recording holds none.

    Raises
    ------
    InputError
        Where the track can not be used.
    SettingsError
        Where a plan breaks a rule, or both plan and settings are given.

    Examples
    --------
    >>> [jump.jump for jump in debrief_all("sample_tracks/two_jumps.gpx")]
    [1, 2]
    """
    settings = _settings(settings, plan, target)
    read = _files(track, plan, settings)
    return tuple(Jump(found, units, read) for found in debrief_every(_recording(track), settings))


def _settings(
    settings: Settings | None,
    plan: AnyPath | Sequence[AnyPath] | None,
    target: tuple[float, float] | None,
) -> Settings:
    if settings is None:
        return read_settings(() if plan is None else plan, target=target)
    if plan is not None:
        raise SettingsError("both settings and a plan are given", "give one of them")
    return settings if target is None else replace(settings, site=replace(settings.site, target=target))


def _files(track: Track, plan: AnyPath | Sequence[AnyPath] | None, settings: Settings) -> list[AnyPath]:
    """The files that a debrief is made from."""
    plans = [plan] if isinstance(plan, (str, os.PathLike)) else plan or ()
    tracks = [track] if isinstance(track, (str, os.PathLike)) else []
    picture = settings.site.picture
    return [*tracks, *plans, *([picture.file] if picture is not None else [])]


def _recording(track: Track) -> Recording:
    if isinstance(track, (str, os.PathLike)):
        return read(track)
    data = track if isinstance(track, bytes) else track.read()
    name = Path(str(getattr(track, "name", "recording"))).name
    return read(data, name=name)
