"""plan: the pattern that reaches the target in a given wind, before the jump."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from analyser.angles import bearing_text
from analyser.api.files import save_as
from analyser.api.frames import rows_frame
from analyser.api.jumps import Jump
from analyser.errors import SettingsError
from analyser.flight import Trim
from analyser.plan.ahead import HANDS, plan_ahead
from analyser.plan.report import PlanReport
from analyser.settings import Settings, WindReport
from analyser.settings.toml import read_settings
from analyser.settings.winds import MeasuredTrim, read_air, read_measured_trim, read_reports, read_winds
from analyser.threads import one_thread
from analyser.units import DISPLAY_SYSTEMS
from analyser.wind.estimate import CanopyEstimate
from analyser.wind.profile import WindProfile

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["HANDS", "PlannedPattern", "plan"]

AnyPath = str | os.PathLike[str]
GATE = (
    "hand",
    "gate",
    "agl_m",
    "east_m",
    "north_m",
    "along_m",
    "across_m",
    "lat_deg",
    "lon_deg",
    "heading_deg",
    "track_deg",
)
LEG = (
    "hand",
    "leg",
    "turn_agl_m",
    "end_agl_m",
    "track_deg",
    "heading_deg",
    "crab_deg",
    "ground_speed_mps",
    "seconds",
    "length_m",
    "held",
)


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class PlannedPattern:
    """A pattern drawn for a wind: gates, legs, files; for planning on the ground.

    Parameters
    ----------
    report : PlanReport
        Gates, legs, limits, sensitivities of each hand.
    settings : Settings
    trim : Trim
    wind : WindProfile
        What it was drawn from.
    units : str
        Display system of its page.
    read : tuple of path-like
        The files it came from; ``save`` writes over none of them.

    Examples
    --------
    >>> planned = plan("shared/plans/first_light.toml")
    >>> planned.gates()["gate"].tolist()
    ['crosswind', 'downwind', 'base', 'final']
    """

    report: PlanReport
    settings: Settings
    trim: Trim
    wind: WindProfile
    units: str = "metric"
    read: tuple[AnyPath, ...] = ()

    def __repr__(self) -> str:
        gates = ", ".join(f"{g.name} at {g.agl_m:.0f} m" for g in self.report.plans[0].gates)
        hands = " and ".join(p.hand for p in self.report.plans)
        return (
            f"<PlannedPattern, {hands} hand, landing toward {bearing_text(self.report.landing_deg)}: {gates}>"
        )

    def gates(self) -> pd.DataFrame:
        """Where each turn begins.

        Returns
        -------
        pandas.DataFrame
            One row per gate and hand: ``agl_m``; place from the target (``east_m``, ``north_m``; ``along_m`` positive past
            the target, ``across_m`` positive right of the landing direction; ``lat_deg``, ``lon_deg`` with a target);
            ``heading_deg`` (air) and ``track_deg`` (ground) of the leg that begins there.
        """
        rows = [
            {"hand": p["hand"], **g, "lat_deg": g["lat"], "lon_deg": g["lon"]}
            for p in self.document()["plans"]
            for g in p["gates"]
        ]
        return rows_frame(rows, GATE)

    def legs(self) -> pd.DataFrame:
        """What is flown between the gates.

        Returns
        -------
        pandas.DataFrame
            One row per leg and hand: heights, ``track_deg``, ``heading_deg``, ``crab_deg`` (positive: nose right of the
            track), ``ground_speed_mps``, ``seconds``, ``length_m``, ``held`` (whether the wind lets the track be held).
        """
        rows = [{"hand": p["hand"], **leg} for p in self.document()["plans"] for leg in p["legs"]]
        return rows_frame(rows, LEG)

    def document(self) -> dict[str, Any]:
        """The plan as plain dicts and lists.

        Returns
        -------
        dict
            Schema ``crabline.plan/1``: SI units, angles in degrees true.
        """
        from analyser.report.documents.plan import plan_document

        return plan_document(self.report, self.settings, self.trim)

    def save(self, path: AnyPath) -> None:
        """Write a file, whole or not at all; its suffix says what.

        Parameters
        ----------
        path : path-like
            ``.html`` the page, ``.json`` the document, ``.gpx`` and ``.geojson`` gates and path (these need a target).

        Raises
        ------
        OutputError
            Where it can not be written, would be written over a plan or the winds, the suffix is another, or a map has no target.
        """
        from analyser.report.documents.values import to_json
        from analyser.report.files.plans import plan_geojson, plan_gpx
        from analyser.report.page.pages import render_plan

        writers = {
            ".html": lambda p: render_plan(p.report, p.settings, p.trim, units=p.units),
            ".json": lambda p: to_json(p.document()),
            ".gpx": lambda p: plan_gpx(p.report, p.settings),
            ".geojson": lambda p: plan_geojson(p.report, p.settings),
        }
        save_as(path, self, writers, self.read)


@one_thread
def plan(
    plan: AnyPath | Sequence[AnyPath] | Settings,
    *,
    winds: Jump | WindProfile | AnyPath | None = None,
    target: tuple[float, float] | None = None,
    hand: Literal["", "left", "right", "both"] = "",
    units: str = "metric",
) -> PlannedPattern:
    """The pattern that ends on the target in a given wind: on the ground, before the jump.

    Parameters
    ----------
    plan : path-like, sequence of them, or Settings
        Plan files (TOML) with site, canopy and pattern; a later one wins key by key.
    winds : Jump, WindProfile or path-like, optional
        The wind: of an earlier jump, which also gives the trim where the plan has none; as a profile; or a file (a table of
        winds, a debrief's JSON). By default the plan's own.
    target : tuple of float, optional
        Latitude and longitude [deg, WGS 84]; beats the plan's.
    hand : str
        ``"left"``, ``"right"`` or ``"both"``; by default the site's or the plan's.
    units : str
        Display system of the page: ``"us"``, ``"uk"``, ``"nordic"`` or ``"metric"``.

    Returns
    -------
    PlannedPattern
        Gates and legs of each hand, with their errors where those of wind and trim are known.

    Raises
    ------
    SettingsError
        Where a plan breaks a rule, or wind or trim are not known.
    InputError
        Where ``winds`` can not be read.

    Notes
    -----
    Each leg is flown backwards from the target through the wind by the forward model of docs/method.md. The wind of an
    earlier jump is no forecast, and no limit to jump in.

    Examples
    --------
    >>> planned = plan("shared/plans/first_light.toml", hand="both")
    >>> planned.gates()["hand"].unique().tolist()
    ['left', 'right']
    """
    settings = plan if isinstance(plan, Settings) else read_settings(plan, target=target)
    if target is not None and isinstance(plan, Settings):
        settings = replace(settings, site=replace(settings.site, target=target))
    if hand not in HANDS:
        raise SettingsError(f"there is no hand {hand!r}", "left, right or both")
    if units not in DISPLAY_SYSTEMS:
        raise SettingsError(f"there are no units {units!r}", f"one of {', '.join(DISPLAY_SYSTEMS)}")
    wind, measured = _winds(winds, settings)
    reports: tuple[WindReport, ...] = ()
    if isinstance(winds, (str, os.PathLike)):
        settings = settings.in_air(read_air(Path(winds)))
        reports = read_reports(Path(winds), elevation_m=settings.site.elevation_m)
    report, settings, trim, wind, _ = plan_ahead(
        settings, wind, hand=hand, measured=measured, usual=False, reports=reports
    )
    read = [p for p in (plan, winds) if isinstance(p, (str, os.PathLike))]
    if not isinstance(plan, (str, os.PathLike, Settings)):
        read += plan
    return PlannedPattern(report, settings, trim, wind, units, tuple(read))


def _winds(
    winds: Jump | WindProfile | AnyPath | None, settings: Settings
) -> tuple[WindProfile | None, MeasuredTrim | CanopyEstimate | None]:
    """The wind that was given to plan for, and the trim that came with it."""
    if isinstance(winds, WindProfile):
        return winds, None
    if isinstance(winds, Jump):
        known = winds.result.profile
        if known is None:
            raise SettingsError("the jump has no wind to plan for", winds.result.reasons.get("winds", ""))
        return known, winds.result.wind.canopy if winds.result.wind else None
    if winds is not None:
        return read_winds(Path(winds), elevation_m=settings.site.elevation_m), read_measured_trim(Path(winds))
    return None, None
