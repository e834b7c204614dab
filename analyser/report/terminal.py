"""Debrief -> the terminal, 80 columns, readable without colour, in the order in which a debrief is led."""

from __future__ import annotations

import math
import shutil
import textwrap
from typing import TYPE_CHECKING

from analyser.debrief import Debrief
from analyser.findings import CAUTIONS, render
from analyser.report.pictures.wind import direction_sd_deg, known_turns
from analyser.report.plain import plain, utc_minute
from analyser.sentences import fill
from analyser.units import DisplaySystem, Unit
from analyser.wind.profile import WindProfile

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

__all__ = ["bullet", "degrees", "heading", "line", "print_debrief", "show", "table", "terminal_width"]

WIDTH = 80
HEIGHTS = {
    "barometric": "barometric heights",
    "gps": "satellite heights",
    "unknown": "heights of unknown source",
}


def print_debrief(debrief: Debrief, display: DisplaySystem, console: Console) -> None:
    """Print the whole story; nothing here computes, every number is the Debrief's own."""
    _head(debrief, console)
    _trust(debrief, display, console)
    if debrief.phases.kind == "no jump":
        console.print(f"\nNo jump found: {plain(debrief.phases.reason)}")
        return
    _landing(debrief, display, console)
    _findings(debrief, display, console, ("good",), "WHAT WENT WELL")
    _gates(debrief, display, console)
    _legs(debrief, display, console)
    _budget(debrief, display, console)
    _winds(debrief, display, console)
    _findings(debrief, display, console, ("note", "caution"), "WORTH A TALK")
    _advice(debrief, display, console)
    heading(console, "CAUTIONS")
    for caution in CAUTIONS:
        bullet(console, caution, style="dim")


def heading(console: Console, text: str, *, first: bool = False) -> None:
    """A heading, with a blank line before it unless it is the first."""
    console.print(text if first else f"\n{text}", style="bold", markup=False, highlight=False)


def bullet(console: Console, text: str, *, style: str = "") -> None:
    """One indented point, foreign characters made harmless."""
    _wrapped(console, text, "  · ", style)


def line(console: Console, text: str) -> None:
    """One indented line, foreign characters made harmless."""
    _wrapped(console, text, "  ", "")


def _wrapped(console: Console, text: str, lead: str, style: str) -> None:
    rest = " " * len(lead)
    rows = textwrap.wrap(plain(text), console.width, initial_indent=lead, subsequent_indent=rest) or [""]
    for row in rows:
        console.print(row, style=style or None, markup=False, highlight=False, no_wrap=True, crop=False)


def table(*columns: str) -> Table:
    """An empty table: the first column is a heading, the others stand right."""
    from rich.table import Table

    made = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
    for i, name in enumerate(columns):
        made.add_column(name, justify="left" if i == 0 else "right", no_wrap=i == 0)
    return made


def show(console: Console, rows: Table) -> None:
    """Print a table, indented, without blanks at the ends of its lines."""
    from rich.padding import Padding

    with console.capture() as capture:
        console.print(Padding(rows, (0, 0, 0, 2), expand=False), highlight=False)
    text = "\n".join(part.rstrip() for part in capture.get().rstrip("\n").split("\n"))
    console.file.write(text + "\n")


def degrees(value: float) -> str:
    """A signed angle in whole degrees, never minus zero."""
    return f"{round(value) + 0:+d}°" if round(value) else "0°"


def _head(debrief: Debrief, console: Console) -> None:
    rec, settings = debrief.recording, debrief.settings
    which = f"jump {debrief.jump} of {debrief.jumps}" if debrief.jumps > 1 else ""
    console.print(
        f"crabline debrief  {plain(rec.file)}  {which}".rstrip(), style="bold", markup=False, highlight=False
    )
    wing = settings.canopy.wing_loading_lb_ft2
    parts = [
        utc_minute(debrief.track.start_utc_s),
        settings.site.name,
        settings.jumper.name,
        settings.canopy.name,
        None if wing is None else f"{wing:.2f} lb/ft²",
    ]
    console.print(" · ".join(plain(p) for p in parts if p), markup=False, highlight=False)


def _trust(debrief: Debrief, display: DisplaySystem, console: Console) -> None:
    heading(console, "CAN THE DATA BE TRUSTED?")
    quality, track = debrief.track.quality, debrief.track
    ground = display.height.text(track.ground_elevation_m, track.ground_elevation_sd_m)
    line(
        console,
        f"{quality.grade}: {quality.rate_hz:.3g} fixes/s, {HEIGHTS[quality.altitude]}, ground level at {ground}",
    )
    if quality.gaps:
        longest = max(g.seconds for g in quality.gaps)
        line(console, f"{len(quality.gaps)} gap(s) in the recording, the longest {longest:.0f} s")
    for note in (*quality.notes, *debrief.phases.notes):
        bullet(console, note.text, style="dim")


def _landing(debrief: Debrief, display: DisplaySystem, console: Console) -> None:
    heading(console, "LANDING")
    landing = debrief.landing
    if landing is None:
        line(console, debrief.reasons.get("landing", "no landing in the recording"))
        return
    if landing.offset_m is None or landing.along_m is None or landing.across_m is None:
        line(console, debrief.reasons.get("target", "no target given"))
    else:
        unit = display.distance
        long_short = "long" if landing.along_m >= 0 else "short"
        side = "right" if landing.across_m >= 0 else "left"
        line(
            console,
            f"{unit.text(landing.offset_m, landing.offset_sd_m)} from the target: "
            f"{unit.text(abs(landing.along_m), landing.along_sd_m)} {long_short}, "
            f"{unit.text(abs(landing.across_m), landing.across_sd_m)} {side}",
        )
        if landing.score_text:
            line(console, landing.score_text)
    speeds = []
    if landing.ground_speed_mps is not None:
        speeds.append(f"over the ground {display.speed.text(landing.ground_speed_mps)}")
    if landing.sink_before_flare_mps is not None:
        speeds.append(f"sinking {display.speed.text(landing.sink_before_flare_mps)} before the flare")
    if debrief.into_wind_error_deg is not None:
        turn = debrief.into_wind_error_deg
        sd = debrief.into_wind_error_sd_deg
        error = f" ± {sd:.0f}°" if sd is not None else ""
        if abs(turn) < max(1.0, sd or 0.0):
            speeds.append("into the wind" + (f", give or take {sd:.0f}°" if sd is not None else ""))
        else:
            speeds.append(f"{abs(turn):.0f}°{error} {'right' if turn > 0 else 'left'} of into the wind")
    if speeds:
        line(console, ", ".join(speeds))


def _findings(
    debrief: Debrief, display: DisplaySystem, console: Console, levels: tuple[str, ...], title: str
) -> None:
    found = [f for f in debrief.findings if f.level in levels]
    if not found:
        return
    heading(console, title)
    for finding in found:
        bullet(console, render(finding, display))


def _gates(debrief: Debrief, display: DisplaySystem, console: Console) -> None:
    heading(console, "PLAN AGAINST FLOWN")
    if debrief.plan is None:
        line(console, debrief.reasons.get("plan", "no plan could be drawn"))
        return
    plan = debrief.plan
    source = "the plan's own wind" if plan.winds_from == "plan" else "the wind found in this track"
    preset = debrief.settings.pattern.preset
    heights = f"gate heights {preset}" if preset else "gate heights from the plan"
    line(console, f"{heights}, {plan.pattern.hand or 'no'} hand, drawn for {source}")
    h, d = display.height, display.distance
    out = table("turn onto", "planned", "flown", "difference", "along", "across")
    for row in debrief.comparison:
        out.add_row(
            row.gate,
            h.text(row.planned_agl_m),
            h.text(row.flown_agl_m) if row.flown_agl_m is not None else "not flown",
            _signed(h, row.agl_m, row.agl_sd_m),
            _signed(d, row.along_m, row.lateral_sd_m),
            _signed(d, row.across_m, row.lateral_sd_m),
        )
    show(console, out)


def _signed(unit: Unit, value: float | None, sd: float | None) -> str:
    return unit.text(value, sd, signed=True)


def _legs(debrief: Debrief, display: DisplaySystem, console: Console) -> None:
    heading(console, "LEGS FLOWN")
    flown = debrief.flown
    if flown is None or not flown.legs:
        line(console, debrief.reasons.get("legs") or (flown.reason if flown else "") or "none could be named")
        return
    kind = flown.kind if flown.hand is None else f"{flown.kind}, {flown.hand} hand"
    line(console, kind)
    out = table("leg", "turn began", "ended", "heading", "track", "crab", "over ground", "length")
    for leg in flown.legs:
        out.add_row(
            leg.name,
            display.height.text(leg.turn_agl_m),
            display.height.text(leg.end_agl_m),
            f"{leg.heading_deg:03.0f}°",
            f"{leg.track_deg:03.0f}°",
            degrees(leg.crab_deg),
            display.speed.text(leg.ground_speed_mps),
            display.distance.text(leg.length_m),
        )
    show(console, out)


def _budget(debrief: Debrief, display: DisplaySystem, console: Console) -> None:
    if not debrief.budget:
        return
    heading(console, "WHERE THE METRES WENT")
    unit = display.distance
    rows = [(r.cause, r.along_m, r.along_sd_m, r.across_m, r.across_sd_m) for r in debrief.budget]
    largest = max((abs(r[1]) for r in rows), default=0.0) or 1.0
    out = table("cause", "long (+) short (−)", "right (+) left (−)", "")
    out.columns[3].justify = "left"
    for cause, along, along_sd, across, across_sd in rows:
        half = round(10 * min(abs(along) / largest, 1.0))
        bar = ("▒" * half).rjust(10) + "|" if along < 0 else " " * 10 + "|" + "█" * half
        out.add_row(cause, _signed(unit, along, along_sd), _signed(unit, across, across_sd), bar)
    out.add_row(
        "landing",
        _signed(unit, sum(r[1] for r in rows), None),
        _signed(unit, sum(r[3] for r in rows), None),
        "",
    )
    show(console, out)


def _winds(debrief: Debrief, display: DisplaySystem, console: Console) -> None:
    heading(console, "WIND THAT WAS THERE")
    if debrief.wind is None:
        line(console, debrief.reasons.get("winds", "not determined"))
        return
    profile = debrief.wind.profile
    assumed = debrief.settings.wind_profile
    columns = ("height", "from", "speed", "status") + (("assumed",) if assumed else ())
    out = table(*columns)
    top = float(profile.agl_m[-1])
    step = 100.0 if top > 700.0 else 50.0
    for height in [h for h in profile.agl_m if h % step < 1e-6]:
        at = profile.at(float(height))
        known = at.status != "undetermined"
        row = [
            display.height.text(float(height)),
            _direction(profile, float(height)) if known else "–",
            display.speed.text(at.speed, at.speed_sd) if known else "–",
            at.status,
        ]
        if assumed:
            there = assumed.at(float(height))
            row.append(f"{there.from_deg:03.0f}° {display.speed.text(there.speed)}")
        out.add_row(*row)
    show(console, out)
    reasons = sorted(
        {r for r, s in zip(profile.reason, profile.status, strict=True) if s != "measured" and r}
    )
    for reason in reasons[:3]:
        bullet(console, reason, style="dim")
    told = [
        f"onto {gate.name} {at.from_deg:03.0f}° {display.speed.text(at.speed, at.speed_sd)}"
        for gate, at in known_turns(debrief)
    ]
    if told:
        line(console, f"where the turns began: {', '.join(told)}")
    mean = debrief.layer_mean
    if mean is not None and math.isfinite(mean.speed_mps):
        line(
            console,
            f"mean from the ground to {display.height.text(mean.top_m)}: {mean.from_deg:03.0f}° "
            f"{display.speed.text(mean.speed_mps, mean.speed_sd_mps)}, "
            f"{display.distance.text(mean.drift_m, mean.drift_sd_m)} of drift over 100 s",
        )


def _direction(profile: WindProfile, agl_m: float) -> str:
    """Where the wind comes from, with its error; no direction where the error leaves all of them open."""
    sd = direction_sd_deg(profile, agl_m)
    return "any" if sd is None else f"{profile.at(agl_m).from_deg:03.0f} ± {sd:.0f}°"


def _advice(debrief: Debrief, display: DisplaySystem, console: Console) -> None:
    if not debrief.advice:
        return
    heading(console, "ONE THING TO CHANGE")
    advice = debrief.advice[0]
    bullet(console, fill(advice.template, advice.evidence, display) if advice.template else advice.text)


def terminal_width() -> int:
    """Columns to use: what the terminal has, never more than 100, 80 where it is unknown."""
    return max(60, min(shutil.get_terminal_size((WIDTH, 24)).columns, 100))
