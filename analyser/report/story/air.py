"""What is told of the air: the wind that was there, and the pattern redrawn for it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from analyser.angles import compass_deg
from analyser.debrief import Debrief
from analyser.jump import SharedWind
from analyser.pattern import Gate, gate_words
from analyser.plan.jump import Plan
from analyser.replay import PlanCheck
from analyser.report.story.blocks import (
    Blocks,
    Cell,
    Line,
    Points,
    Remark,
    Sentence,
    Sub,
    Table,
    angle,
    bearing,
    distance,
    height,
    speed,
)
from analyser.report.story.brief import LONG_SHORT, RIGHT_LEFT
from analyser.sentences import Number
from analyser.settings import Settings
from analyser.wind.layer_means import LayerMean
from analyser.wind.profile import WindAt, WindProfile
from analyser.wind.trim import CanopyEstimate

__all__ = ["air_of_the_day", "fitted_together", "redrawn", "wind_heights", "winds"]

STILL_MPS = 1e-6
MOST_ROWS = 14
STEPS_M = (50.0, 100.0, 200.0, 500.0, 1000.0)


def winds(debrief: Debrief, given: Blocks = ()) -> Blocks:
    """The wind that was there against the wind assumed, height by height; ``given``: what is told of reports and forecasts; the
    canopy's own speeds."""
    if debrief.wind is None:
        return (Line(Remark(debrief.reasons.get("winds", "the wind could not be found")), "missing"),)
    profile, assumed = debrief.wind.profile, debrief.settings.wind_profile
    heights = [profile.at(h) for h in wind_heights(profile)]
    turns = [(gate, profile.at(gate.agl_m)) for gate in debrief.flown.gates] if debrief.flown else []
    head = ("height", "from", "speed", "status", *(("assumed",) if assumed else ()))
    variable = any(report.loosest_mps for report in debrief.settings.reports)
    rows = tuple(_wind_row(at, assumed.at(at.agl_m) if assumed else None, variable) for at in heights)
    void = sorted({r for r, s in zip(profile.reason, profile.status, strict=True) if s != "measured" and r})
    return (
        Line(Remark(debrief.wind.reason)) if debrief.wind.reason else None,
        _shared(debrief.shared),
        Table("Wind by height above the landing area", head, rows, words=frozenset({3})),
        Points(tuple(map(Remark, void[:3]))) if void else None,
        *given,
        _at_turns(turns),
        _mean(debrief.layer_mean),
        *_canopy(debrief.wind.canopy, air_of_the_day(debrief.settings, debrief.air_altitude_m)),
    )


def wind_heights(*profiles: WindProfile) -> list[float]:
    """The heights of every table of winds [m]: what all profiles reach, in the finest round step that keeps the table short."""
    top = min((float(p.agl_m[-1]) for p in profiles), default=-1.0)
    step = next((s for s in STEPS_M if top / s < MOST_ROWS), STEPS_M[-1])
    return [k * step for k in range(int(top // step) + 1)] if top >= 0.0 else []


def _shared(shared: SharedWind | None) -> Line | None:
    """That the wind is that of a whole load, and whether its tracks agree."""
    if shared is None:
        return None
    first, share = "This is the wind of the whole load. ", shared.within / max(shared.pairs, 1)
    return Line(fitted_together(shared.jumpers, shared.pairs, share, first))


def fitted_together(tracks: int, pairs: int, share: float, first: str = "") -> Sentence:
    """How many tracks one wind was fitted to, and how many pairs of their own winds agree; ``first``: what is said before."""
    text = first + "{n} tracks were fitted together."
    if pairs:
        text += " Of {pairs} pairs of their own winds, {share} agree within the 95 % error."
    return Sentence(text, {"n": str(tracks), "pairs": str(pairs), "share": Number("percent", share)})


def _wind_row(at: WindAt, assumed: WindAt | None, variable: bool) -> tuple[Cell, ...]:
    cells: list[Cell] = [height(at.agl_m), "–", "–", "not determined"]
    if at.status != "undetermined":
        sd = at.from_sd_deg
        cells[1:] = [bearing(at.from_deg, sd) if sd else "variable", speed(at.speed, at.speed_sd), at.status]
    if assumed is not None:
        text = "{deg}, {speed}" if assumed.speed > STILL_MPS else "variable" if variable else "calm"
        cells.append(Sentence(text, {"deg": bearing(assumed.from_deg), "speed": speed(assumed.speed)}))
    return tuple(cells)


def _at_turns(turns: Sequence[tuple[Gate, WindAt]]) -> Table | None:
    """The wind where each turn of the pattern began."""
    rows = tuple(
        (gate.name, height(gate.agl_m, gate.agl_sd_m), bearing(at.from_deg), speed(at.speed, at.speed_sd))
        for gate, at in turns
        if at.status != "undetermined"
    )
    return Table("Wind where the turns began", ("turn onto", "at", "from", "speed"), rows) if rows else None


def _mean(mean: LayerMean | None) -> Line | None:
    """The mean wind of the lowest layer as the trade states it."""
    if mean is None or not math.isfinite(mean.speed_mps):
        return None
    part = "" if mean.complete else " (known through {covered} of it)"
    return Line(
        Sentence(
            f"Mean from the ground to {{top}}{part}: {{deg}}, {{speed}}. In 100 s it carries {{drift}}.",
            {
                "top": height(mean.top_m),
                "covered": Number("percent", mean.covered),
                "deg": bearing(mean.from_deg),
                "speed": speed(mean.speed_mps, mean.speed_sd_mps),
                "drift": distance(mean.drift_m, mean.drift_sd_m),
            },
        )
    )


def _canopy(canopy: CanopyEstimate, air: Sequence[Sentence]) -> Blocks:
    if canopy.airspeed_mps is None:
        return ()
    items = ["Airspeed {airspeed}"]
    items += ["sink {sink}"] if canopy.sink_mps else []
    items += ["glide {glide}"] if canopy.glide else []
    values = {
        "airspeed": speed(canopy.airspeed_mps, canopy.airspeed_sd_mps),
        "sink": speed(canopy.sink_mps, canopy.sink_sd_mps),
        "glide": Number("ratio", canopy.glide),
    }
    text = ", ".join(items) + ": full flight, straight, reduced to sea-level density."
    return (Sub("The canopy"), Line(Sentence(text, values)), *map(Line, air))


def air_of_the_day(settings: Settings, altitude_m: float) -> tuple[Sentence, ...]:
    """How dense the air was taken to be, where a temperature was given; ``altitude_m`` in the standard atmosphere [m]."""
    if settings.air.temperature_c is None:
        return ()
    text = "At {degrees} °C the air at the landing area is as dense as standard air at {height}. The canopy's speeds use that density."
    return (Sentence(text, {"degrees": f"{settings.air.temperature_c:.0f}", "height": height(altitude_m)}),)


def redrawn(
    plan: Plan | None, new: Plan | None, outcome: PlanCheck | None, reasons: Mapping[str, str]
) -> Blocks:
    """Where the plan as made would have ended, and the same gate heights drawn ``new`` for the wind that was there."""
    if plan is None or new is None:
        if plan is not None and plan.winds_from == "track":
            return (
                Line(
                    Remark(
                        "the plan had no wind of its own; it is already drawn for the wind found in this track"
                    ),
                    "missing",
                ),
            )
        why = reasons.get("redrawn") or reasons.get("plan") or reasons.get("winds")
        return (Line(Remark(why or "there is no plan to redraw"), "missing"),)
    rows: list[tuple[Cell, ...]] = []
    for gate in new.pattern.gates:
        old, leg = plan.pattern.gate(gate.name), new.pattern.leg(gate.name)
        moved = None if old is None else (gate.east_m - old.east_m, gate.north_m - old.north_m)
        rows.append(
            (
                gate.name if rows else gate_words(gate.name, first=True),
                height(gate.agl_m),
                _place(gate.east_m, gate.north_m),
                "–" if moved is None else _place(*moved),
                bearing(gate.heading_deg),
                angle(leg.crab_deg if leg else None, signed=True),
                speed(leg.ground_speed_mps if leg else None),
            )
        )
    head = ("gate", "height", "from target", "moved", "heading", "crab", "over ground")
    return (
        _outcome(outcome, plan.pattern.landing_deg),
        Line(Remark(new.pattern.reason)) if new.pattern.reason else None,
        Table("Gates redrawn for the wind that was there", head, tuple(rows), stacked=True),
    )


def _place(east: float, north: float) -> Sentence:
    return Sentence(
        "{far} on {deg}",
        {"far": distance(math.hypot(east, north)), "deg": bearing(float(compass_deg(east, north)))},
    )


def _outcome(check: PlanCheck | None, landing_deg: float | None) -> Line | None:
    if check is None:
        return None
    text = (
        "Flown as drawn, the plan would have ended {along} and {across} of the target in this wind, seen along {deg}. "
        "{share} of the calculated landings lie within {ring}."
    )
    return Line(
        Sentence(
            text,
            {
                "along": distance(check.along_m, check.along_sd_m, sides=LONG_SHORT),
                "across": distance(check.across_m, check.across_sd_m, sides=RIGHT_LEFT),
                "deg": bearing(landing_deg),
                "share": Number("percent", check.hit_share),
                "ring": distance(check.ring_m),
            },
        ),
        "lead",
    )
