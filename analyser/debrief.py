"""The composer: debrief(path, settings) -> Debrief; the only module that knows the order of the stages."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from analyser.compare import GateDifference, compare
from analyser.errors import InputError
from analyser.findings import Finding
from analyser.flight import Trim
from analyser.frame import LocalFrame
from analyser.holding import Stretch
from analyser.importers.read import read
from analyser.importers.recording import Recording
from analyser.legs import find_legs
from analyser.pattern import Pattern
from analyser.phases import Phases, find_phases, split_jumps
from analyser.plan import choose_hand, choose_landing_deg, plan_pattern
from analyser.reach import Reach
from analyser.replay import Advice, BudgetRow, PlanCheck, budget
from analyser.score import Landing, find_landing
from analyser.settings import Settings
from analyser.track import Quality, Track, build_track
from analyser.wind.estimate import WindEstimate, estimate_wind
from analyser.wind.profile import WindProfile

__all__ = ["Debrief", "Inspection", "Plan", "debrief", "debrief_all", "debrief_recording", "inspect"]


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """The planned pattern (east/north from the target), the wind it was made for and where that came from."""

    pattern: Pattern
    wind: WindProfile
    winds_from: Literal["plan", "track"]
    trim: Trim


@dataclass(frozen=True, slots=True, eq=False)
class Debrief:
    """Everything known about one jump, in SI units.

    None where a stage had nothing to say; ``reasons`` says why, by the name of the stage. The frame's origin is the target
    where one was given (``has_target``), else the landing point.
    """

    recording: Recording
    jump: int
    jumps: int
    settings: Settings
    track: Track
    phases: Phases
    wind: WindEstimate | None
    flown: Pattern | None
    plan: Plan | None
    redrawn: Plan | None
    comparison: tuple[GateDifference, ...]
    landing: Landing | None
    budget: tuple[BudgetRow, ...]
    advice: tuple[Advice, ...]
    findings: tuple[Finding, ...]
    reasons: dict[str, str]
    has_target: bool
    into_wind_error_deg: float | None = None
    into_wind_error_sd_deg: float | None = None
    plan_outcome: PlanCheck | None = None
    reach: Reach | None = None
    holding: tuple[Stretch, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Inspection:
    """What a recording holds, without judgement: its quality and every jump's track and phases."""

    recording: Recording
    quality: Quality
    jumps: int
    pieces: tuple[tuple[Track, Phases], ...] = field(default=())


def inspect(path: str | os.PathLike[str]) -> Inspection:
    """What the file at ``path`` holds. Raises ``AnalyserError`` where it can not be read."""
    recording = read(path)
    pieces = []
    for start, stop in split_jumps(recording):
        track = build_track(recording.slice(start, stop))
        pieces.append((track, find_phases(track)))
    jumps = sum(phases.kind == "jump" for _, phases in pieces)
    return Inspection(recording, build_track(recording).quality, jumps, tuple(pieces))


def debrief(
    path: str | os.PathLike[str], settings: Settings | None = None, *, jump: int | None = None
) -> Debrief:
    """The debrief of one jump of the file at ``path``: number ``jump`` counting from 1, or the last.

    Raises ``AnalyserError`` where the file can not be used or holds no such jump.
    """
    return debrief_recording(read(path), settings, jump=jump)


def debrief_all(path: str | os.PathLike[str], settings: Settings | None = None) -> tuple[Debrief, ...]:
    """The debriefs of every jump of the file at ``path``, in order."""
    recording = read(path)
    count = len(_jump_ranges(recording))
    return tuple(debrief_recording(recording, settings, jump=i + 1) for i in range(max(count, 1)))


def debrief_recording(
    recording: Recording, settings: Settings | None = None, *, jump: int | None = None
) -> Debrief:
    """The debrief of one jump of a recording."""
    settings = settings or Settings()
    ranges = _jump_ranges(recording)
    count = len(ranges)
    if jump is not None and not 1 <= jump <= max(count, 1):
        held = f"the file holds {count} jump{'s' if count != 1 else ''}"
        raise InputError(f"there is no jump {jump}", f"{held}, counted from 1", recording.file)
    number = jump if jump is not None else max(count, 1)
    piece = recording.slice(*ranges[number - 1]) if count else recording
    return _compose(recording, piece, settings, number if count else 0, count)


def _jump_ranges(recording: Recording) -> list[tuple[int, int]]:
    """The ranges of the recording that hold a jump; a single range is taken as it is."""
    ranges = list(split_jumps(recording))
    if len(ranges) == 1:
        return ranges if find_phases(build_track(recording)).kind == "jump" else []
    return [r for r in ranges if find_phases(build_track(recording.slice(*r))).kind == "jump"]


def _compose(recording: Recording, piece: Recording, settings: Settings, jump: int, jumps: int) -> Debrief:
    reasons: dict[str, str] = {}
    track = build_track(piece, origin=settings.site.target, elevation_m=settings.site.elevation_m)
    phases = find_phases(track)
    has_target = settings.site.target is not None
    if not has_target:
        reasons["target"] = "no target given: add --target LAT,LON or a plan with one to get the offset"
        track = _about_landing(track, phases)
    wind = _wind(track, phases, settings, reasons)
    flown = _legs(track, phases, wind, reasons)
    landing = find_landing(
        track,
        phases,
        flown=flown,
        wind=wind.profile if wind else None,
        has_target=has_target,
        settings=settings,
    )
    if landing is None:
        reasons["landing"] = phases.reason or "the recording holds no landing"
    plan, redrawn = _plans(track, settings, wind, flown, landing, reasons)
    comparison = compare(flown, plan.pattern) if plan and flown else ()
    rows = _budget(track, plan, flown, landing, wind, settings, reasons)
    return Debrief(
        recording=recording,
        jump=jump,
        jumps=jumps,
        settings=settings,
        track=track,
        phases=phases,
        wind=wind,
        flown=flown,
        plan=plan,
        redrawn=redrawn,
        comparison=comparison,
        landing=landing,
        budget=rows,
        advice=(),
        findings=(),
        reasons=reasons,
        has_target=has_target,
    )


def _about_landing(track: Track, phases: Phases) -> Track:
    """The same track with the touchdown as the origin of its frame."""
    if phases.landing_s is None:
        return track
    east = float(np.interp(phases.landing_s, track.t_s, track.east_m))
    north = float(np.interp(phases.landing_s, track.t_s, track.north_m))
    lat, lon = track.frame.to_geodetic(east, north)
    return replace(
        track,
        frame=LocalFrame(float(lat), float(lon)),
        east_m=track.east_m - east,
        north_m=track.north_m - north,
    )


def _wind(track: Track, phases: Phases, settings: Settings, reasons: dict[str, str]) -> WindEstimate | None:
    canopy = phases.canopy()
    if canopy is None:
        reasons["winds"] = phases.reason or "the recording holds no canopy flight"
        return None
    wing = settings.canopy
    prior = (
        None
        if wing.airspeed_mps is None
        else (wing.airspeed_mps, max(wing.airspeed_sd_mps, 0.1 * wing.airspeed_mps))
    )
    estimate = estimate_wind(track, canopy.start, canopy.stop, airspeed_prior=prior)
    if all(s == "undetermined" for s in estimate.profile.status):
        reasons["winds"] = estimate.reason or estimate.profile.reason[0]
    return estimate


def _usable(wind: WindEstimate | None) -> bool:
    return wind is not None and any(s != "undetermined" for s in wind.profile.status)


def _legs(track: Track, phases: Phases, wind: WindEstimate | None, reasons: dict[str, str]) -> Pattern | None:
    canopy = phases.canopy()
    if canopy is None or wind is None or phases.landing_index is None:
        reasons["legs"] = (
            reasons.get("winds") or phases.reason or "the recording holds no landing to name the legs from"
        )
        return None
    flown = find_legs(track, canopy.start, canopy.stop, wind.profile)
    if not flown.legs:
        reasons["legs"] = flown.reason or "no leg could be named"
    return flown


def _trim(track: Track, settings: Settings, wind: WindEstimate | None) -> Trim | None:
    """The wing's trim: what the settings give, completed by what the track shows."""
    wing, seen = settings.canopy, wind.canopy if wind else None
    airspeed = wing.airspeed_mps or (seen.airspeed_mps if seen else None)
    sink = wing.sink_mps or (seen.sink_mps if seen else None)
    if not airspeed or not sink or not (math.isfinite(airspeed) and math.isfinite(sink)):
        return None
    sd_v = wing.airspeed_sd_mps if wing.airspeed_mps else (seen.airspeed_sd_mps if seen else None) or 0.0
    sd_s = wing.sink_sd_mps if wing.sink_mps else (seen.sink_sd_mps if seen else None) or 0.0
    return Trim(airspeed, sink, wing.bank_deg, track.ground_elevation_m, sd_v, sd_s)


def _plans(
    track: Track,
    settings: Settings,
    wind: WindEstimate | None,
    flown: Pattern | None,
    landing: Landing | None,
    reasons: dict[str, str],
) -> tuple[Plan | None, Plan | None]:
    """The plan for the assumed wind, and the same plan redrawn for the recovered one (None where that is the same)."""
    trim = _trim(track, settings, wind)
    assumed, recovered = settings.wind_profile, wind.profile if wind and _usable(wind) else None
    if trim is None:
        reasons["plan"] = "the canopy's trim speeds are neither given nor found in the track"
        return None, None
    made_for = assumed or recovered
    if made_for is None:
        reasons["plan"] = f"no wind to draw it in: {reasons.get('winds', 'none given')}"
        return None, None
    fallback = landing.landing_deg if landing else None
    first = _draw(settings, trim, made_for, flown, fallback, "plan" if assumed else "track")
    if first is None:
        reasons["plan"] = "no wind and no landing direction to draw it for"
        return None, None
    if assumed is None or recovered is None:
        return first, None
    return first, _draw(settings, trim, recovered, flown, first.pattern.landing_deg, "track")


def _draw(
    settings: Settings,
    trim: Trim,
    wind: WindProfile,
    flown: Pattern | None,
    fallback_deg: float | None,
    winds_from: Literal["plan", "track"],
) -> Plan | None:
    landing_deg = choose_landing_deg(settings, wind)
    landing_deg = fallback_deg if landing_deg is None else landing_deg
    if landing_deg is None:
        return None
    hand = choose_hand(settings, landing_deg, flown.hand if flown else None)
    pattern = plan_pattern(settings.pattern, trim, wind, hand=hand, landing_deg=landing_deg)
    return Plan(pattern, wind, winds_from, trim)


def _budget(
    track: Track,
    plan: Plan | None,
    flown: Pattern | None,
    landing: Landing | None,
    wind: WindEstimate | None,
    settings: Settings,
    reasons: dict[str, str],
) -> tuple[BudgetRow, ...]:
    if (
        landing is None
        or landing.along_m is None
        or plan is None
        or flown is None
        or wind is None
        or not _usable(wind)
    ):
        reasons["budget"] = next(
            (reasons[k] for k in ("landing", "target", "plan", "legs", "winds") if k in reasons),
            "not enough is known",
        )
        return ()
    pattern = plan.pattern
    if flown.hand is not None and flown.hand != pattern.hand and pattern.landing_deg is not None:
        reasons["budget"] = (
            f"flown {flown.hand} hand, planned {pattern.hand}: compared with the plan of the flown hand"
        )
        pattern = plan_pattern(
            settings.pattern, plan.trim, plan.wind, hand=flown.hand, landing_deg=pattern.landing_deg
        )
    return budget(
        pattern,
        flown,
        landing,
        plan.trim,
        wind.profile,
        winds_from=plan.winds_from,
        position_sd_m=track.position_sd_m,
        agl_sd_m=track.agl_sd_m,
    )
