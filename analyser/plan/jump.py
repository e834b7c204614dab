"""The plans of one debrief: the wing's trim, the plan for the assumed wind, the same plan redrawn for the recovered one."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from analyser.flight import Trim
from analyser.pattern import Pattern
from analyser.plan.draw import choose_hand, choose_landing_deg, plan_pattern
from analyser.plan.thresholds import PLAN
from analyser.settings import Settings
from analyser.wind.estimate import CanopyEstimate
from analyser.wind.profile import WindProfile

__all__ = ["Plan", "draw_plan", "flown_trim", "for_flown_hand", "for_wind", "trim_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """The planned pattern (east/north from the target), the wind it was made for, where that came from, and the trim."""

    pattern: Pattern
    wind: WindProfile
    winds_from: Literal["plan", "track"]
    trim: Trim

    def __repr__(self) -> str:
        """One line."""
        return f"<Plan for the winds of the {self.winds_from}: {self.pattern!r}>"[:200]


def flown_trim(settings: Settings, measured: CanopyEstimate | None, elevation_m: float) -> Trim | None:
    """The trim the wing flew with, for everything that flies it again: each speed as measured or as given, whichever is better known.

    A given speed without an error counts as known to 5 % (ours). None where neither has both speeds.

    Parameters
    ----------
    settings : Settings
        What the user set.
    measured : CanopyEstimate, optional
        The wing's speeds as the wind fit found them.
    elevation_m : float
        Of the landing area above sea level [m].

    Returns
    -------
    Trim or None
        Sea-level speeds [m/s] with their standard deviations.
    """
    wing = settings.canopy
    seen_v = (measured.airspeed_mps, measured.airspeed_sd_mps) if measured else (None, None)
    seen_s = (measured.sink_mps, measured.sink_sd_mps) if measured else (None, None)
    airspeed, airspeed_sd = _better(wing.airspeed_mps, wing.airspeed_sd_mps, seen_v)
    sink, sink_sd = _better(wing.sink_mps, wing.sink_sd_mps, seen_s)
    if airspeed is None or sink is None:
        return None
    trim = Trim(airspeed, sink, wing.bank_deg, elevation_m, airspeed_sd, sink_sd)
    return _shared(trim, measured, (airspeed, airspeed_sd) == seen_v)


def _shared(trim: Trim, measured: CanopyEstimate | None, is_measured: bool) -> Trim:
    """With the covariance of airspeed and wind where the airspeed is the one found together with that wind."""
    if measured is None or not is_measured:
        return trim
    return replace(trim, airspeed_wind=measured.airspeed_wind)


def _better(
    given: float | None, given_sd: float, seen: tuple[float | None, float | None]
) -> tuple[float | None, float]:
    typed = None if not given else (given, given_sd or PLAN.given_sd * given)
    found = None if not seen[0] or not math.isfinite(seen[0]) else (seen[0], seen[1] or 0.0)
    rows = [row for row in (found, typed) if row is not None]
    return min(rows, key=lambda row: row[1]) if rows else (None, 0.0)


def trim_of(settings: Settings, measured: CanopyEstimate | None, elevation_m: float) -> Trim | None:
    """The trim a plan is drawn with: what the settings give, completed by what the track shows; None where neither has it.

    Parameters
    ----------
    settings : Settings
        What the user set.
    measured : CanopyEstimate, optional
        The wing's speeds as the wind fit found them.
    elevation_m : float
        Of the landing area above sea level [m].

    Returns
    -------
    Trim or None
        Sea-level speeds [m/s] with their standard deviations.
    """
    wing = settings.canopy
    airspeed, airspeed_sd = _given_or_measured(
        (wing.airspeed_mps, wing.airspeed_sd_mps),
        (measured.airspeed_mps, measured.airspeed_sd_mps) if measured else None,
    )
    sink, sink_sd = _given_or_measured(
        (wing.sink_mps, wing.sink_sd_mps), (measured.sink_mps, measured.sink_sd_mps) if measured else None
    )
    if airspeed is None or sink is None:
        return None
    trim = Trim(airspeed, sink, wing.bank_deg, elevation_m, airspeed_sd, sink_sd)
    return _shared(trim, measured, not wing.airspeed_mps)


def _given_or_measured(
    given: tuple[float | None, float], measured: tuple[float | None, float | None] | None
) -> tuple[float | None, float]:
    if given[0]:
        return given
    if measured is None or not measured[0] or not math.isfinite(measured[0]):
        return None, 0.0
    return measured[0], measured[1] or 0.0


def draw_plan(
    settings: Settings,
    trim: Trim,
    wind: WindProfile,
    winds_from: Literal["plan", "track"],
    *,
    flown: Pattern | None = None,
    fallback_deg: float | None = None,
    along_deg: float | None = None,
) -> Plan | None:
    """The plan for ``wind``; ``fallback_deg`` is the landing direction where neither plan, site nor wind decides it, else None.

    ``along_deg`` goes before the wind: without a plan the usual pattern is drawn along the final as flown.

    Parameters
    ----------
    settings : Settings
        Site, canopy and pattern.
    trim : Trim
        Sea-level speeds [m/s].
    wind : WindProfile
        With its covariance.
    winds_from : str
        ``"plan"``: ``wind`` was assumed; ``"track"``: it was recovered.
    flown : Pattern, optional
        Decides the hand where the plan says "as flown".
    fallback_deg, along_deg : float, optional
        Directions of landing [deg true].

    Returns
    -------
    Plan or None
        None where nothing decides the direction of landing.
    """
    landing_deg = None
    if along_deg is not None and settings.pattern.landing_deg is None and not settings.site.directions:
        landing_deg = along_deg
    if landing_deg is None:
        landing_deg = choose_landing_deg(settings, wind)
    landing_deg = fallback_deg if landing_deg is None else landing_deg
    if landing_deg is None:
        return None
    hand = choose_hand(settings, landing_deg, flown.hand if flown else None)
    pattern = plan_pattern(settings.pattern, trim, wind, hand=hand, landing_deg=landing_deg)
    return Plan(pattern, wind, winds_from, trim)


def for_flown_hand(plan: Plan, settings: Settings, flown: Pattern) -> Plan:
    """The same plan, drawn for the hand that was flown where that was the other one.

    Parameters
    ----------
    plan : Plan
        What was planned.
    settings : Settings
        What the user set.
    flown : Pattern
        The pattern found in the track.

    Returns
    -------
    Plan
        ``plan`` itself where the hands are the same, or none was flown.
    """
    landing_deg = plan.pattern.landing_deg
    if flown.hand is None or flown.hand == plan.pattern.hand or landing_deg is None:
        return plan
    pattern = plan_pattern(settings.pattern, plan.trim, plan.wind, hand=flown.hand, landing_deg=landing_deg)
    return replace(plan, pattern=pattern)


def for_wind(plan: Plan, settings: Settings, wind: WindProfile) -> Plan:
    """The same plan, of the same hand and landing direction, drawn for another wind.

    Parameters
    ----------
    plan : Plan
        What was planned.
    settings : Settings
        What the user set.
    wind : WindProfile
        With its covariance.

    Returns
    -------
    Plan
    """
    old = plan.pattern
    if old.landing_deg is None or old.hand is None:
        return plan
    pattern = plan_pattern(settings.pattern, plan.trim, wind, hand=old.hand, landing_deg=old.landing_deg)
    return replace(plan, pattern=pattern, wind=wind)
