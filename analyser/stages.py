"""The stages of a debrief, in their order: each takes what is known of a jump and gives it back with more, or a reason."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np

from analyser.compare import compare
from analyser.findings import find_findings, render
from analyser.findings.landing import into_wind_error_deg
from analyser.findings.questions import WAITING, WITHHOLDING, ask
from analyser.findings.typed_speeds import typed_airspeed, typed_sink
from analyser.holding import name_stretches
from analyser.jump import Debrief
from analyser.legs import find_legs
from analyser.plan.jump import Plan, draw_plan, flown_trim, for_flown_hand, for_wind, trim_of
from analyser.reach import find_reach
from analyser.replay import budget, would_the_plan_have_worked
from analyser.replay.choose_advice import weigh
from analyser.replay.entry import with_entry
from analyser.replay.places import place_at_height
from analyser.replay.sink import brakes_on_final
from analyser.replay.unbraked import wind_again
from analyser.score import find_landing
from analyser.settings import Settings
from analyser.wind.estimate import WindEstimate, estimate_wind
from analyser.wind.layer_means import layer_mean

__all__ = ["STAGES", "Stage", "with_wind"]

Stage = Callable[[Debrief], Debrief]


def _typed(x: Debrief) -> Debrief:
    """A typed airspeed that the track contradicts is asked about, and left out with the sink that goes with it; so is a sink alone."""
    question, canopy = typed_airspeed(x), x.settings.canopy
    if question is not None:
        canopy = replace(canopy, airspeed_mps=None, sink_mps=None)
    else:
        question, canopy = typed_sink(x), replace(canopy, sink_mps=None)
    if question is None:
        return x
    return x.knowing(settings=replace(x.settings, canopy=canopy), questions=(*x.questions, question))


def _wind(x: Debrief) -> Debrief:
    canopy = x.phases.canopy()
    if canopy is None or x.phases.kind == "no jump":
        return x.lacking("winds", x.phases.reason or "the recording holds no canopy flight")
    prior = _airspeed_prior(x.settings)
    wind = estimate_wind(
        x.track, canopy.start, canopy.stop, airspeed_prior=prior, elevation_m=x.air_altitude_m
    )
    found = x.knowing(wind=wind)
    if found.profile is None:
        return found.lacking("winds", wind.reason or wind.profile.reason[0])
    return found.knowing(layer_mean=layer_mean(wind.profile))


def _airspeed_prior(settings: Settings) -> tuple[float, float] | None:
    """The typed airspeed (mean, sd) [m/s], never better than to a tenth; None where none was typed."""
    wing = settings.canopy
    if wing.airspeed_mps is None:
        return None
    return wing.airspeed_mps, max(wing.airspeed_sd_mps, 0.1 * wing.airspeed_mps)


def _legs(x: Debrief) -> Debrief:
    canopy = x.phases.canopy()
    if canopy is None or x.wind is None or x.phases.landing_index is None:
        none = x.phases.reason or "the recording holds no landing to name the legs from"
        return x.lacking("legs", x.reasons.get("winds") or none)
    told = x.settings.pattern.told
    span = (canopy.start, canopy.stop)
    flown = find_legs(x.track, *span, x.wind.profile, landing_s=x.phases.landing_s, planned=told)
    found = x.knowing(flown=flown)
    return found if flown.legs else found.lacking("legs", flown.reason or "no leg could be named")


def _landing(x: Debrief) -> Debrief:
    landing = find_landing(
        x.track,
        x.phases,
        flown=x.flown,
        wind=x.wind.profile if x.wind else None,
        has_target=x.has_target,
        settings=x.settings,
    )
    if landing is None:
        return x.lacking("landing", x.phases.reason or "the recording holds no landing")
    return x.knowing(landing=landing)


def _trim(x: Debrief) -> Debrief:
    measured = x.wind.canopy if x.wind else None
    return x.knowing(trim=flown_trim(x.settings, measured, x.air_altitude_m))


def _plan(x: Debrief) -> Debrief:
    """The plan for the assumed wind with the typed trim, else for wind and trim as recovered."""
    typed = trim_of(x.settings, x.wind.canopy if x.wind else None, x.air_altitude_m)
    if x.trim is None or typed is None:
        return x.lacking("plan", "the canopy's trim speeds are neither given nor found in the track")
    fallback = x.landing.landing_deg if x.landing else None
    assumed = x.settings.wind_profile
    if assumed is not None:
        plan = draw_plan(x.settings, typed, assumed, "plan", flown=x.flown, fallback_deg=fallback)
    elif x.profile is not None:
        along = x.flown.landing_deg if x.flown and x.flown.leg("final") else None
        plan = draw_plan(
            x.settings, x.trim, x.profile, "track", flown=x.flown, fallback_deg=fallback, along_deg=along
        )
    else:
        return x.lacking("plan", f"no wind to draw it in: {x.reasons.get('winds', 'none given')}")
    if plan is None:
        return x.lacking("plan", "no wind and no landing direction to draw it for")
    return x.knowing(plan=plan, matched=_matched(plan, x))


def _matched(plan: Plan, x: Debrief) -> Plan:
    return for_flown_hand(plan, x.settings, x.flown) if x.flown else plan


def _redrawn(x: Debrief) -> Debrief:
    """The plan for an assumed wind once more, for wind and trim as recovered."""
    if x.plan is None or x.plan.winds_from == "track" or x.profile is None or x.trim is None:
        return x
    landing_deg = x.plan.pattern.landing_deg
    again = draw_plan(x.settings, x.trim, x.profile, "track", flown=x.flown, fallback_deg=landing_deg)
    return x.knowing(redrawn=None if again is None else _matched(again, x))


def _comparison(x: Debrief) -> Debrief:
    if x.matched is None or x.flown is None:
        return x
    rows = compare(x.flown, x.matched.pattern)
    return x.knowing(comparison=with_entry(rows, x.matched, x.flown, x.track, x.trim, x.profile))


def _reach(x: Debrief) -> Debrief:
    """Whether the plan's entry and the target stayed within reach, the target down to the turn onto final."""
    span = x.canopy_fixes
    if span is None or x.profile is None or x.trim is None or not x.has_target:
        return x
    entry = x.planned.gates[0] if x.planned and x.planned.gates else None
    finals = [gate.agl_m for p in (x.flown, x.planned) if p and (gate := p.gate("final"))]
    low = finals[0] if finals else 0.0
    return x.knowing(reach=find_reach(x.track, *span, x.profile, x.trim, entry=entry, low_m=low))


def _holding(x: Debrief) -> Debrief:
    """The named stretches before the pattern entry."""
    span = x.canopy_fixes
    if span is None or x.profile is None or x.trim is None:
        return x
    start, end = span
    first = x.flown.gates[0] if x.flown and x.flown.gates else None
    if first is not None and first.t_s is not None:
        end = int(np.searchsorted(x.track.t_s, first.t_s))
    method = x.settings.method
    return x.knowing(holding=name_stretches(x.track, start, end, x.profile, x.trim, method=method))


def _questions(x: Debrief) -> Debrief:
    return x.knowing(questions=(*x.questions, *ask(x)))


def _brakes(x: Debrief) -> Debrief:
    if x.flown is None or x.landing is None or x.trim is None or x.profile is None:
        return x
    method = x.settings.method
    return x.knowing(brakes=brakes_on_final(x.track, x.flown, x.landing, x.trim, x.profile, method=method))


def _above_final(x: Debrief) -> Debrief:
    """The same jump with the wind of the flight above the final where that was slower than full flight; noted as a reason."""
    canopy, landing, trim = x.phases.canopy(), x.landing, x.trim
    if canopy is None or x.flown is None or x.wind is None or x.shared is not None:
        return x
    if landing is None or trim is None or x.plan is None:
        return x
    if x.plan.winds_from == "track" and landing.along_m is None:
        return x  # neither a budget nor a plan to judge
    prior, method = _airspeed_prior(x.settings), x.settings.method
    again = wind_again(
        x.track,
        canopy.start,
        x.flown,
        landing,
        trim,
        x.brakes,
        whole=x.wind.profile,
        airspeed_prior=prior,
        method=method,
    )
    if again is None:
        return x
    wind = again.profile
    plan, matched = x.plan, x.matched
    if plan.winds_from == "track":
        plan = for_wind(plan, x.settings, wind)
        matched = _matched(plan, x)
    trim = replace(trim, airspeed_wind=())  # that was the covariance with the other wind
    above = x.knowing(wind=replace(x.wind, profile=wind), plan=plan, matched=matched, trim=trim)
    return above.lacking("budget", again.note) if again.note else above


def _replay(x: Debrief) -> Debrief:
    """The budget of the miss, and what the plan would have done: both in the wind above the brakes."""
    above = _above_final(x)
    budgeted = _budget(above)
    found = x.knowing(budget=budgeted.budget, reasons=budgeted.reasons)
    plan, wind = above.matched, above.profile
    asked = any(q.code in WITHHOLDING for q in x.questions)
    if plan is None or plan.winds_from == "track" or wind is None or asked:
        return found
    redrawn = x.redrawn.pattern if x.redrawn else None
    trim = above.trim or plan.trim
    return found.knowing(plan_outcome=would_the_plan_have_worked(plan.pattern, trim, wind, redrawn=redrawn))


def _budget(x: Debrief) -> Debrief:
    asked = next((q for q in x.questions if q.code in WITHHOLDING), None)
    if asked is not None:
        return x.lacking("budget", render(asked))
    landing, used, flown, wind = x.landing, x.matched, x.flown, x.profile
    if landing is None or landing.along_m is None or used is None or flown is None or wind is None:
        order = ("landing", "target", "plan", "legs", "winds")
        return x.lacking(
            "budget", next((x.reasons[k] for k in order if k in x.reasons), "not enough is known")
        )
    if used is not x.plan and x.plan is not None:
        hands = (
            f"flown {flown.hand} hand, planned {x.plan.pattern.hand}: set against the plan of the flown hand"
        )
        x = x.lacking("budget", "; ".join(r for r in (x.reasons.get("budget"), hands) if r))
    rows = budget(
        used.pattern,
        flown,
        landing,
        x.trim or used.trim,
        wind,
        winds_from=used.winds_from,
        made_for=(used.trim, used.wind),
        position_sd_m=x.track.position_sd_m,
        agl_sd_m=x.track.agl_sd_m,
        track=x.track,
    )
    if not rows:
        return x.lacking("budget", "the wind is not determined over most of the pattern")
    return x.knowing(budget=rows)


def _into_wind(x: Debrief) -> Debrief:
    off = into_wind_error_deg(x)
    return x if off is None else x.knowing(into_wind_error_deg=off[0], into_wind_error_sd_deg=off[1])


def _advice(x: Debrief) -> Debrief:
    plan = x.matched
    if plan is None or x.flown is None or x.landing is None or x.trim is None or x.profile is None:
        return x
    asked = next((q for q in x.questions if q.code in WAITING), None)
    if asked is not None:
        return x.lacking("advice", WAITING[asked.code])
    gates, span = plan.pattern.gates, x.canopy_fixes
    there = place_at_height(x.track, span, gates[0].agl_m) if gates and span else None
    weighed = weigh(
        x.budget,
        plan,
        x.flown,
        x.landing,
        x.trim,
        x.profile,
        settings=x.settings,
        frame=x.track.frame,
        brakes=x.brakes,
        there=there,
        out_of_reach=x.reach is not None and x.reach.entry is not None and x.reach.entry.in_reach is False,
    )
    return x.knowing(advice=weighed.advice, choices=weighed.choices)


def _findings(x: Debrief) -> Debrief:
    return x.knowing(findings=find_findings(x))


STAGES: Final[tuple[Stage, ...]] = (
    _typed,
    _wind,
    _legs,
    _landing,
    _trim,
    _plan,
    _redrawn,
    _comparison,
    _questions,
    _reach,
    _holding,
    _brakes,
    _replay,
    _into_wind,
    _advice,
    _findings,
)


def with_wind(wind: WindEstimate) -> tuple[Stage, ...]:
    """The stages with a wind that is known already in place of that of the track."""

    def known(x: Debrief) -> Debrief:
        found = x.knowing(wind=wind)
        if found.profile is None:
            return found.lacking("winds", wind.reason or wind.profile.reason[0])
        return found.knowing(layer_mean=layer_mean(wind.profile))

    return tuple(known if stage is _wind else stage for stage in STAGES)
