"""What is told of the pattern: where the metres went, plan against flown gate by gate, the landing, the legs."""

from __future__ import annotations

from analyser.debrief import Debrief
from analyser.report.story.blocks import (
    Aside,
    Block,
    Cell,
    Line,
    Points,
    Sentence,
    Sub,
    Table,
    angle,
    bearing,
    distance,
    height,
    lines_of,
    missing,
    say,
    seconds,
    sentence,
    speed,
)
from analyser.report.story.brief import LONG_SHORT, NO_MISS, RIGHT_LEFT, causes, found
from analyser.score import Landing
from analyser.sentences import Number

__all__ = ["gates", "metres"]

SAID_ON_TOP = frozenset({"landed_long", "landed_short", "off_wind_line"})
SHOWN_M = 0.5
FAR_SHORT = ("far", "short")


def metres(debrief: Debrief) -> tuple[Block, ...]:
    """At most three causes in words, then the table that adds up, then smaller things."""
    named = causes(debrief)
    rest = tuple(
        found(f)
        for f in debrief.findings
        if f.level == "note" and f not in named and f.code not in SAID_ON_TOP
    )
    return lines_of(
        Points(tuple(map(found, named)), ranked=True) if named else None,
        *_budget(debrief),
        Aside((Points(rest),), "Smaller things seen", kept=True) if rest else None,
    )


def _budget(debrief: Debrief) -> tuple[Block, ...]:
    rows, reasons, spot = debrief.budget, debrief.reasons, debrief.landing
    if not rows:
        return (missing(reasons.get("budget") or reasons.get("target") or NO_MISS),)
    table = Table(
        "The way from the target to the landing, cause by cause",
        ("cause", "along", "across"),
        tuple(
            (
                r.cause,
                distance(None if r.reason else r.along_m, r.along_sd_m, sides=LONG_SHORT),
                distance(None if r.reason else r.across_m, r.across_sd_m, sides=RIGHT_LEFT),
            )
            for r in rows
        ),
        total=(
            "landing",
            distance(spot.along_m if spot else None, spot.along_sd_m if spot else None, sides=LONG_SHORT),
            distance(spot.across_m if spot else None, spot.across_sd_m if spot else None, sides=RIGHT_LEFT),
        ),
        bars=tuple(r.along_m for r in rows),
    )
    notes = [sentence(f"{r.cause}: {r.reason}") for r in rows if r.reason] + _brakes(debrief)
    how = "Each row compares two calculated flights in the measured wind: from where you were before this leg, and from where you were after it."
    return lines_of(
        table,
        Points(tuple(notes)) if notes else None,
        _parts(debrief),
        Line(sentence(reasons["budget"]), "quiet") if reasons.get("budget") else None,
        Aside((Line(say(how + " The rows add up to the landing."), "quiet"),)),
    )


def _parts(debrief: Debrief) -> Aside | None:
    """What of each row comes from what one can change."""
    rows = tuple(
        (
            f"{r.cause}: {p.part}",
            distance(p.along_m, p.along_sd_m, sides=LONG_SHORT),
            distance(p.across_m, p.across_sd_m, sides=RIGHT_LEFT),
        )
        for r in debrief.budget
        for p in r.parts
        if abs(p.along_m) >= SHOWN_M or abs(p.across_m) >= SHOWN_M
    )
    title = "The same, part by part"
    return Aside((Table(title, ("part", "along", "across"), rows),), title) if rows else None


def _brakes(debrief: Debrief) -> list[Sentence]:
    """How much of the final leg the sink record explains as brakes."""
    brakes = debrief.brakes
    if brakes is None or abs(brakes.along_m) < 2.0 * brakes.along_sd_m:
        return []
    text = "On final the canopy sank at {share} of its trim. Brakes explain {along} of the final leg."
    along = distance(brakes.along_m, brakes.along_sd_m, sides=LONG_SHORT)
    return [say(text, share=Number("percent", brakes.share, brakes.share_sd), along=along)]


def gates(debrief: Debrief) -> tuple[Block, ...]:
    """Plan against flown, gate by gate; the landing; the legs."""
    return (*_plan_line(debrief), *_gate_table(debrief), *_landing(debrief), *_legs(debrief))


def _plan_line(debrief: Debrief) -> tuple[Block, ...]:
    plan = debrief.plan
    if plan is None:
        return (missing(debrief.reasons.get("plan", "no plan could be drawn")),)
    wind = "the wind the plan assumes" if plan.winds_from == "plan" else "the wind found in this track"
    preset = debrief.settings.pattern.preset
    heights = f"the usual {preset} pattern" if preset else "the gate heights of the plan"
    hand = f"{plan.pattern.hand} hand" if plan.pattern.hand else "no hand"
    text = "Planned: {heights}, {hand}, landing on {deg}, drawn for {wind}."
    landing = bearing(plan.pattern.landing_deg)
    said = Line(say(text, heights=heights, hand=hand, deg=landing, wind=wind))
    return lines_of(said, Line(sentence(plan.pattern.reason)) if plan.pattern.reason else None)


def _gate_table(debrief: Debrief) -> tuple[Block, ...]:
    if not debrief.comparison:
        reason = debrief.reasons.get("legs", "")
        return (missing(reason),) if debrief.plan is not None and reason else ()
    rows: list[tuple[Cell, ...]] = []
    for row in debrief.comparison:
        flown = Number("height", row.flown_agl_m, row.agl_sd_m, bare=True)
        rows.append(
            (
                row.gate,
                height(row.planned_agl_m),
                flown if row.flown_agl_m is not None else "not flown",
                height(row.agl_m, row.agl_sd_m, signed=True),
                distance(row.along_m, row.lateral_sd_m, sides=FAR_SHORT),
                distance(row.across_m, row.lateral_sd_m, sides=RIGHT_LEFT),
            )
        )
    head = ("turn onto", "planned", "flown", "difference", "along", "across")
    note = "Flown minus planned, seen along the planned landing direction (far: past the planned place)."
    return (
        Table("Where each turn began", head, tuple(rows), stacked=True),
        Aside((Line(say(note), "quiet"),)),
    )


def _landing(debrief: Debrief) -> tuple[Block, ...]:
    landing = debrief.landing
    if landing is None:
        return (Sub("The landing"), missing(debrief.reasons.get("landing", "no landing in the recording")))
    items: list[Sentence] = _rings(landing)
    if landing.ground_speed_mps is not None:
        sink = ", sinking {sink}" if landing.sink_before_flare_mps is not None else ""
        values = {"speed": speed(landing.ground_speed_mps), "sink": speed(landing.sink_before_flare_mps)}
        items.append(Sentence(f"Before the flare: {{speed}} over the ground{sink}.", values))
    items += _into_wind(debrief.into_wind_error_deg, debrief.into_wind_error_sd_deg)
    return (Sub("The landing"), Points(tuple(items))) if items else ()


def _into_wind(turn: float | None, sd: float | None) -> list[Sentence]:
    """How far final pointed off the wind."""
    if turn is None:
        return []
    if abs(turn) < max(1.0, sd or 0.0):
        within = Number("angle", abs(turn), sd)
        return [say("The final pointed into the wind, within {within} of it.", within=within)]
    off = Number("angle", turn, sd, sides=RIGHT_LEFT)
    return [say("Final {off} of straight into the wind.", off=off)]


def _rings(landing: Landing) -> list[Sentence]:
    """The smallest published ring that is met, and what the position error leaves open."""
    met = sorted((s for s in landing.standards if s.met), key=lambda s: s.radius_m)[:1]
    open_ = [s for s in landing.standards if s.met is None]
    text, values = "", dict[str, Number | float | str | None]()
    for key, group, words in (
        ("met", met, "Inside the published ring of"),
        ("open", open_, "The position error leaves open:"),
    ):
        names = [f"{{{key}_name{i}}} ({{{key}_ring{i}}})" for i in range(len(group))]
        text += f"{words} {', '.join(names)}. " if names else ""
        values |= {f"{key}_name{i}": s.name for i, s in enumerate(group)}
        values |= {f"{key}_ring{i}": distance(s.radius_m) for i, s in enumerate(group)}
    return [Sentence(text + "A witness signs licences, not this page.", values)] if text else []


def _legs(debrief: Debrief) -> tuple[Block, ...]:
    flown = debrief.flown
    if flown is None or not flown.legs:
        reason = debrief.reasons.get("legs") or (flown.reason if flown else "") or "no leg could be named"
        return (Sub("The legs"), missing(reason))
    known = [leg.turn_agl_sd_m for leg in flown.legs[1:]] + [None]  # a leg ends where the next turn begins
    rows = tuple(
        (
            leg.name,
            Number("height", leg.end_agl_m, sd, bare=True),
            bearing(leg.heading_deg),
            bearing(leg.track_deg),
            angle(leg.crab_deg, signed=True),
            speed(leg.ground_speed_mps),
            distance(leg.length_m),
            seconds(leg.end_s - leg.start_s),
        )
        for leg, sd in zip(flown.legs, known, strict=True)
    )
    kind = f"{flown.kind}, {flown.hand} hand" if flown.hand else flown.kind
    sure = Number("percent", flown.confidence)
    head = ("leg", "ends at", "heading", "track", "crab", "over ground", "length", "time")
    return lines_of(
        Sub("The legs"),
        Line(say("Flown: {kind} (confidence {sure}).", kind=kind, sure=sure)),
        Line(sentence(flown.reason)) if flown.reason else None,
        Table("Legs as flown", head, rows),
    )
