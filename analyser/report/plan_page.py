"""A plan for a wind -> one self-contained HTML page."""

from __future__ import annotations

from pathlib import PurePath

from analyser.findings import PLAN_CAUTIONS
from analyser.flight import Trim
from analyser.plan.report import HandPlan, LegRow, PlanReport
from analyser.report.markup import bullets, chapter, figure, table
from analyser.report.page.controls import controls
from analyser.report.page.shell import escape, page
from analyser.report.pictures.map import map_layout, pattern_traces, ring
from analyser.report.pictures.palette import LIGHT
from analyser.report.pictures.spec import Spec
from analyser.report.plan_terminal import FAR_WIND_MPS, errors_text
from analyser.report.terminal import degrees
from analyser.report.wording import Words, plain_number
from analyser.settings import Settings

__all__ = ["render_plan"]


def render_plan(
    report: PlanReport, settings: Settings, trim: Trim, *, units: str = "uk", assets: PurePath | None = None
) -> str:
    """The page as text: the pattern over the ground, gates, legs, how it moves with the wind, cautions."""
    words = Words(units)
    title = settings.site.name or "Planned pattern"
    calm = report.surface_from_deg is None
    wind = (
        "calm" if calm else f"from {report.surface_from_deg:03.0f}°, {words.speed(report.surface_wind_mps)}"
    )
    facts = [
        f"Landing towards <b>{report.landing_deg:03.0f}°</b>, by the {report.landing_from}.",
        f"Wind near the ground {wind}.",
        f"Canopy {words.speed(trim.airspeed_mps)} forward, {words.speed(trim.sink_mps)} down, glide {trim.glide:.1f}.",
    ]
    facts.append(f"{escape(errors_text(report)[:1].upper() + errors_text(report)[1:])}.")
    facts += [f"<b>{escape(report.advice)}</b>"] if report.advice else []
    parts = [chapter(1, "wind", "The wind and the canopy", bullets(facts))]
    figures: dict[str, Spec] = {}
    for number, plan in enumerate(report.plans, 2):
        figures[plan.hand] = _map(plan)
        picture = figure(
            plan.hand,
            f"Pattern, {plan.hand} hand",
            "Dashed: the path over the ground; diamonds: where each turn begins; the cross is the target.",
            "Map of the planned pattern; the numbers stand in the tables beside it.",
        )
        parts.append(
            chapter(number, plan.hand, f"{plan.hand.capitalize()} hand", _tables(plan, words), picture)
        )
    parts.append(chapter(len(parts) + 1, "cautions", "Cautions", bullets(map(escape, PLAN_CAUTIONS))))
    chooser = controls(units, None, {})
    body = (
        f'<div class="wrap"><header class="masthead"><p class="kicker">Landing pattern, planned on the ground</p>'
        f"<h1>{escape(title)}</h1></header>{chooser}<main>{''.join(parts)}</main></div>"
    )
    return page(f"Plan: {title}", body, units=units, figures=figures, assets=assets)


def _limit(row: LegRow, words: Words) -> str:
    if not row.held:
        return "not held"
    far = row.limit_wind_mps is None or row.limit_wind_mps > FAR_WIND_MPS
    return "–" if far else words.speed(row.limit_wind_mps)


def _map(plan: HandPlan) -> Spec:
    gates = [[g.east_m, g.north_m] for g in plan.gates] or [[0.0, 0.0]]
    target = {
        "type": "scatter",
        "mode": "markers",
        "name": "target",
        "x": [0.0],
        "y": [0.0],
        "marker": {"symbol": "cross-thin", "size": 16, "line": {"width": 3, "color": LIGHT["ink"]}},
        "hoverinfo": "name",
        "meta": {"x": "distance", "y": "distance", "turn": True},
    }
    rings = [ring(0.0, 0.0, r, line={"color": LIGHT["rule"], "width": 1}) for r in (50.0, 100.0)]
    data = [*rings, *pattern_traces(plan.pattern, "planned", LIGHT["planned"], "dash"), target]
    return {"data": data, "layout": map_layout({"pattern": [*gates, [0.0, 0.0]]})}


def _tables(plan: HandPlan, words: Words) -> str:
    notes = [f"Crosses the keep-out area {escape(name)}." for name in plan.keep_outs]
    notes += ["The site has the other hand for this landing direction."] if plan.against_site else []
    notes += [escape(plan.pattern.reason)] if plan.pattern.reason else []
    if plan.spread is not None:
        along, across = plan.spread.landing_along_sd_m, plan.spread.landing_across_sd_m
        notes.append(
            f"Flown by heights and tracks alone it ends there give or take {words.distance(along)} along, {words.distance(across)} across "
            "(one standard deviation of what has an error)."
        )
    gates = table(
        "Gates: where each turn begins",
        ("turn onto", "height", "along", "across"),
        [
            (
                g.name,
                words.height(g.agl_m),
                words.distance(g.along_m, g.spread.along_sd_m if g.spread else None, signed=True),
                words.distance(g.across_m, g.spread.across_sd_m if g.spread else None, signed=True),
            )
            for g in plan.gates
        ],
    )
    legs = table(
        "Legs",
        ("leg", "track", "crab", "over ground", "time", "length", "held up to"),
        [
            (
                row.name,
                f"{row.track_deg:03.0f}°",
                degrees(row.crab_deg),
                words.speed(row.ground_speed_mps, row.spread.ground_speed_sd_mps if row.spread else None),
                plain_number(row.seconds, 0, " s"),
                words.distance(row.length_m, row.spread.length_sd_m if row.spread else None),
                _limit(row, words),
            )
            for row in plan.legs
        ],
    )
    moves = table(
        "How the gates move: along, across",
        ("gate", "1 m/s more wind", "wind 10° more to the right"),
        [
            (
                s.gate,
                f"{words.distance(s.per_mps_along_m, signed=True)}, {words.distance(s.per_mps_across_m, signed=True)}",
                f"{words.distance(s.per_10deg_along_m, signed=True)}, {words.distance(s.per_10deg_across_m, signed=True)}",
            )
            for s in plan.shifts
        ],
    )
    return bullets(notes) + gates + legs + moves
