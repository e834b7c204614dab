"""Two jumps side by side, at the same target: a page and a terminal table."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import PurePath
from typing import TYPE_CHECKING

from analyser.debrief import Debrief
from analyser.findings import CAUTIONS
from analyser.pattern import LEG_NAMES
from analyser.report.markup import bullets, chapter, figure, missing, table
from analyser.report.page.controls import controls
from analyser.report.page.shell import escape, page
from analyser.report.pictures.figures import up_direction
from analyser.report.pictures.two_jumps import both_plan_views, both_winds, shift_between
from analyser.report.plain import plain, utc_minute
from analyser.report.wording import Words
from analyser.units import DisplaySystem

if TYPE_CHECKING:
    from rich.console import Console

__all__ = ["JumpRow", "jump_rows", "print_comparison", "render_comparison"]

WIND_STEP_M = 100.0
SAME_FIELD_M = 3000.0
OWN_AXES = '<p class="quiet">Long and short, right and left: each along its own direction of landing.</p>'


@dataclass(frozen=True, slots=True)
class JumpRow:
    """One quantity of both jumps in SI units with standard deviations; ``difference`` is second minus first."""

    label: str
    quantity: str
    first: float | None
    first_sd: float | None
    second: float | None
    second_sd: float | None

    @property
    def difference(self) -> tuple[float | None, float | None]:
        """Second minus first and its standard deviation (errors of two jumps are independent)."""
        if self.first is None or self.second is None:
            return None, None
        sds = [s for s in (self.first_sd, self.second_sd) if s is not None]
        return self.second - self.first, math.hypot(*sds) if sds else None


def jump_rows(a: Debrief, b: Debrief) -> list[JumpRow]:
    """The quantities worth comparing, in the order of a debrief: turn heights, landing, canopy, winds."""
    rows = [_row(f"turn onto {name}", "height", a, b, lambda d, n=name: _turn(d, n)) for name in LEG_NAMES]  # type: ignore[misc]
    rows.append(_row("distance from the target", "distance", a, b, lambda d: _landing(d, "offset_m")))
    rows.append(_row("long (+), short (−) of it", "distance", a, b, lambda d: _landing(d, "along_m")))
    rows.append(_row("right (+), left (−) of it", "distance", a, b, lambda d: _landing(d, "across_m")))
    rows.append(_row("airspeed at trim", "speed", a, b, _airspeed))
    rows.append(_row("sink at trim", "speed", a, b, _sink))
    top = min((float(d.wind.profile.agl_m[-1]) for d in (a, b) if d.wind is not None), default=-1.0)
    for k in range(int(top // WIND_STEP_M) + 1):
        height = k * WIND_STEP_M
        rows.append(_row(f"{height:.0f}", "wind", a, b, lambda d, h=height: _wind(d, h)))  # type: ignore[misc]
    return [r for r in rows if r.first is not None or r.second is not None]


Pair = tuple[float | None, float | None]


def _row(label: str, quantity: str, a: Debrief, b: Debrief, of: Callable[[Debrief], Pair]) -> JumpRow:
    return JumpRow(label, quantity, *of(a), *of(b))


def _turn(debrief: Debrief, name: str) -> Pair:
    gate = debrief.flown.gate(name) if debrief.flown is not None else None  # type: ignore[arg-type]
    return (gate.agl_m, gate.agl_sd_m or None) if gate is not None else (None, None)


def _landing(debrief: Debrief, field: str) -> Pair:
    landing = debrief.landing
    if landing is None or not debrief.has_target:
        return None, None
    return getattr(landing, field), landing.offset_sd_m


def _airspeed(debrief: Debrief) -> Pair:
    canopy = debrief.wind.canopy if debrief.wind is not None else None
    return (canopy.airspeed_mps, canopy.airspeed_sd_mps) if canopy else (None, None)


def _sink(debrief: Debrief) -> Pair:
    canopy = debrief.wind.canopy if debrief.wind is not None else None
    return (canopy.sink_mps, canopy.sink_sd_mps) if canopy else (None, None)


def _wind(debrief: Debrief, height: float) -> Pair:
    if debrief.wind is None:
        return None, None
    at = debrief.wind.profile.at(height)
    return (at.speed, at.speed_sd) if at.status != "undetermined" else (None, None)


def render_comparison(a: Debrief, b: Debrief, *, units: str = "us", assets: PurePath | None = None) -> str:
    """The page as text; differences are second minus first."""
    words = Words(units)
    figures = {
        k: v for k, v in (("both", both_plan_views(a, b)), ("winds", both_winds(a, b))) if v is not None
    }
    rows = jump_rows(a, b)
    ground = _table(words, "Turns, landing, canopy", [r for r in rows if r.quantity != "wind"])
    air = _table(words, "Wind speed by height", [r for r in rows if r.quantity == "wind"])
    up = up_direction(a)
    maps = _slot(
        figures,
        "both",
        "Both patterns",
        "Solid the first, dashed the second.",
        "Map of both flown patterns about the target.",
    )
    profiles = _slot(
        figures,
        "winds",
        "Both winds",
        "Bars are one standard deviation.",
        "Wind speed and direction by height of both jumps.",
    )
    story = (
        chapter(1, "flights", "Two jumps at the same target", _remark(a, b) + ground + OWN_AXES, maps)
        + chapter(
            2, "winds", "The winds they had", air or missing("no wind was found in either jump"), profiles
        )
        + chapter(3, "cautions", "Cautions", bullets(escape(c) for c in CAUTIONS))
    )
    names = "".join(f"<li>{word} <b>{escape(_name(d))}</b></li>" for word, d in (("First", a), ("Second", b)))
    body = (
        '<div class="wrap"><header class="masthead"><p class="kicker">Two landings side by side, read on the ground</p>'
        f'<h1>Two jumps</h1><ul class="facts">{names}</ul></header>{controls(units, up, figures)}<main>{story}</main></div>'
    )
    data = {"up": up._asdict() if up is not None else None}
    return page(
        f"Two jumps: {_name(a)}, {_name(b)}", body, units=units, data=data, figures=figures, assets=assets
    )


def _slot(figures: Mapping[str, object], name: str, title: str, text: str, alternative: str) -> str:
    return figure(name, title, text, alternative) if name in figures else ""


def _name(debrief: Debrief) -> str:
    return f"{debrief.recording.file or 'recording'}, {utc_minute(debrief.track.start_utc_s)}"


def _remark(a: Debrief, b: Debrief) -> str:
    if not (a.has_target and b.has_target):
        return missing("no target was given: each jump is drawn about its own touchdown")
    apart = math.hypot(*shift_between(a, b))
    return (
        missing("the two targets lie too far apart: each jump is drawn about its own")
        if apart > SAME_FIELD_M
        else ""
    )


def _table(words: Words, caption: str, rows: list[JumpRow]) -> str:
    if not rows:
        return ""
    cells = []
    for r in rows:
        show = getattr(words, "speed" if r.quantity == "wind" else r.quantity)
        label = words.height(float(r.label)) if r.quantity == "wind" else r.label
        cells.append(
            (label, show(r.first, r.first_sd), show(r.second, r.second_sd), show(*r.difference, signed=True))
        )
    return table(caption, ("", "first", "second", "second minus first"), cells)


def print_comparison(a: Debrief, b: Debrief, display: DisplaySystem, console: Console) -> None:
    """The same table on a terminal."""
    from rich.table import Table

    console.print("TWO JUMPS", style="bold", markup=False, highlight=False)
    for word, one in (("first ", a), ("second", b)):
        console.print(f"  {word} {plain(_name(one))}", markup=False, highlight=False)
    grid = Table(box=None, padding=(0, 2, 0, 0), header_style="dim")
    for k, name in enumerate(("", "first", "second", "second minus first")):
        grid.add_column(name, justify="left" if k == 0 else "right")
    for r in jump_rows(a, b):
        unit = display.speed if r.quantity == "wind" else getattr(display, r.quantity)
        label = f"wind at {display.height.text(float(r.label))}" if r.quantity == "wind" else r.label
        grid.add_row(
            label,
            unit.text(r.first, r.first_sd),
            unit.text(r.second, r.second_sd),
            unit.text(*r.difference, signed=True),
        )
    console.print(grid)
