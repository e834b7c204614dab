"""Rules about the pattern and the way to it: kept heights, the site's rules, reach and holding."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from analyser.angles import along_across
from analyser.findings.model import Finding, Values, clearly
from analyser.findings.thresholds import FINDINGS
from analyser.findings.turns import turn_rules
from analyser.flight import wind_over_airspeed
from analyser.jump import Debrief
from analyser.plan.areas import crossed
from analyser.plan.draw import site_hand

__all__ = ["flight_rules"]


Vector = NDArray[np.float64]


def flight_rules(x: Debrief) -> Iterator[Finding]:
    """Every rule about the pattern and the flight to it."""
    yield from _heights_kept(x)
    yield from _wind_read(x)
    yield from turn_rules(x)
    yield from _hand(x)
    yield from _keep_outs(x)
    yield from _upwind_margin(x)
    yield from _past_target(x)
    yield from _strong_wind(x)
    yield from _wind_checks(x)


def _heights_kept(x: Debrief) -> Iterator[Finding]:
    """Every turn that is known well enough began near its height, and no other is clearly off."""
    method, rows = x.settings.method, x.comparison
    limit, sure = method.gate_height.value, method.certainty.value
    if any(r.agl_m is None or abs(r.agl_m) > max(limit, sure * (r.agl_sd_m or 0.0)) for r in rows):
        return
    known = [
        r for r in rows if r.agl_m is not None and abs(r.agl_m) + sure * (r.agl_sd_m or 0.0) <= 2.0 * limit
    ]
    if len(known) < 2:
        return
    largest = max(known, key=lambda r: abs(r.agl_m or 0.0))
    values: Values = {
        "largest_m": abs(largest.agl_m or 0.0),
        "largest_sd_m": largest.agl_sd_m or 0.0,
        "gates": float(len(known)),
        "onto": " and ".join([", ".join(r.gate for r in known[:-1]), known[-1].gate]),
    }
    which = "All {gates:count} gates" if len(known) == len(rows) else "The gates {onto:text}"
    text = which + " came within {largest_m:height} of their planned heights."
    yield Finding("heights_kept", "good", text, values, group="heights")


def _wind_read(x: Debrief) -> Iterator[Finding]:
    row = next((r for r in x.budget if r.cause == "wind"), None)
    if row is None or x.plan is None or x.plan.winds_from != "plan":
        return
    size, sd = math.hypot(row.along_m, row.across_m), math.hypot(row.along_sd_m, row.across_sd_m)
    radius = x.settings.method.on_target.value
    if size + x.settings.method.certainty.value * sd <= radius * 1.5:
        values: Values = {"plan_off_m": size, "plan_off_sd_m": sd}
        text = "The plan fitted the wind: flown as drawn it would have ended {plan_off_m:distance} from the target."
        yield Finding("plan_fitted", "good", text, values, group="wind")


def _hand(x: Debrief) -> Iterator[Finding]:
    if (
        x.flown is None
        or x.flown.hand is None
        or x.flown.landing_deg is None
        or x.flown.confidence < x.settings.method.pattern_confidence.value
    ):
        return
    rule = site_hand(x.settings, x.flown.landing_deg)
    if rule is not None and rule != x.flown.hand:
        values: Values = {"flown": x.flown.hand, "rule": rule, "landing_deg": x.flown.landing_deg}
        text = (
            "A {flown:text}-hand pattern was flown; for this landing direction the site has {rule:text} hand."
        )
        yield Finding("hand_against_rule", "caution", text, values, group="site rules")
        return
    asked = x.settings.pattern.hand
    if rule is None and asked not in ("as flown", x.flown.hand):
        values = {"flown": x.flown.hand, "planned": asked}
        text = "A {flown:text}-hand pattern was flown, planned was {planned:text} hand; it is set against the plan drawn for the flown hand."
        yield Finding("hand_against_plan", "note", text, values, group="hand")


def _keep_outs(x: Debrief) -> Iterator[Finding]:
    areas = x.settings.site.keep_outs
    if not areas or x.canopy_fixes is None:
        return
    track, part = x.track, slice(*x.canopy_fixes)
    good = np.isfinite(track.agl_m[part])
    path = np.stack([track.east_m[part], track.north_m[part], track.agl_m[part]], axis=1)[good]
    sure, sd = x.settings.method.certainty.value, track.position_sd_m
    shifts = [(0.0, 0.0), (sd, 0.0), (-sd, 0.0), (0.0, sd), (0.0, -sd)]
    rows = [
        set(
            crossed(
                areas,
                track.frame,
                [tuple(p) for p in path + np.array([sure * e, sure * n, 0.0])],
                margin_m=-sure * track.agl_sd_m,
            )
        )
        for e, n in shifts
    ]
    for area in areas:
        if all(area.name in row for row in rows):
            values: Values = {
                "area": area.name,
                "below_m": area.below_m,
                "position_sd_m": sd,
                "agl_sd_m": track.agl_sd_m,
            }
            text = "{area:text} was overflown below {below_m:height~}."
            yield Finding("keep_out_overflown", "caution", text, values, group="site rules")


def _upwind_margin(x: Debrief) -> Iterator[Finding]:
    if x.reach is None or x.reach.entry is None:
        return
    goal, method = x.reach.entry, x.settings.method
    margin, sd = goal.worst_margin_m, goal.worst_margin_sd_m
    if margin is None or sd is None:
        return
    values: Values = {
        "margin_m": abs(margin),
        "margin_sd_m": sd,
        "worst_agl_m": goal.worst_agl_m,
        "lost_agl_m": goal.lost_agl_m,
    }
    if _lost_early(x, goal.lost_agl_m) and clearly(
        -margin, sd, method.gate_place.value, method.certainty.value
    ):
        text = (
            "From {lost_agl_m:height~} down the planned entry of the pattern was out of reach in full flight, in the end by "
            "{margin_m:distance}."
        )
        yield Finding("entry_out_of_reach", "note", text, values, group="holding")
    elif goal.in_reach and clearly(margin, sd, 0.0, method.certainty.value):
        text = (
            "The pattern entry stayed in reach all the way down, with at least {margin_m:distance} to spare."
        )
        yield Finding("entry_in_reach", "good", text, values, group="holding")


def _lost_early(x: Debrief, lost_agl_m: float | None) -> bool:
    """Whether the entry went out of reach well above its height; later that is no more than an entry aside of its place."""
    if lost_agl_m is None or x.planned is None or not x.planned.gates:
        return False
    return lost_agl_m >= x.planned.gates[0].agl_m + FINDINGS.lost_above_m


def _past_target(x: Debrief) -> Iterator[Finding]:
    gate = x.flown.gate("final") if x.flown else None
    if gate is None or x.landing is None or x.landing.along_m is None or x.flown is None:
        return
    landing_deg = x.flown.landing_deg
    if landing_deg is None:
        return
    along = float(along_across(gate.east_m, gate.north_m, landing_deg)[0])
    method = x.settings.method
    if clearly(along, gate.lateral_sd_m, 0.0, method.certainty.value):
        values: Values = {"past_m": along, "past_sd_m": gate.lateral_sd_m, "turn_agl_m": gate.agl_m}
        text = "The turn onto final began {past_m:distance} past the target."
        yield Finding("past_target", "note", text, values, group="past the target")


def _strong_wind(x: Debrief) -> Iterator[Finding]:
    if x.profile is None or x.trim is None:
        return
    top = x.flown.gates[0].agl_m if x.flown and x.flown.gates else 300.0
    method = x.settings.method
    share, sd = wind_over_airspeed(x.trim, x.profile, top)
    if clearly(share, sd, method.strong_wind_ratio.value, method.certainty.value):
        values: Values = {"share": share, "share_sd": sd, "limit_share": method.strong_wind_ratio.value}
        text = (
            "The wind at pattern height came to {share:percent} of the canopy's airspeed. That leaves next to nothing to hold a pattern "
            "with; in such a wind the answer is to stay on the ground."
        )
        yield Finding("wind_near_airspeed", "caution", text, values, group="wind")


def _wind_checks(x: Debrief) -> Iterator[Finding]:
    for stretch in x.holding:
        check = stretch.wind_check
        if check is None:
            continue
        values: Values = {
            "agl_m": stretch.start_agl_m,
            "told_mps": check.told_speed_mps,
            "told_sd_mps": check.told_speed_sd_mps,
            "told_from_deg": check.told_from_deg,
            "there_mps": check.wind_speed_mps,
            "there_sd_mps": check.wind_speed_sd_mps,
            "there_from_deg": check.wind_from_deg,
        }
        text = (
            "A wind check at {agl_m:height~} could tell {told_mps:speed} from {told_from_deg:bearing~}; there the track shows "
            "{there_mps:speed} from {there_from_deg:bearing~}."
        )
        yield Finding("wind_check", "note", text, values, group="holding")
