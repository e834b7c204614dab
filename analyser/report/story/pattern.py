"""What is told of the pattern: where the metres went, plan against flown gate by gate, the landing, the legs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from analyser.compare import GateDifference
from analyser.findings import Finding
from analyser.pattern import Pattern, gate_words
from analyser.plan.jump import Plan
from analyser.replay import BudgetRow
from analyser.replay.sink import Brakes
from analyser.report.story.blocks import (
    Aside,
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
    seconds,
    speed,
)
from analyser.report.story.brief import LONG_SHORT, NO_MISS, RIGHT_LEFT
from analyser.report.story.lessons import causes, found
from analyser.score import Landing
from analyser.sentences import Number

__all__ = ["gate_table", "heights_alone", "landed", "legs", "metres", "plan_line"]

SAID_ON_TOP = frozenset({"landed_long", "landed_short", "off_wind_line"})
SHOWN_M = 0.5
WITHIN_DEG = 15.0  # ours: an angle inside twice its error is no side, as long as it is small
FAR_SHORT = ("far", "short")


def metres(
    findings: Sequence[Finding],
    budget: Sequence[BudgetRow],
    brakes: Brakes | None,
    landing: Landing | None,
    reasons: Mapping[str, str],
    asked: Sentence | None = None,
) -> Blocks:
    """At most three causes in words, then the table that adds up, then smaller things; ``asked`` is a question that waits for an answer."""
    named = causes(findings)
    rest = tuple(
        found(f) for f in findings if f.level == "note" and f not in named and f.code not in SAID_ON_TOP
    )
    return (
        Points(tuple(map(found, named)), ranked=True) if named else None,
        *(_budget(budget, _brakes(brakes), landing, reasons) if asked is None else (Line(asked, "missing"),)),
        Aside((Points(rest),), "Smaller things seen", kept=True) if rest else None,
    )


def _budget(
    rows: Sequence[BudgetRow], brakes: list[Sentence], spot: Landing | None, reasons: Mapping[str, str]
) -> Blocks:
    if not rows:
        return (Line(Remark(reasons.get("budget") or reasons.get("target") or NO_MISS), "missing"),)
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
    notes = [Remark(f"{r.cause}: {r.reason}") for r in rows if r.reason] + brakes
    how = "Each row compares two calculated flights in the measured wind: from where you were before this leg, and from where you were after it."
    return (
        table,
        Points(tuple(notes)) if notes else None,
        _parts(rows),
        Line(Remark(reasons["budget"]), "quiet") if reasons.get("budget") else None,
        Aside((Line(Sentence(how + " The rows add up to the landing."), "quiet"),)),
    )


def _parts(budget: Sequence[BudgetRow]) -> Aside | None:
    """What of each row comes from what one can change."""
    rows = tuple(
        (
            f"{r.cause}: {p.part}",
            distance(p.along_m, p.along_sd_m, sides=LONG_SHORT),
            distance(p.across_m, p.across_sd_m, sides=RIGHT_LEFT),
        )
        for r in budget
        for p in r.parts
        if abs(p.along_m) >= SHOWN_M or abs(p.across_m) >= SHOWN_M
    )
    title = "The same, part by part"
    return Aside((Table(title, ("part", "along", "across"), rows),), title) if rows else None


def _brakes(brakes: Brakes | None) -> list[Sentence]:
    """How much of the final leg the sink record explains as brakes."""
    if brakes is None or abs(brakes.along_m) < 2.0 * brakes.along_sd_m:
        return []
    text = "On final the canopy sank at {share} of its trim. Brakes explain {along} of the final leg."
    along = distance(brakes.along_m, brakes.along_sd_m, sides=LONG_SHORT)
    return [Sentence(text, {"share": Number("percent", brakes.share, brakes.share_sd), "along": along})]


def plan_line(
    plan: Plan | None, preset: str | None, reasons: Mapping[str, str], compared: Pattern | None = None
) -> Blocks:
    """What was planned, and for which wind; ``preset``: the name of the usual pattern it is; ``compared`` what the flight is set against."""
    if plan is None:
        return (Line(Remark(reasons.get("plan", "no plan could be drawn")), "missing"),)
    wind = "the wind the plan assumes" if plan.winds_from == "plan" else "the wind found in this track"
    heights = f"the usual {preset} pattern" if preset else "the gate heights of the plan"
    hand = f"{plan.pattern.hand} hand" if plan.pattern.hand else "no hand"
    text = "Planned: {heights}, {hand}, landing on {deg}, drawn for {wind}."
    landing = bearing(plan.pattern.landing_deg)
    said = Line(Sentence(text, {"heights": heights, "hand": hand, "deg": landing, "wind": wind}))
    other = None
    if compared is not None and compared.hand and compared.hand != plan.pattern.hand:
        text = "{hand}-hand turns were flown, so the flight is compared with this plan drawn for them."
        other = Line(Sentence(text, {"hand": compared.hand.capitalize()}))
    return (said, Line(Remark(plan.pattern.reason)) if plan.pattern.reason else None, other)


def heights_alone(comparison: Sequence[GateDifference]) -> tuple[GateDifference, ...]:
    """The gates compared without their places, which lie where nobody means them to while the target or the plan is asked about."""
    return tuple(replace(row, along_m=None, across_m=None, place_agl_m=None) for row in comparison)


def gate_table(
    comparison: Sequence[GateDifference], why_not: str | None, planned: Pattern | None = None
) -> Blocks:
    """Flown minus planned at the entry and where each turn began; ``why_not`` where nothing can be compared."""
    if not comparison:
        return (Line(Remark(why_not), "missing"),) if why_not else ()
    rows: list[tuple[Cell, ...]] = []
    for row in comparison:
        flown = Number("height", row.flown_agl_m, row.agl_sd_m, bare=True)
        rows.append(
            (
                row.gate if rows else gate_words(row.gate, first=True),
                height(row.planned_agl_m),
                flown if row.flown_agl_m is not None else "not flown",
                height(row.agl_m, row.agl_sd_m, signed=True),
                distance(row.along_m, row.along_sd_m, sides=FAR_SHORT),
                distance(row.across_m, row.across_sd_m, sides=RIGHT_LEFT),
            )
        )
    head = ("gate", "planned", "flown", "difference", "along", "across")
    return (
        Table("The entry, and where each turn began", head, tuple(rows), stacked=True),
        Line(_seen_along(comparison[0], planned), "quiet")
        if any(row.along_m is not None for row in comparison)
        else None,
    )


def _seen_along(first: GateDifference, planned: Pattern | None) -> Sentence:
    """Along what the places are told, and at which height that of the entry."""
    text = "Flown minus planned"
    values: dict[str, Number | float | str | None] = {}
    if planned is not None and planned.landing_deg is not None:
        text += ", seen along the planned landing direction, {deg} (far: past the planned place)"
        values["deg"] = bearing(planned.landing_deg)
    if first.place_agl_m is not None:
        text += ". The entry's place is that at {at}, once you were on its leg"
        values["at"] = height(first.place_agl_m)
    return Sentence(text + ".", values)


def landed(
    landing: Landing | None, off_wind: tuple[float | None, float | None], reasons: Mapping[str, str]
) -> Blocks:
    """Rings met, speeds before the flare, and how far final pointed ``off_wind`` with its standard deviation [deg]."""
    if landing is None:
        return (
            Sub("The landing"),
            Line(Remark(reasons.get("landing", "no landing in the recording")), "missing"),
        )
    items: list[Sentence] = _rings(landing)
    if landing.ground_speed_mps is not None:
        sink = ", sinking {sink}" if landing.sink_before_flare_mps is not None else ""
        values = {"speed": speed(landing.ground_speed_mps), "sink": speed(landing.sink_before_flare_mps)}
        items.append(Sentence(f"Before the flare: {{speed}} over the ground{sink}.", values))
    items += _into_wind(*off_wind)
    return (Sub("The landing"), Points(tuple(items))) if items else ()


def _into_wind(turn: float | None, sd: float | None) -> list[Sentence]:
    """How far final pointed off the wind."""
    if turn is None:
        return []
    if abs(turn) < max(1.0, min(2.0 * (sd or 0.0), WITHIN_DEG)):
        within = Number("angle", abs(turn), sd)
        return [Sentence("The final pointed into the wind, within {within} of it.", {"within": within})]
    off = Number("angle", turn, sd, sides=RIGHT_LEFT)
    return [Sentence("Final {off} of straight into the wind.", {"off": off})]


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


def legs(flown: Pattern | None, reasons: Mapping[str, str]) -> Blocks:
    """The legs as flown."""
    if flown is None or not flown.legs:
        reason = reasons.get("legs") or (flown.reason if flown else "") or "no leg could be named"
        return (Sub("The legs"), Line(Remark(reason), "missing"))
    known = [leg.turn_agl_sd_m for leg in flown.legs[1:]] + [None]  # a leg ends where the next turn begins
    rows = tuple(
        (
            leg.name,
            Number("height", max(leg.end_agl_m, 0.0), sd, bare=True),
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
    return (
        Sub("The legs"),
        Line(Sentence("Flown: {kind} (confidence {sure}).", {"kind": kind, "sure": sure})),
        Line(Remark(flown.reason)) if flown.reason else None,
        Table("Legs as flown", head, rows),
    )
