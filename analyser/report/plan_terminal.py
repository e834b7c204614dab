"""A plan for a wind -> the terminal, 80 columns."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analyser.findings import PLAN_CAUTIONS
from analyser.flight import Trim
from analyser.plan.report import HandPlan, PlanReport
from analyser.report.terminal import bullet, degrees, heading, line, show, table
from analyser.settings import Settings
from analyser.units import DisplaySystem

if TYPE_CHECKING:
    from rich.console import Console

__all__ = ["FAR_WIND_MPS", "errors_text", "print_plan"]

FAR_WIND_MPS = 40.0  # a limit beyond any wind one would plan for says nothing


def print_plan(
    report: PlanReport, settings: Settings, trim: Trim, display: DisplaySystem, console: Console
) -> None:
    """Print gates, legs, what they can hold and how they move with the wind."""
    heading(console, "PLANNED PATTERN", first=True)
    speed = display.speed
    where = "calm" if report.surface_from_deg is None else f"from {report.surface_from_deg:03.0f}°"
    line(console, f"landing towards {report.landing_deg:03.0f}° (by the {report.landing_from})")
    line(console, f"wind near the ground {where}, {speed.text(report.surface_wind_mps)}")
    line(
        console,
        f"canopy {speed.text(trim.airspeed_mps)} forward, {speed.text(trim.sink_mps)} down, glide {trim.glide:.1f}",
    )
    line(console, errors_text(report))
    if report.advice:
        bullet(console, report.advice)
    for plan in report.plans:
        _hand(plan, settings, display, console)
    heading(console, "CAUTIONS")
    for caution in PLAN_CAUTIONS:
        bullet(console, caution, style="dim")


def errors_text(report: PlanReport) -> str:
    """What stands behind the ± of the tables, or why there is none."""
    if not report.errors_from:
        return f"how far the gates may be off can not be told: {report.errors_reason}"
    whose = {"wind": "the wind", "canopy": "the canopy's speeds"}
    names = " and ".join(whose[name] for name in report.errors_from)
    more = f"; {report.errors_reason}" if report.errors_reason else ""
    return f"± is one standard deviation, from the errors of {names}, if the air stays as it was{more}"


def _hand(plan: HandPlan, settings: Settings, display: DisplaySystem, console: Console) -> None:
    heading(console, f"{plan.hand.upper()} HAND")
    if plan.against_site:
        bullet(console, "the site has the other hand for this landing direction")
    for name in plan.keep_outs:
        bullet(console, f"crosses the keep-out area {name}")
    if plan.pattern.reason:
        bullet(console, plan.pattern.reason)
    d, h = display.distance, display.height
    gates = table("turn onto", "at", "along", "across", "east", "north")
    for gate in plan.gates:
        spread = gate.spread
        gates.add_row(
            gate.name,
            h.text(gate.agl_m),
            d.text(gate.along_m, spread.along_sd_m if spread else None, signed=True),
            d.text(gate.across_m, spread.across_sd_m if spread else None, signed=True),
            d.text(gate.east_m, signed=True),
            d.text(gate.north_m, signed=True),
        )
    show(console, gates)
    if plan.spread is not None:
        ends = (plan.spread.landing_along_sd_m, plan.spread.landing_across_sd_m)
        line(
            console,
            f"flown by heights and tracks alone it ends there give or take {d.text(ends[0])} along, {d.text(ends[1])} across (one standard "
            "deviation of what has an error)",
        )
    line(console, "")
    legs = table("leg", "track", "crab", "over ground", "time", "length", "held up to")
    for row in plan.legs:
        limit = (
            "–"
            if row.limit_wind_mps is None or row.limit_wind_mps > FAR_WIND_MPS
            else display.speed.text(row.limit_wind_mps)
        )
        legs.add_row(
            row.name,
            f"{row.track_deg:03.0f}°",
            degrees(row.crab_deg),
            display.speed.text(row.ground_speed_mps, row.spread.ground_speed_sd_mps if row.spread else None),
            f"{row.seconds:.0f} s",
            d.text(row.length_m, row.spread.length_sd_m if row.spread else None),
            limit if row.held else "not held",
        )
    show(console, legs)
    line(console, "")
    line(
        console,
        f"how the gates move, {d.label} along / across, for one {display.speed.label} more wind and for 10° more to the right",
    )
    shifts = table("gate", "wind stronger", "wind veers 10°")
    for s in plan.shifts:
        per = display.speed.si
        one = f"{d.text(s.per_mps_along_m * per, signed=True)} / {d.text(s.per_mps_across_m * per, signed=True)}"
        turn = f"{d.text(s.per_10deg_along_m, signed=True)} / {d.text(s.per_10deg_across_m, signed=True)}"
        shifts.add_row(s.gate, one, turn)
    show(console, shifts)
