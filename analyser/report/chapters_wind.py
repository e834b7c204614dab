"""The chapters about the air: the wind that was there, holding in it, and the pattern redrawn for it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from analyser.angles import compass_deg
from analyser.debrief import Debrief
from analyser.report.markup import bullets, missing, sentence, table
from analyser.report.pictures.wind import direction_sd_deg, known_turns
from analyser.report.wording import Words, degrees, plain_number
from analyser.wind.profile import WindProfile

__all__ = ["redrawn", "winds"]

MOST_ROWS = 14


def winds(debrief: Debrief, words: Words) -> str:
    """The wind that was there against the wind assumed, height by height; the canopy's own speeds."""
    if debrief.wind is None:
        return missing(debrief.reasons.get("winds", "the wind could not be found"))
    profile = debrief.wind.profile
    assumed = debrief.settings.wind_profile
    head = ["height", "from", "speed", "known"] + (["assumed from", "assumed speed"] if assumed else [])
    rows = [_wind_row(profile, float(h), assumed, words) for h in _heights(profile)]
    reason = debrief.wind.reason
    void = sorted({r for r, s in zip(profile.reason, profile.status) if s != "measured" and r})
    return (
        (f"<p>{sentence(reason)}</p>" if reason else "")
        + table("Wind by height above the landing area", head, rows, words=frozenset({3}))
        + bullets(sentence(v) for v in void)
        + _at_turns(debrief, words)
        + _mean(debrief, words)
        + _canopy(debrief, words)
    )


def _at_turns(debrief: Debrief, words: Words) -> str:
    """The wind where each turn of the pattern began."""
    told = [
        f"onto {gate.name} {degrees(at.from_deg)}, {words.speed(at.speed, at.speed_sd)}"
        for gate, at in known_turns(debrief)
    ]
    return f"<p>Where the turns began: {'; '.join(told)}.</p>" if told else ""


def _mean(debrief: Debrief, words: Words) -> str:
    """The mean wind of the lowest layer as the trade states it."""
    mean = debrief.layer_mean
    if mean is None or not math.isfinite(mean.speed_mps):
        return ""
    part = "" if mean.complete else f" (known through {mean.covered:.0%} of it)"
    return (
        f"<p>Mean from the ground to {words.height(mean.top_m)}{part}: {degrees(mean.from_deg)}, "
        f"{words.speed(mean.speed_mps, mean.speed_sd_mps)}; in 100 s it carries {words.distance(mean.drift_m, mean.drift_sd_m)}.</p>"
    )


def _heights(profile: WindProfile) -> Sequence[float]:
    heights = [float(h) for h in profile.agl_m]
    step = 2 if len(heights) > MOST_ROWS else 1
    step = math.ceil(len(heights) / MOST_ROWS) if len(heights) > 2 * MOST_ROWS else step
    return heights[::step]


def _wind_row(profile: WindProfile, height: float, assumed: WindProfile | None, words: Words) -> list[str]:
    at = profile.at(height)
    if at.status == "undetermined":
        cells = [words.height(height), "–", "–", "not determined"]
    else:
        sd = direction_sd_deg(profile, height)
        direction = degrees(at.from_deg, sd) if sd is not None else "light"
        cells = [words.height(height), direction, words.speed(at.speed, at.speed_sd), at.status]
    if assumed is not None:
        there = assumed.at(height)
        cells += [degrees(there.from_deg), words.speed(there.speed)]
    return cells


def _canopy(debrief: Debrief, words: Words) -> str:
    wind = debrief.wind
    canopy = wind.canopy if wind else None
    if canopy is None or canopy.airspeed_mps is None:
        return ""
    loading = debrief.settings.canopy.wing_loading_lb_ft2
    items = [
        f"Airspeed at trim {words.speed(canopy.airspeed_mps, canopy.airspeed_sd_mps)}",
        f"sink {words.speed(canopy.sink_mps, canopy.sink_sd_mps)}" if canopy.sink_mps else "",
        f"glide {canopy.glide:.1f}" if canopy.glide else "",
        f"wing loading {loading:.2f} lb/ft²" if loading else "",
    ]
    text = ", ".join(i for i in items if i)
    return f"<h3>The canopy</h3><p>{text}. Full flight, straight, reduced to sea-level density.</p>"


def redrawn(debrief: Debrief, words: Words) -> str:
    """The same gate heights drawn for the wind that was there, and where the plan as made would have ended."""
    plan, new = debrief.plan, debrief.redrawn
    if plan is None or new is None:
        if plan is not None and plan.winds_from == "track":
            return missing(
                "the plan had no wind of its own and is already drawn for the wind found in this track"
            )
        return missing(
            debrief.reasons.get("redrawn")
            or debrief.reasons.get("plan")
            or debrief.reasons.get("winds")
            or "there is no plan to redraw"
        )
    rows = []
    for gate in new.pattern.gates:
        old = plan.pattern.gate(gate.name)
        shift = None if old is None else (gate.east_m - old.east_m, gate.north_m - old.north_m)
        moved = (
            "–"
            if shift is None
            else f"{words.distance(math.hypot(*shift))} toward {degrees(float(compass_deg(*shift)))}"
        )
        leg = new.pattern.leg(gate.name)
        rows.append(
            (
                gate.name,
                words.height(gate.agl_m),
                f"{words.distance(math.hypot(gate.east_m, gate.north_m))} on {degrees(float(compass_deg(gate.east_m, gate.north_m)))}",
                moved,
                degrees(gate.heading_deg),
                plain_number(leg.crab_deg, 0, "°", signed=True) if leg else "–",
                words.speed(leg.ground_speed_mps) if leg else "–",
            )
        )
    head = (
        "turn onto",
        "height",
        "from the target",
        "moved",
        "heading",
        "crab",
        "over the ground",
    )
    note = f"<p>{sentence(new.pattern.reason)}</p>" if new.pattern.reason else ""
    return _outcome(debrief, words) + note + table("Gates redrawn for the wind that was there", head, rows)


def _outcome(debrief: Debrief, words: Words) -> str:
    check = debrief.plan_outcome
    if check is None:
        return ""
    return (
        f'<p class="lead">Flown as drawn in the wind that was there, the plan would have ended '
        f"{words.sides(check.along_m, check.along_sd_m, 'long', 'short')} and "
        f"{words.sides(check.across_m, check.across_sd_m, 'right', 'left')} of the target; "
        f"{check.hit_share:.0%} of the cases within {words.distance(check.ring_m)}.</p>"
    )
