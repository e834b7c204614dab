"""plan_ahead: the plan for a wind before the jump, and what holds where wind, landing direction or trim speeds were not given."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, NamedTuple, Protocol

from analyser.errors import SettingsError
from analyser.flight import Trim
from analyser.pattern import Hand
from analyser.plan.jump import trim_of
from analyser.plan.report import PlanReport, report_plan
from analyser.plan.usual import Usual, with_usual_trim
from analyser.settings import Settings, WindReport
from analyser.wind.profile import WindProfile

__all__ = ["HANDS", "Ahead", "MeasuredSpeeds", "plan_ahead", "wind_ahead", "with_measured_trim"]

HANDS: Final[dict[str, Sequence[Hand] | None]] = {
    "": None,
    "left": ("left",),
    "right": ("right",),
    "both": ("left", "right"),
}
"""What a hand is asked for by: "" that of the site or the plan."""


class MeasuredSpeeds(Protocol):
    """Trim speeds and their standard deviations that were measured on an earlier jump [m/s at sea-level density]."""

    @property
    def airspeed_mps(self) -> float | None:
        """Horizontal airspeed."""

    @property
    def sink_mps(self) -> float | None:
        """Sink."""

    @property
    def airspeed_sd_mps(self) -> float | None:
        """Of the airspeed."""

    @property
    def sink_sd_mps(self) -> float | None:
        """Of the sink."""


class Ahead(NamedTuple):
    """A plan with what it was drawn from: the settings with the speeds that were used, trim, wind, and what to say where speeds are the usual ones."""

    report: PlanReport
    settings: Settings
    trim: Trim
    wind: WindProfile
    usual: Usual | None


def plan_ahead(
    settings: Settings,
    wind: WindProfile | None = None,
    *,
    hand: str = "",
    measured: MeasuredSpeeds | None = None,
    usual: bool = True,
    reports: Sequence[WindReport] = (),
) -> Ahead:
    """The tables of a plan: for ``wind``, else for the wind of the settings, else for a calm day where they give a landing direction.

    ``hand``: one of HANDS. Each trim speed is the given one, else the ``measured`` one, else (``usual``) the usual one for the wing
    loading. ``reports``: what weather services gave of ``wind``; of the settings' own wind they are in the settings. Raises SettingsError where nothing gives a wind, a landing direction or, without ``usual``, the speeds.
    """
    settings = settings if wind is None else replace(settings, reports=tuple(reports))
    wind = wind_ahead(settings) if wind is None else wind
    settings, told = with_measured_trim(settings, measured), None
    if usual:
        settings, told = with_usual_trim(settings)
    ground = settings.site.elevation_m or 0.0
    of_the_day = settings.density_altitude_m(ground)
    trim = trim_of(settings, None, ground if of_the_day is None else of_the_day)
    if trim is None:
        raise SettingsError(
            "the canopy's trim speeds are not given",
            "add airspeed_mps and sink_mps to [canopy], or give a jump as winds",
        )
    return Ahead(report_plan(settings, wind, trim, hands=HANDS[hand]), settings, trim, wind, told)


def wind_ahead(settings: Settings) -> WindProfile:
    """The wind that the settings plan for; calm where they give none but a landing direction. Raises SettingsError."""
    wind: WindProfile | None = settings.wind_profile
    if wind is not None:
        return wind
    if settings.pattern.landing_deg is None and not settings.site.directions:
        raise SettingsError(
            "no wind to plan for", "give a wind, or for a calm day the direction to land towards"
        )
    return WindProfile.from_points([(0.0, 0.0, 0.0)])


def with_measured_trim(settings: Settings, measured: MeasuredSpeeds | None) -> Settings:
    """The settings with a measured speed for each trim speed that they do not give."""
    wing = settings.canopy
    if measured is None:
        return settings
    if wing.airspeed_mps is None and measured.airspeed_mps is not None:
        wing = replace(
            wing, airspeed_mps=measured.airspeed_mps, airspeed_sd_mps=measured.airspeed_sd_mps or 0.0
        )
    if wing.sink_mps is None and measured.sink_mps is not None:
        wing = replace(wing, sink_mps=measured.sink_mps, sink_sd_mps=measured.sink_sd_mps or 0.0)
    return replace(settings, canopy=wing)
