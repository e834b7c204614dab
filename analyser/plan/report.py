"""report_plan: the pattern for a wind as tables: legs, limits, sensitivity, keep-out areas, for one hand or both."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from analyser.angles import along_across, signed_difference_deg, wind_from_deg
from analyser.errors import SettingsError
from analyser.flight import Trim, wind_over_airspeed
from analyser.frame import LocalFrame
from analyser.pattern import Gate, Hand, Leg, LegName, Pattern, to_landing_frame
from analyser.plan.areas import crossed
from analyser.plan.draw import (
    choose_hand,
    choose_landing_deg,
    plan_pattern,
    site_hand,
    surface_wind,
    tracks_of,
)
from analyser.plan.spread import GateSpread, LegSpread, PlanSpread, errors_of, spread_of_plan
from analyser.plan.thresholds import PLAN
from analyser.settings import Settings, WindReport
from analyser.wind.profile import WindProfile

__all__ = ["GatePlace", "GateShift", "HandPlan", "LegRow", "PlanReport", "report_plan", "scaled", "turned"]


@dataclass(frozen=True, slots=True)
class LegRow:
    """One leg from the height where its turn begins to the next: angles [deg true], crab right positive, [m], [m/s], [s].

    ``held`` whether its track can be held; ``limit_wind_mps`` the wind at the middle of the leg, from the side it comes from now, at which
    it no longer can or at which nothing is gained along it (None: at no wind). ``spread``: standard deviations from the errors of wind and canopy, None
    where nothing is known of them.
    """

    name: LegName
    turn_agl_m: float
    end_agl_m: float
    track_deg: float
    heading_deg: float
    crab_deg: float
    ground_speed_mps: float
    seconds: float
    length_m: float
    held: bool
    limit_wind_mps: float | None
    spread: LegSpread | None = None


@dataclass(frozen=True, slots=True)
class GatePlace:
    """A gate on the map: height [m above the landing area], metres from the target, WGS 84 degrees (None without a target).

    ``spread``: standard deviations of the place, None where nothing is known of the errors of wind and canopy.
    """

    name: LegName
    agl_m: float
    east_m: float
    north_m: float
    along_m: float
    across_m: float
    lat: float | None
    lon: float | None
    heading_deg: float
    track_deg: float
    spread: GateSpread | None = None


@dataclass(frozen=True, slots=True)
class GateShift:
    """How far a gate moves [m along/across the landing direction] for one more m/s of wind and for a wind 10° more to the right."""

    gate: LegName
    per_mps_along_m: float
    per_mps_across_m: float
    per_10deg_along_m: float
    per_10deg_across_m: float


@dataclass(frozen=True, slots=True)
class HandPlan:
    """The pattern of one hand with its tables; ``against_site`` where the site has the other hand for this landing direction."""

    hand: Hand
    pattern: Pattern
    gates: tuple[GatePlace, ...]
    legs: tuple[LegRow, ...]
    shifts: tuple[GateShift, ...]
    keep_outs: tuple[str, ...]
    against_site: bool
    spread: PlanSpread | None = None


@dataclass(frozen=True, slots=True)
class PlanReport:
    """Plans for one wind. ``wind_over_airspeed`` the largest share of the airspeed the wind reaches below the first gate.

    ``advice`` is not empty where the answer is not to jump the plan but to stay on the ground. ``errors_from`` the
    inputs whose errors the standard deviations come from, ``errors_reason`` why the others add nothing. ``reports`` what weather
    services gave of the wind; ``lowest_wind_m`` the lowest height of which a wind was given [m]: below it that one was taken.
    """

    landing_deg: float
    landing_from: Literal["plan", "site", "wind"]
    surface_wind_mps: float
    surface_from_deg: float | None
    wind_over_airspeed: float
    plans: tuple[HandPlan, ...]
    advice: str = ""
    errors_from: tuple[str, ...] = ()
    errors_reason: str = ""
    reports: tuple[WindReport, ...] = ()
    lowest_wind_m: float = 0.0

    @property
    def near_ground(self) -> bool:
        """Whether a wind near the ground was given at all."""
        return self.lowest_wind_m <= PLAN.near_ground_m


def report_plan(
    settings: Settings,
    wind: WindProfile,
    trim: Trim,
    *,
    hands: Sequence[Hand] | None = None,
    instant_turns: bool = False,
) -> PlanReport:
    """The tables of the plan for ``wind``; ``hands`` default: the one the site or the plan asks for (left where neither does).

    Raises ``SettingsError`` where neither wind, plan nor site gives a landing direction.
    """
    landing_deg = choose_landing_deg(settings, wind)
    if landing_deg is None:
        raise SettingsError(
            "no wind, and neither plan nor site gives a landing direction", "add landing_deg to [pattern]"
        )
    hands = hands or (choose_hand(settings, landing_deg),)
    east, north = surface_wind(wind)
    share = wind_over_airspeed(trim, wind, max(settings.pattern.heights_m.values()))[0]
    limit = settings.method.strong_wind_ratio.value
    errors = errors_of(wind, trim)
    return PlanReport(
        landing_deg=landing_deg,
        landing_from=_source(settings),
        surface_wind_mps=math.hypot(east, north),
        surface_from_deg=float(wind_from_deg(east, north)) if math.hypot(east, north) > 1e-6 else None,
        wind_over_airspeed=share,
        plans=tuple(_one(settings, wind, trim, h, landing_deg, instant_turns) for h in hands),
        advice=f"the wind comes to {share:.0%} of the canopy's airspeed: stay on the ground"
        if share >= limit
        else "",
        errors_from=errors.known,
        errors_reason=errors.reason,
        reports=settings.reports,
        lowest_wind_m=float(wind.agl_m[0]),
    )


def _source(settings: Settings) -> Literal["plan", "site", "wind"]:
    if settings.pattern.landing_deg is not None:
        return "plan"
    return "site" if settings.site.directions else "wind"


def _one(
    settings: Settings, wind: WindProfile, trim: Trim, hand: Hand, landing_deg: float, instant: bool
) -> HandPlan:
    def draw(air: WindProfile) -> Pattern:
        return plan_pattern(
            settings.pattern, trim, air, hand=hand, landing_deg=landing_deg, instant_turns=instant
        )

    pattern = draw(wind)
    spread = spread_of_plan(
        settings.pattern, trim, wind, hand=hand, landing_deg=landing_deg, instant_turns=instant
    )
    n = len(pattern.gates)
    target = settings.site.target
    frame = LocalFrame(*target) if target else None
    path = [(e, n, h) for _, e, n, h in pattern.path]
    rule = site_hand(settings, landing_deg)
    return HandPlan(
        hand=hand,
        pattern=pattern,
        gates=tuple(
            _place(g, landing_deg, frame, s)
            for g, s in zip(pattern.gates, spread.gates if spread else [None] * n, strict=True)
        ),
        legs=_rows(pattern, trim, wind, spread),
        shifts=_shifts(pattern, draw(scaled(wind, 1.0, landing_deg)), draw(turned(wind, 10.0)), landing_deg),
        keep_outs=crossed(settings.site.keep_outs, frame, path) if frame else (),
        against_site=rule is not None and rule != hand,
        spread=spread,
    )


def _place(gate: Gate, landing_deg: float, frame: LocalFrame | None, spread: GateSpread | None) -> GatePlace:
    along, across = to_landing_frame(gate.east_m, gate.north_m, landing_deg)
    lat, lon = frame.to_geodetic(gate.east_m, gate.north_m) if frame else (None, None)
    return GatePlace(
        gate.name,
        gate.agl_m,
        gate.east_m,
        gate.north_m,
        along,
        across,
        None if lat is None else float(lat),
        None if lon is None else float(lon),
        gate.heading_deg,
        gate.track_deg,
        spread,
    )


def _rows(pattern: Pattern, trim: Trim, wind: WindProfile, spread: PlanSpread | None) -> tuple[LegRow, ...]:
    if pattern.hand is None or pattern.landing_deg is None:
        return ()
    tracks = tracks_of(pattern.hand, pattern.landing_deg)
    ends = [(g.east_m, g.north_m) for g in pattern.gates[1:]] + [pattern.path[-1][1:3]]
    rows = [
        _row(leg, gate, end, tracks[leg.name], trim, wind)
        for leg, gate, end in zip(pattern.legs, pattern.gates, ends, strict=True)
    ]
    if spread is None:
        return tuple(rows)
    return tuple(replace(row, spread=s) for row, s in zip(rows, spread.legs, strict=True))


def _row(
    leg: Leg, gate: Gate, end: tuple[float, float], track_deg: float, trim: Trim, wind: WindProfile
) -> LegRow:
    """Length and time from gate to gate, so that the turn counts with the leg it leads onto."""
    middle = 0.5 * (gate.agl_m + leg.end_agl_m)
    return LegRow(
        name=leg.name,
        turn_agl_m=gate.agl_m,
        end_agl_m=leg.end_agl_m,
        track_deg=leg.track_deg,
        heading_deg=leg.heading_deg,
        crab_deg=leg.crab_deg,
        ground_speed_mps=leg.ground_speed_mps,
        seconds=leg.end_s - (gate.t_s or 0.0),
        length_m=math.hypot(end[0] - gate.east_m, end[1] - gate.north_m),
        held=abs(float(signed_difference_deg(leg.track_deg, track_deg))) <= PLAN.held_deg,
        limit_wind_mps=limit_wind(trim, wind, middle, track_deg),
    )


def limit_wind(trim: Trim, wind: WindProfile, agl_m: float, track_deg: float) -> float | None:
    """The wind [m/s] at a height, from the side it comes from there, at which a track can no longer be held or no way is made along it.

    With any part of the wind against the track that is a wind as fast as the canopy (where nose and wind cancel); with the wind
    from abeam or behind it is where the part across the track reaches the airspeed. None with the wind straight behind or no wind.
    """
    east, north = (float(v) for v in wind.vector(agl_m))
    speed = math.hypot(east, north)
    if speed < 1e-6:
        return None
    airspeed = trim.airspeed_mps * float(trim.factor(agl_m))
    along, across = (float(part) for part in along_across(east, north, track_deg))
    if along < -1e-9:
        return airspeed
    return airspeed * speed / abs(across) if abs(across) > 1e-6 * speed else None


def scaled(wind: WindProfile, by_mps: float, landing_deg: float) -> WindProfile:
    """The profile with ``by_mps`` more wind at every height, from where it comes; in no wind against the landing direction."""
    speed = np.hypot(wind.east, wind.north)
    angle = math.radians(landing_deg)
    still = speed < 1e-6
    unit_east = np.where(still, -math.sin(angle), wind.east / np.where(still, 1.0, speed))
    unit_north = np.where(still, -math.cos(angle), wind.north / np.where(still, 1.0, speed))
    return _with(wind, unit_east * (speed + by_mps), unit_north * (speed + by_mps))


def turned(wind: WindProfile, by_deg: float) -> WindProfile:
    """The profile coming from ``by_deg`` farther clockwise at every height."""
    angle = math.radians(by_deg)
    east = wind.east * math.cos(angle) + wind.north * math.sin(angle)
    return _with(wind, east, -wind.east * math.sin(angle) + wind.north * math.cos(angle))


def _with(wind: WindProfile, east: np.ndarray, north: np.ndarray) -> WindProfile:
    return WindProfile(wind.agl_m, east, north, wind.covariance, wind.status, wind.reason)


def _shifts(
    pattern: Pattern, stronger: Pattern, veered: Pattern, landing_deg: float
) -> tuple[GateShift, ...]:
    """The landing direction stays; each gate's place in the changed wind minus its place now."""
    rows = []
    for gate, a, b in zip(pattern.gates, stronger.gates, veered.gates, strict=True):
        speed = to_landing_frame(a.east_m - gate.east_m, a.north_m - gate.north_m, landing_deg)
        turn = to_landing_frame(b.east_m - gate.east_m, b.north_m - gate.north_m, landing_deg)
        rows.append(GateShift(gate.name, *speed, *turn))
    return tuple(rows)
