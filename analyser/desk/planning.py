"""Plans from a form: what was typed as the text of a plan file, which the reader of plan files then judges in its own words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path, PurePath
from typing import Any, Final, NamedTuple

from analyser.desk.measures import Measures
from analyser.desk.work import KEY_UNITS, PLAN_KEYS, MeasuredTrim, Plans, Settings, parse_given, parse_target

__all__ = [
    "GATES",
    "LEAST_WINDS",
    "PlanAsked",
    "PlanForm",
    "draw",
    "form_of",
    "plan_text",
    "settings_of",
    "sheet_text",
    "winds_typed",
]

GATES: Final = ("crosswind", "downwind", "base", "final")
HEAD: Final = "# Written by the desk; edit it here or there, comments are kept.\n"
LEAST_WINDS: Final = 3
NO_CROSSWIND: Final = (
    "1000-600-300 ft"  # a preset drops the heights of the files before, a crosswind leg with them
)


class PlanForm(NamedTuple):
    """What a plan's form shows, in the reader's units: heights by gate, hand, landing direction [deg], winds as (height, speed, from [deg])."""

    heights: Mapping[str, str]
    hand: str
    landing: str
    winds: tuple[tuple[str, str, str], ...]


class PlanAsked(NamedTuple):
    """A plan for the next jump: the text of its file, the hand to draw, display system, the folder whose field holds, and what was
    measured of its canopy."""

    text: str
    hand: str
    units: str
    folder: str
    measured: MeasuredTrim | None


def form_of(settings: Settings, measures: Measures) -> PlanForm:
    """The form filled with what holds."""
    setup = settings.pattern
    heights = {gate: measures.height.shown(setup.heights_m.get(gate)) for gate in GATES}
    landing = "" if setup.landing_deg is None else f"{setup.landing_deg:g}"
    winds = tuple(
        (measures.height.shown(w.agl_m), measures.speed.shown(w.speed_mps), f"{w.from_deg:g}")
        for w in settings.wind
    )
    return PlanForm(heights, setup.hand, landing, winds)


def winds_typed(rows: Sequence[Sequence[str]]) -> tuple[tuple[str, str, str], ...]:
    """The rows of winds in which anything was typed."""
    typed = [tuple(cell.strip() for cell in row) for row in rows]
    return tuple((r[0], r[1], r[2]) for r in typed if len(r) == 3 and any(r))


def plan_text(was: str, shown: PlanForm, typed: PlanForm, measures: Measures) -> str:
    """The plan file ``was`` with what the form changed against ``shown`` written into it; "" where nothing is left to say.

    Both are in ``measures``. What cannot be a number is written as it was typed, so that the reader says what is wrong with it.
    """
    import tomlkit

    document: Any = tomlkit.parse(was or HEAD)
    if typed.heights != shown.heights:
        pattern = document.setdefault("pattern", tomlkit.table())
        for gate in GATES:
            for ending in KEY_UNITS["height"]:
                pattern.pop(f"{gate}_{ending}", None)
            _set(pattern, f"{gate}_{measures.height.ending}", typed.heights[gate])
        _set(pattern, "preset", "" if typed.heights["crosswind"] else NO_CROSSWIND)
    if typed.hand != shown.hand:
        _set(document.setdefault("pattern", tomlkit.table()), "hand", typed.hand)
    if typed.landing != shown.landing:
        _set(document.setdefault("pattern", tomlkit.table()), "landing_deg", typed.landing)
    if typed.winds != shown.winds:
        document.pop("wind", None)
        if typed.winds:
            document["wind"] = _wind_rows(typed.winds, measures)
    if "pattern" in document and not document["pattern"]:
        document.pop("pattern")
    return str(document.as_string()) if len(document) else ""


def _wind_rows(winds: Sequence[Sequence[str]], measures: Measures) -> Any:
    import tomlkit

    keys = (f"agl_{measures.height.ending}", f"speed_{measures.speed.ending}", "from_deg")
    rows = tomlkit.aot()
    for cells in winds:
        row = tomlkit.table()
        for key, cell in zip(keys, cells, strict=True):
            _set(row, key, cell)
        rows.append(row)
    return rows


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


def sheet_text(fields: Mapping[str, str], winds: Sequence[Sequence[str]], measures: Measures) -> str:
    """The plan file that the plan page's form means. ``fields``: site name, target, canopy, speeds, heights, landing, in ``measures``."""
    import tomlkit

    document: Any = tomlkit.document()
    site, canopy, pattern = tomlkit.table(), tomlkit.table(), tomlkit.table()
    _text(site, "name", fields.get("site", ""))
    if fields.get("target", "").strip():
        site["target"] = list(parse_target(fields["target"]))
    _text(canopy, "name", fields.get("canopy", ""))
    for key in ("airspeed", "sink"):
        _set(canopy, f"{key}_{measures.speed.ending}", fields.get(key, "").strip())
    for gate in GATES:
        _set(pattern, f"{gate}_{measures.height.ending}", fields.get(gate, "").strip())
    _set(pattern, "landing_deg", fields.get("landing", "").strip())
    for name, table in (("site", site), ("canopy", canopy), ("pattern", pattern)):
        if table:
            document[name] = table
    rows = _wind_rows(winds_typed(winds), measures)
    if rows:
        document["wind"] = rows
    return str(document.as_string())


def _text(table: Any, key: str, typed: str) -> None:
    if typed.strip():
        table[key] = typed.strip()


def settings_of(folder: Path) -> Settings:
    """What ``logbook.toml`` says for a track in the folder of which it says nothing else. Raises SettingsError."""
    return Plans().assign(folder / "track", "0" * 64).settings


def draw(asked: PlanAsked) -> str:
    """The page of a plan, as ``crabline plan --html`` makes it. Raises SettingsError."""
    from analyser.plan.ahead import plan_ahead
    from analyser.report.page.pages import render_plan

    settings = Plans().ahead(Path(asked.folder), parse_given(asked.text, "plan", PLAN_KEYS))
    plan = plan_ahead(settings, hand=asked.hand, measured=asked.measured)
    return render_plan(
        plan.report, plan.settings, plan.trim, usual=plan.usual, units=asked.units, assets=PurePath(".")
    )
