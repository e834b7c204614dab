"""The story of a plan for a wind: gates, legs, what they can hold, how they move with the wind."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from analyser.findings import PLAN_CAUTIONS
from analyser.flight import Trim
from analyser.pattern import gate_words
from analyser.plan.report import GateShift, HandPlan, LegRow, PlanReport
from analyser.plan.usual import Usual
from analyser.report.pictures.plan import planned_map
from analyser.report.story.air import air_of_the_day
from analyser.report.story.blocks import (
    Cell,
    Chapter,
    Picture,
    Points,
    Remark,
    Sentence,
    Story,
    Table,
    angle,
    bearing,
    distance,
    height,
    lines_of,
    seconds,
    speed,
)
from analyser.report.story.foot import cautions
from analyser.report.story.given import report_given
from analyser.sentences import Number
from analyser.settings import Settings, Site
from analyser.units import KNOT_MPS

__all__ = ["tell_plan"]

FAR_WIND_MPS = 40.0  # a limit beyond any wind one would plan for says nothing
MORE_WIND_MPS = 5.0 * KNOT_MPS


def tell_plan(report: PlanReport, settings: Settings, trim: Trim, usual: Usual | None = None) -> Story:
    """The story of a plan, one chapter for each hand; ``usual`` where its trim speeds are the usual ones."""
    title = settings.site.name or "Planned pattern"
    facts = [
        Sentence(
            "Landing towards {deg}, by the {source}.",
            {"deg": bearing(report.landing_deg), "source": report.landing_from},
        ),
        _wind(report),
        *map(report_given, report.reports),
        _canopy(trim, usual),
        *air_of_the_day(settings, trim.elevation_m),
        _errors(report),
        *([Remark(report.advice)] if report.advice else []),
    ]
    return Story(
        title=f"Plan: {title}",
        kicker="Landing pattern, planned on the ground",
        heading=title,
        chapters=(
            Chapter("wind", "The wind and the canopy", (Points(tuple(facts)),)),
            *(_hand(plan, settings.site, report.plans) for plan in report.plans),
            Chapter("cautions", "Cautions", cautions(PLAN_CAUTIONS)),
        ),
        command="crabline plan",
    )


def _canopy(trim: Trim, usual: Usual | None) -> Sentence:
    """The speeds with their errors, where these are known; usual ones are called so."""
    label = f": {usual.label}. A debrief measures your own." if usual is not None else "."
    return Sentence(
        f"Canopy {{airspeed}} forward, {{sink}} down, glide {{glide}}{label}",
        {
            "airspeed": speed(trim.airspeed_mps, trim.airspeed_sd_mps or None),
            "sink": speed(trim.sink_mps, trim.sink_sd_mps or None),
            "glide": Number("ratio", trim.glide),
        },
    )


def _wind(report: PlanReport) -> Sentence:
    """The wind near the ground; of winds given aloft alone, that there is none."""
    low = {"deg": bearing(report.surface_from_deg), "wind": speed(report.surface_wind_mps)}
    blows = report.surface_from_deg is not None
    if not report.near_ground:
        text = "No wind was given below {height}. Up to there the plan is drawn in the wind of that height, "
        text += "from {deg}, {wind}" if blows else "no wind"
        return Sentence(
            f"{text}. Near the ground it may be another: add one.",
            {"height": height(report.lowest_wind_m), **low},
        )
    if blows:
        return Sentence("Wind near the ground from {deg}, {wind}.", low)
    loose = [r.loosest_mps for r in report.reports if r.loosest_mps]
    if not loose:
        return Sentence("Wind near the ground calm.")
    return Sentence(
        "Wind near the ground variable, up to {wind}: drawn as no wind.", {"wind": speed(max(loose))}
    )


def _errors(report: PlanReport) -> Sentence:
    """What stands behind the ± of the tables, or why there is none."""
    if not report.errors_from:
        return Sentence("The errors of the gates are unknown: {why}.", {"why": report.errors_reason})
    whose = {"wind": "the wind", "canopy": "the canopy's speeds"}
    names = " and ".join(whose[name] for name in report.errors_from)
    more = f" {report.errors_reason[:1].upper()}{report.errors_reason[1:]}." if report.errors_reason else ""
    text = "± is one standard deviation, from the errors of {names}, if the air stays as it was.{more}"
    return Sentence(text, {"names": names, "more": more})


def _hand(plan: HandPlan, site: Site, plans: Sequence[HandPlan]) -> Chapter:
    notes = ["the site has the other hand for this landing direction"] if plan.against_site else []
    notes += [f"crosses the keep-out area {name}" for name in plan.keep_outs]
    notes += [plan.pattern.reason] if plan.pattern.reason else []
    said = [*map(Remark, notes), *_spread(plan)]
    picture = Picture(
        plan.hand,
        f"Pattern, {plan.hand} hand",
        "Dashed: the path over the ground. Diamonds: the entry, then where each turn begins. The cross is the target.",
        "Map of the planned pattern; the numbers stand in the tables beside it.",
        partial(planned_map, plan, site, plans),
    )
    legs = Table(
        "Legs",
        ("leg", "track", "crab", "over ground", "time", "length", "held up to"),
        tuple(_leg(row) for row in plan.legs),
    )
    more = Sentence("{wind} more wind", {"wind": speed(MORE_WIND_MPS)})
    moves = Table(
        "How the gates move: along, across",
        ("gate", more, "wind 10° more to the right"),
        tuple(_shift(s) for s in plan.shifts),
    )
    blocks = lines_of(Points(tuple(said)) if said else None, _gates(plan), legs, moves)
    return Chapter(plan.hand, f"{plan.hand.capitalize()} hand", blocks, (picture,))


def _spread(plan: HandPlan) -> list[Sentence]:
    if plan.spread is None:
        return []
    text = (
        "Flown by heights and tracks alone, it ends there within {along} along and {across} across: one standard deviation of what has "
        "an error."
    )
    sds = (plan.spread.landing_along_sd_m, plan.spread.landing_across_sd_m)
    return [Sentence(text, {"along": distance(sds[0]), "across": distance(sds[1])})]


def _gates(plan: HandPlan) -> Table:
    rows = tuple(
        (
            gate_words(g.name, first=True) if i == 0 else g.name,
            height(g.agl_m),
            distance(g.along_m, g.spread.along_sd_m if g.spread else None, signed=True),
            distance(g.across_m, g.spread.across_sd_m if g.spread else None, signed=True),
            distance(g.east_m, signed=True),
            distance(g.north_m, signed=True),
        )
        for i, g in enumerate(plan.gates)
    )
    return Table(
        "Gates: the entry, then where each turn begins",
        ("gate", "at", "along", "across", "east", "north"),
        rows,
    )


def _leg(row: LegRow) -> tuple[Cell, ...]:
    far = row.limit_wind_mps is None or row.limit_wind_mps > FAR_WIND_MPS
    limit: Cell = "–" if far else speed(row.limit_wind_mps)
    return (
        row.name,
        bearing(row.track_deg),
        angle(row.crab_deg, signed=True),
        speed(row.ground_speed_mps, row.spread.ground_speed_sd_mps if row.spread else None),
        seconds(row.seconds),
        distance(row.length_m, row.spread.length_sd_m if row.spread else None),
        limit if row.held else "not held",
    )


def _shift(shift: GateShift) -> tuple[Cell, ...]:
    def both(along: float, across: float) -> Sentence:
        return Sentence(
            "{along}, {across}",
            {"along": distance(along, signed=True), "across": distance(across, signed=True)},
        )

    more = MORE_WIND_MPS
    return (
        shift.gate,
        both(more * shift.per_mps_along_m, more * shift.per_mps_across_m),
        both(shift.per_10deg_along_m, shift.per_10deg_across_m),
    )
