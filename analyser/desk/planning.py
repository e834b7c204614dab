"""Plans from a form: what was typed as the text of a plan file, which the reader of plan files then judges in its own words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import PurePath
from typing import Any, Final, NamedTuple

from analyser.desk.work import FOOT_M, KNOT_MPS, Settings, SettingsError, parse_settings

__all__ = ["GATES", "PlanForm", "draw", "form_of", "plan_text", "sheet_text", "winds_typed"]

GATES: Final = ("crosswind", "downwind", "base", "final")
HEAD: Final = "# Written by the desk; edit it here or there, comments are kept.\n"
LEAST_WINDS: Final = 3
NO_CROSSWIND: Final = (
    "1000-600-300 ft"  # a preset drops the heights of the files before, a crosswind leg with them
)


class PlanForm(NamedTuple):
    """What a plan's form shows: heights [ft] by gate, hand, landing direction [deg], winds as (height [ft], speed [kt], from [deg])."""

    heights: Mapping[str, str]
    hand: str
    landing: str
    winds: tuple[tuple[str, str, str], ...]


def form_of(settings: Settings) -> PlanForm:
    """The form filled with what holds."""
    setup = settings.pattern
    heights = {gate: _shown(setup.heights_m.get(gate), FOOT_M) for gate in GATES}
    landing = "" if setup.landing_deg is None else f"{setup.landing_deg:g}"
    winds = tuple(
        (_shown(w.agl_m, FOOT_M), _shown(w.speed_mps, KNOT_MPS), f"{w.from_deg:g}") for w in settings.wind
    )
    return PlanForm(heights, setup.hand, landing, winds)


def _shown(si: float | None, unit: float) -> str:
    return "" if si is None else f"{round(si / unit, 2):g}"


def winds_typed(rows: Sequence[Sequence[str]]) -> tuple[tuple[str, str, str], ...]:
    """The rows of winds in which anything was typed."""
    typed = [tuple(cell.strip() for cell in row) for row in rows]
    return tuple((r[0], r[1], r[2]) for r in typed if len(r) == 3 and any(r))


def plan_text(was: str, shown: PlanForm, typed: PlanForm) -> str:
    """The plan file ``was`` with what the form changed against ``shown`` written into it; "" where nothing is left to say.

    What cannot be a number is written as it was typed, so that the reader says what is wrong with it.
    """
    import tomlkit

    document: Any = tomlkit.parse(was or HEAD)
    if typed.heights != shown.heights:
        pattern = document.setdefault("pattern", tomlkit.table())
        for gate in GATES:
            for unit in ("ft", "m"):
                pattern.pop(f"{gate}_{unit}", None)
            _set(pattern, f"{gate}_ft", typed.heights[gate])
        _set(pattern, "preset", "" if typed.heights["crosswind"] else NO_CROSSWIND)
    if typed.hand != shown.hand:
        _set(document.setdefault("pattern", tomlkit.table()), "hand", typed.hand)
    if typed.landing != shown.landing:
        _set(document.setdefault("pattern", tomlkit.table()), "landing_deg", typed.landing)
    if typed.winds != shown.winds:
        document.pop("wind", None)
        rows = tomlkit.aot()
        for agl, speed, direction in typed.winds:
            row = tomlkit.table()
            for key, cell in (("agl_ft", agl), ("speed_kt", speed), ("from_deg", direction)):
                _set(row, key, cell)
            rows.append(row)
        if typed.winds:
            document["wind"] = rows
    if "pattern" in document and not document["pattern"]:
        document.pop("pattern")
    return str(document.as_string()) if len(document) else ""


def _set(table: Any, key: str, typed: str) -> None:
    if not typed:
        table.pop(key, None)
        return
    table[key] = _number(typed)


def _number(typed: str) -> float | int | str:
    try:
        value = float(typed)
    except ValueError:
        return typed
    if value != value or value in (float("inf"), float("-inf")):
        return typed
    return int(value) if value.is_integer() else value


def sheet_text(fields: Mapping[str, str], winds: Sequence[Sequence[str]]) -> str:
    """The plan file that the plan page's form means. ``fields``: site name, target, canopy, speeds [m/s], heights [ft], landing."""
    import tomlkit

    document: Any = tomlkit.document()
    site, canopy, pattern = tomlkit.table(), tomlkit.table(), tomlkit.table()
    _text(site, "name", fields.get("site", ""))
    if fields.get("target", "").strip():
        from analyser.desk.work import parse_target

        site["target"] = list(parse_target(fields["target"]))
    _text(canopy, "name", fields.get("canopy", ""))
    for key in ("airspeed", "sink"):
        _set(canopy, f"{key}_kt", fields.get(key, "").strip())
    for gate in GATES:
        _set(pattern, f"{gate}_ft", fields.get(gate, "").strip())
    _set(pattern, "landing_deg", fields.get("landing", "").strip())
    for name, table in (("site", site), ("canopy", canopy), ("pattern", pattern)):
        if table:
            document[name] = table
    rows = tomlkit.aot()
    for agl, speed, direction in winds_typed(winds):
        row = tomlkit.table()
        for key, cell in (("agl_ft", agl), ("speed_kt", speed), ("from_deg", direction)):
            _set(row, key, cell)
        rows.append(row)
    if rows:
        document["wind"] = rows
    return str(document.as_string())


def _text(table: Any, key: str, typed: str) -> None:
    if typed.strip():
        table[key] = typed.strip()


def draw(text: str, hand: str, units: str) -> str:
    """The page of a plan, as ``crabline plan --html`` makes it. Raises SettingsError."""
    from analyser.plan.jump import trim_of
    from analyser.plan.report import report_plan
    from analyser.report.page.pages import render_plan
    from analyser.wind.profile import WindProfile

    settings = parse_settings(text, "plan")
    wind = settings.wind_profile
    if wind is None:
        if settings.pattern.landing_deg is None and not settings.site.directions:
            raise SettingsError("no wind to plan for", "type a wind, or a landing direction for a calm day")
        wind = WindProfile.from_points([(0.0, 0.0, 0.0)])
    trim = trim_of(settings, None, settings.site.elevation_m or 0.0)
    if trim is None:
        raise SettingsError(
            "the canopy's trim speeds are not given", "type both, or choose a canopy that was measured"
        )
    hands = {"left": ("left",), "right": ("right",), "both": ("left", "right")}.get(hand)
    report = report_plan(settings, wind, trim, hands=hands)  # type: ignore[arg-type]
    return render_plan(report, settings, trim, units=units, assets=PurePath("."))
