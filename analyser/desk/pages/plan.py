"""The fields of a plan, for a jump's own and for the next one: heights of the turns, landing direction, winds, in the reader's units."""

from __future__ import annotations

from analyser.desk.measures import Measures
from analyser.desk.pages.fields import field, measured, quantity, unit_mark
from analyser.desk.planning import GATES, LEAST_WINDS, PlanForm
from analyser.desk.work import Settings, escape

__all__ = ["plan_fields"]

# the first gate of a plan is met on its leg, at the others a turn begins: the words hold for both
LABELS = {
    "crosswind": "Crosswind begins at",
    "downwind": "Downwind begins at",
    "base": "Base begins at",
    "final": "Final begins at",
}
HINT = "of flight, true; empty: into the wind"


def plan_fields(shown: PlanForm, measures: Measures, exact: Settings | None = None) -> str:
    """Gate heights, landing direction, winds; ``exact`` the settings they were taken from."""
    heights = exact.pattern.heights_m if exact is not None else {}
    inside = "".join(
        quantity(gate, LABELS[gate], shown.heights[gate], measures.height, exact=heights.get(gate))
        for gate in GATES
    )
    inside += field("landing", "Landing direction [°]", shown.landing, hint=HINT)
    return f'<div class="grid">{inside}</div>{_winds(shown, measures, exact)}'


def _winds(shown: PlanForm, measures: Measures, exact: Settings | None) -> str:
    """A row of three for each wind, and some to spare."""
    known = [(w.agl_m, w.speed_mps) for w in exact.wind] if exact is not None else []
    spare = max(LEAST_WINDS - len(shown.winds), 1)
    rows = [*shown.winds, *[("", "", "")] * spare]
    body = "".join(
        _wind(i, cells, measures, known[i] if i < len(known) else (None, None))
        for i, cells in enumerate(rows)
    )
    names = (
        ("agl", f"height [{unit_mark(measures.height)}]"),
        ("speed", f"speed [{unit_mark(measures.speed)}]"),
        ("from", "from [°]"),
    )
    head = "".join(f'<th scope="col" id="wind-{key}">{name}</th>' for key, name in names)
    return f'<table class="winds"><caption>The wind planned for</caption><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>'


def _wind(
    i: int, cells: tuple[str, str, str], measures: Measures, exact: tuple[float | None, float | None]
) -> str:
    values = (
        measured(cells[0], measures.height, exact[0]),
        measured(cells[1], measures.speed, exact[1]),
        f' value="{escape(cells[2])}"',
    )
    inputs = "".join(
        f'<td><input type="text" name="wind"{value} aria-labelledby="wind-{key} wind-row-{i}" maxlength="20" autocomplete="off">'
        + (f'<span class="unseen" id="wind-row-{i}">of wind {i + 1}</span></td>' if key == "agl" else "</td>")
        for key, value in zip(("agl", "speed", "from"), values, strict=True)
    )
    return f"<tr>{inputs}</tr>"
