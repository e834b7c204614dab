"""The composer: debrief(path, settings) -> Debrief; the only module that knows the order of the stages."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from analyser.compare import GateDifference, compare
from analyser.errors import InputError
from analyser.findings import Finding, FindingInputs, find_findings
from analyser.findings.landing import into_wind_error_deg
from analyser.flight import Trim
from analyser.holding import Stretch, name_stretches
from analyser.importers.read import read
from analyser.importers.recording import Recording
from analyser.legs import find_legs
from analyser.pattern import Pattern
from analyser.phases import Phase, Phases, find_phases, split_jumps
from analyser.placing import about_landing, place
from analyser.plan.jump import Plan, draw_plans, flown_trim, for_flown_hand, for_wind, trim_of
from analyser.reach import Reach, find_reach
from analyser.replay import Advice, BudgetRow, PlanCheck, budget, would_the_plan_have_worked
from analyser.replay.advice import advise
from analyser.replay.sink import Brakes, brakes_on_final
from analyser.replay.unbraked import NOTE, wind_above_brakes
from analyser.score import Landing, find_landing
from analyser.settings import Settings
from analyser.track import Quality, Track, build_track
from analyser.wind.estimate import WindEstimate, estimate_wind
from analyser.wind.layers import LayerMean, layer_mean
from analyser.wind.profile import WindProfile

__all__ = ["Debrief", "Inspection", "Plan", "debrief", "debrief_all", "debrief_recording", "inspect"]


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
    brakes: Brakes | None = None
    trim: Trim | None = None
    layer_mean: LayerMean | None = None


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
    """The debriefs of every jump of the file at ``path``, in order; one without a jump where it holds none.

    Raises ``AnalyserError`` where the file can not be used.
    """
    recording = read(path)
    ranges = split_jumps(recording)
    if len(ranges) == 1:
        return (debrief_recording(recording, settings),)
    count = max(len(_jumps_among(recording, ranges)), 1)
    return tuple(debrief_recording(recording, settings, jump=i + 1) for i in range(count))


def debrief_recording(
    recording: Recording, settings: Settings | None = None, *, jump: int | None = None
) -> Debrief:
    """The debrief of one jump of a recording: number ``jump`` counting from 1, or the last.

    Raises ``InputError`` where it holds no such jump.
    """
    settings = settings or Settings()
    ranges = split_jumps(recording)
    if len(ranges) == 1:
        found = _compose(recording, recording, settings, 1, 1)
        if found.phases.kind == "jump":
            _check_number(jump, 1, recording)
            return found
        _check_number(jump, 0, recording)
        return replace(found, jump=0, jumps=0)
    held = _jumps_among(recording, ranges)
    _check_number(jump, len(held), recording)
    if not held:
        return _compose(recording, recording, settings, 0, 0)
    number = jump or len(held)
    return _compose(recording, recording.slice(*held[number - 1]), settings, number, len(held))


def _check_number(jump: int | None, count: int, recording: Recording) -> None:
    if jump is not None and not 1 <= jump <= count:
        plural = "" if count == 1 else "s"
        raise InputError(
            f"there is no jump {jump}", f"the file holds {count} jump{plural}, counted from 1", recording.file
        )


def _jumps_among(recording: Recording, ranges: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """The ranges that hold a jump."""
    return [r for r in ranges if find_phases(build_track(recording.slice(*r))).kind == "jump"]


def _compose(recording: Recording, piece: Recording, settings: Settings, jump: int, jumps: int) -> Debrief:
    reasons: dict[str, str] = {}
    settings, track, no_target = place(piece, settings)
    phases = find_phases(track)
    has_target = no_target is None
    if no_target is not None:
        reasons["target"] = no_target
        track = about_landing(track, phases)
    wind = _wind(track, phases, settings, reasons)
    profile = wind.profile if wind else None
    flown = _legs(settings, track, phases, wind, reasons)
    landing = find_landing(track, phases, flown=flown, wind=profile, has_target=has_target, settings=settings)
    if landing is None:
        reasons["landing"] = phases.reason or "the recording holds no landing"
    known = profile if _usable(wind) else None
    measured = wind.canopy if wind else None
    trim = flown_trim(settings, measured, track.ground_elevation_m)
    typed = trim_of(settings, measured, track.ground_elevation_m)
    fallback = landing.landing_deg if landing else None
    plan, redrawn = draw_plans(
        settings, typed, trim, known, flown=flown, fallback_deg=fallback, reasons=reasons
    )
    told = _Told(settings, track, phases, known, flown, landing, trim, plan, redrawn, reasons)
    return _judge(told, recording, jump, jumps, wind)


@dataclass(frozen=True, slots=True, eq=False)
class _Told:
    """What the track told, before it is judged."""

    settings: Settings
    track: Track
    phases: Phases
    wind: WindProfile | None
    flown: Pattern | None
    landing: Landing | None
    trim: Trim | None
    plan: Plan | None
    redrawn: Plan | None
    reasons: dict[str, str]


def _judge(told: _Told, recording: Recording, jump: int, jumps: int, wind: WindEstimate | None) -> Debrief:
    plan = for_flown_hand(told.plan, told.settings, told.flown) if told.plan and told.flown else told.plan
    comparison = compare(told.flown, plan.pattern) if plan and told.flown else ()
    reach, stretches = _holding(told)
    brakes = (
        brakes_on_final(
            told.track, told.flown, told.landing, told.trim, told.wind, method=told.settings.method
        )
        if told.flown and told.landing and told.trim and told.wind
        else None
    )
    canopy = told.phases.canopy()
    replay = _replayed(told, brakes)
    rows = _budget(replay)
    check = _plan_check(replay)
    inputs = FindingInputs(
        settings=told.settings,
        track=told.track,
        phases=told.phases,
        wind=told.wind,
        trim=told.trim,
        flown=told.flown,
        plan=plan.pattern if plan else None,
        plan_wind=told.settings.wind_profile,
        winds_from=told.plan.winds_from if told.plan else None,
        comparison=comparison,
        landing=told.landing,
        budget=rows,
        plan_check=check,
        reach=reach,
        stretches=stretches,
        brakes=brakes,
        canopy=(canopy.start, _stop(told.phases, canopy)) if canopy else None,
    )
    error = into_wind_error_deg(inputs)
    return Debrief(
        recording=recording,
        jump=jump,
        jumps=jumps,
        settings=told.settings,
        track=told.track,
        phases=told.phases,
        wind=wind,
        flown=told.flown,
        plan=told.plan,
        redrawn=told.redrawn,
        comparison=comparison,
        landing=told.landing,
        budget=rows,
        advice=_advice(told),
        findings=find_findings(inputs),
        reasons=told.reasons,
        has_target=told.settings.site.target is not None,
        into_wind_error_deg=error[0] if error else None,
        into_wind_error_sd_deg=error[1] if error else None,
        plan_outcome=check,
        reach=reach,
        holding=stretches,
        brakes=brakes,
        trim=told.trim,
        layer_mean=layer_mean(told.wind) if told.wind else None,
    )


def _wind(track: Track, phases: Phases, settings: Settings, reasons: dict[str, str]) -> WindEstimate | None:
    canopy = phases.canopy()
    if canopy is None or phases.kind == "no jump":
        reasons["winds"] = phases.reason or "the recording holds no canopy flight"
        return None
    estimate = estimate_wind(track, canopy.start, canopy.stop, airspeed_prior=_airspeed_prior(settings))
    if all(s == "undetermined" for s in estimate.profile.status):
        reasons["winds"] = estimate.reason or estimate.profile.reason[0]
    return estimate


def _airspeed_prior(settings: Settings) -> tuple[float, float] | None:
    """The typed airspeed (mean, sd) [m/s], never better than to a tenth; None where none was typed."""
    wing = settings.canopy
    if wing.airspeed_mps is None:
        return None
    return wing.airspeed_mps, max(wing.airspeed_sd_mps, 0.1 * wing.airspeed_mps)


def _usable(wind: WindEstimate | None) -> bool:
    return wind is not None and any(s != "undetermined" for s in wind.profile.status)


def _legs(
    settings: Settings, track: Track, phases: Phases, wind: WindEstimate | None, reasons: dict[str, str]
) -> Pattern | None:
    canopy = phases.canopy()
    if canopy is None or wind is None or phases.landing_index is None:
        reasons["legs"] = (
            reasons.get("winds") or phases.reason or "the recording holds no landing to name the legs from"
        )
        return None
    flown = find_legs(
        track,
        canopy.start,
        canopy.stop,
        wind.profile,
        landing_s=phases.landing_s,
        planned=settings.pattern.told,
    )
    if not flown.legs:
        reasons["legs"] = flown.reason or "no leg could be named"
    return flown


def _stop(phases: Phases, canopy: Phase) -> int:
    """The fix at touchdown, where there is one, else the end of the canopy flight."""
    return canopy.stop if phases.landing_index is None else phases.landing_index + 1


def _replayed(told: _Told, brakes: Brakes | None) -> _Told:
    """The same with the wind of the flight above the final where that was flown in brakes; noted as a reason."""
    canopy = told.phases.canopy()
    if canopy is None or told.flown is None:
        return told
    wind = wind_above_brakes(
        told.track,
        canopy.start,
        told.flown,
        brakes,
        airspeed_prior=_airspeed_prior(told.settings),
        method=told.settings.method,
    )
    if wind is None:
        return told
    plan = told.plan
    if plan is not None and plan.winds_from == "track":
        plan = for_wind(plan, told.settings, wind)
    told.reasons["budget"] = NOTE
    trim = (
        replace(told.trim, airspeed_wind=()) if told.trim else None
    )  # that was the covariance with the other wind
    return replace(told, wind=wind, plan=plan, trim=trim)


def _budget(told: _Told) -> tuple[BudgetRow, ...]:
    landing, plan, flown, wind = told.landing, told.plan, told.flown, told.wind
    if landing is None or landing.along_m is None or plan is None or flown is None or wind is None:
        order = ("landing", "target", "plan", "legs", "winds")
        why = next((told.reasons[k] for k in order if k in told.reasons), "not enough is known")
        told.reasons["budget"] = why
        return ()
    used = for_flown_hand(plan, told.settings, flown)
    if used is not plan:
        hands = (
            f"flown {flown.hand} hand, planned {plan.pattern.hand}: set against the plan of the flown hand"
        )
        told.reasons["budget"] = "; ".join(r for r in (told.reasons.get("budget"), hands) if r)
    rows = budget(
        used.pattern,
        flown,
        landing,
        told.trim or used.trim,
        wind,
        winds_from=used.winds_from,
        position_sd_m=told.track.position_sd_m,
        agl_sd_m=told.track.agl_sd_m,
        track=told.track,
    )
    if not rows:
        told.reasons["budget"] = "the wind is not determined over most of the pattern"
    return rows


def _plan_check(told: _Told) -> PlanCheck | None:
    """What the plan for the assumed wind would have done in the recovered one."""
    if told.plan is None or told.plan.winds_from == "track" or told.wind is None:
        return None
    redrawn = told.redrawn.pattern if told.redrawn else None
    return would_the_plan_have_worked(
        told.plan.pattern, told.trim or told.plan.trim, told.wind, redrawn=redrawn
    )


def _holding(told: _Told) -> tuple[Reach | None, tuple[Stretch, ...]]:
    """Reach over the whole canopy flight (with a target), and the named stretches before the pattern entry."""
    canopy = told.phases.canopy()
    if canopy is None or told.wind is None or told.trim is None:
        return None, ()
    stop = _stop(told.phases, canopy)
    best = told.redrawn or told.plan
    entry = best.pattern.gates[0] if best and best.pattern.gates else None
    reach = None
    if told.settings.site.target is not None:
        reach = find_reach(told.track, canopy.start, stop, told.wind, told.trim, entry=entry)
    flown = told.flown.gates[0] if told.flown and told.flown.gates else None
    end = stop if flown is None or flown.t_s is None else int(np.searchsorted(told.track.t_s, flown.t_s))
    stretches = name_stretches(
        told.track, canopy.start, end, told.wind, told.trim, method=told.settings.method
    )
    return reach, stretches


def _advice(told: _Told) -> tuple[Advice, ...]:
    if told.flown is None or told.landing is None or told.trim is None or told.wind is None:
        return ()
    return advise(
        told.flown,
        told.landing,
        told.trim,
        told.wind,
        site=told.settings.site,
        method=told.settings.method,
        frame=told.track.frame,
        plan=told.plan.pattern if told.plan else None,
    )
