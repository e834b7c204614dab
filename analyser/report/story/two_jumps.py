"""The story of two jumps side by side, at the same target."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from analyser.debrief import Debrief
from analyser.findings import CAUTIONS
from analyser.pattern import LEG_NAMES
from analyser.report.pictures.two_jumps import both_plan_views, both_winds, shift_between
from analyser.report.plain import two_clocks
from analyser.report.story.air import wind_heights
from analyser.report.story.blocks import (
    Block,
    Cell,
    Chapter,
    Line,
    Picture,
    Remark,
    Sentence,
    Story,
    Table,
    height,
    lines_of,
)
from analyser.report.story.brief import where
from analyser.report.story.foot import cautions
from analyser.sentences import Number

__all__ = ["JumpRow", "jump_rows", "tell_two_jumps"]

SAME_FIELD_M = 3000.0
Pair = tuple[float | None, float | None]


@dataclass(frozen=True, slots=True)
class JumpRow:
    """One quantity of both jumps in SI units with standard deviations; ``difference`` is second minus first.

    ``quantity``: height, distance or speed; a wind's ``label`` is the height it was at [m].
    """

    label: Cell
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
    """The quantities worth comparing but the winds, in the order of a debrief: turn heights, landing, canopy."""
    rows = [_row(f"turn onto {name}", "height", a, b, partial(_turn, name=name)) for name in LEG_NAMES]
    for label, field in (
        ("distance to the target", "offset"),
        ("long (+), short (−)", "along"),
        ("right (+), left (−)", "across"),
    ):
        rows.append(_row(label, "distance", a, b, partial(_landing, field=field)))
    rows.append(_row("airspeed at trim", "speed", a, b, partial(_trim, name="airspeed")))
    rows.append(_row("sink at trim", "speed", a, b, partial(_trim, name="sink")))
    return [r for r in rows if r.first is not None or r.second is not None]


def _wind_rows(a: Debrief, b: Debrief) -> list[JumpRow]:
    profiles = [d.wind.profile for d in (a, b) if d.wind is not None]
    rows = [_row(height(h), "speed", a, b, partial(_wind, agl_m=h)) for h in wind_heights(*profiles)]
    return [r for r in rows if r.first is not None or r.second is not None]


def _row(label: Cell, quantity: str, a: Debrief, b: Debrief, of: Callable[[Debrief], Pair]) -> JumpRow:
    return JumpRow(label, quantity, *of(a), *of(b))


def _turn(debrief: Debrief, name: str) -> Pair:
    gate = debrief.flown.gate(name) if debrief.flown is not None else None  # type: ignore[arg-type]
    return (gate.agl_m, gate.agl_sd_m or None) if gate is not None else (None, None)


def _landing(debrief: Debrief, field: str) -> Pair:
    landing = debrief.landing
    if landing is None or not debrief.has_target:
        return None, None
    return getattr(landing, f"{field}_m"), getattr(landing, f"{field}_sd_m")


def _trim(debrief: Debrief, name: str) -> Pair:
    canopy = debrief.wind.canopy if debrief.wind is not None else None
    return (getattr(canopy, f"{name}_mps"), getattr(canopy, f"{name}_sd_mps")) if canopy else (None, None)


def _wind(debrief: Debrief, agl_m: float) -> Pair:
    if debrief.wind is None:
        return None, None
    at = debrief.wind.profile.at(agl_m)
    return (at.speed, at.speed_sd) if at.status != "undetermined" else (None, None)


def tell_two_jumps(a: Debrief, b: Debrief) -> Story:
    """The story; differences are second minus first."""
    names = (_name(a), _name(b))
    pairs = (
        Picture(
            "both",
            "Both patterns",
            "Solid the first, dashed the second.",
            "Map of both flown patterns about the target.",
            partial(both_plan_views, a, b),
        ),
        Picture(
            "winds",
            "Both winds",
            "Bars are one standard deviation.",
            "Wind speed and direction by height of both jumps.",
            partial(both_winds, a, b),
        ),
    )
    axes = Line(Sentence("Long and short, right and left: each along its own direction of landing."), "quiet")
    flights = lines_of(_remark(a, b), _table("Turns, landing, canopy", jump_rows(a, b)), axes)
    air: Block = _table("Wind speed by height", _wind_rows(a, b)) or Line(
        Remark("no wind was found in either jump"), "missing"
    )
    return Story(
        title=f"Two jumps: {names[0]}, {names[1]}",
        kicker="Two landings side by side, read on the ground",
        heading="Two jumps",
        facts=(("First", names[0]), ("Second", names[1])),
        brief=(("First", where(a)), ("Second", where(b))),
        chapters=(
            Chapter("flights", "Two jumps at the same target", flights, pairs[:1]),
            Chapter("winds", "The winds they had", (air,), pairs[1:]),
            Chapter("cautions", "Cautions", cautions(CAUTIONS)),
        ),
        command="crabline debrief",
    )


def _name(debrief: Debrief) -> str:
    frame = debrief.track.frame
    when = two_clocks(debrief.track.start_utc_s, frame.lat_deg, frame.lon_deg)
    return f"{debrief.recording.file or 'recording'}, {when}"


def _remark(a: Debrief, b: Debrief) -> Block | None:
    if not (a.has_target and b.has_target):
        return Line(Remark("no target was given: each jump is drawn about its own touchdown"), "missing")
    if math.hypot(*shift_between(a, b)) > SAME_FIELD_M:
        return Line(Remark("the two targets lie too far apart: each jump is drawn about its own"), "missing")
    return None


def _table(caption: str, rows: list[JumpRow]) -> Table | None:
    if not rows:
        return None
    cells = tuple(
        (
            r.label,
            Number(r.quantity, r.first, r.first_sd),
            Number(r.quantity, r.second, r.second_sd),
            Number(r.quantity, *r.difference, signed=True),
        )
        for r in rows
    )
    return Table(caption, ("", "first", "second", "second minus first"), cells)
