"""The first gate of a plan is met already on its track: no screen calls it a turn; the others keep their words."""

from __future__ import annotations

from dataclasses import replace

import pytest
from fake_debrief import fake_debrief
from pattern_cases import TRIM, fly_case, uniform

from analyser.compare import compare
from analyser.desk.changes import _lines
from analyser.plan.report import report_plan
from analyser.report.files.maps import marks
from analyser.report.files.plans import plan_gpx
from analyser.report.pictures.map import _next_time
from analyser.report.pictures.parts import pattern_traces
from analyser.report.story.air import redrawn
from analyser.report.story.blocks import Table
from analyser.report.story.pattern import gate_table
from analyser.report.story.plan import tell_plan
from analyser.settings import PatternSetup, Settings, Site

CALM = uniform(4.0, 0.0)
BOTH = pytest.mark.parametrize(
    ("setup", "first", "rest"),
    [
        (PatternSetup(), "downwind", ["base", "final"]),
        (PatternSetup(crosswind_m=366.0), "crosswind", ["downwind", "base", "final"]),
    ],
)


@BOTH
def test_plan_against_flown(setup: PatternSetup, first: str, rest: list[str]) -> None:
    case = fly_case(CALM, setup=setup)
    found = next(b for b in gate_table(compare(case.flown, case.plan), None) if isinstance(b, Table))
    assert found.head == ("gate", "planned", "flown", "difference", "along", "across")
    assert [row[0] for row in found.rows] == [f"enter {first}", *rest]


@BOTH
def test_plan_page(setup: PatternSetup, first: str, rest: list[str]) -> None:
    settings = Settings(site=Site(target=(47.3, 11.9)), pattern=setup)
    report = report_plan(settings, CALM, TRIM)
    blocks = [b for c in tell_plan(report, settings, TRIM).chapters for b in c.blocks]
    gates = next(b for b in blocks if isinstance(b, Table) and b.caption.startswith("Gates: the entry"))
    assert [row[0] for row in gates.rows] == [f"enter {first}", *rest]
    gpx = plan_gpx(report, settings)
    assert f"enter {first} at" in gpx
    assert f"turn onto {first}" not in gpx
    assert all(f"turn onto {name} begins" in gpx for name in rest)


def test_plan_redrawn() -> None:
    d = fake_debrief()
    found = next(b for b in redrawn(d.plan, d.redrawn, d.plan_outcome, d.reasons) if isinstance(b, Table))
    gates = [g.name for g in d.redrawn.pattern.gates]
    assert [row[0] for row in found.rows] == [f"enter {gates[0]}", *gates[1:]]


@BOTH
def test_gates_on_maps(setup: PatternSetup, first: str, rest: list[str]) -> None:
    gates = pattern_traces(fly_case(CALM, setup=setup).plan, "planned", "#000", "dash")[1]
    assert [row[1] for row in gates["customdata"]] == [
        f"planned: enter {first}",
        *(f"planned turn onto {name}" for name in rest),
    ]


def test_marks_of_a_debrief_call_only_the_flown_one_a_turn() -> None:
    d = fake_debrief()
    first = d.planned.gates[0].name
    notes = {m.name: m.note for m in marks(d)}
    assert notes[f"planned {first}"].startswith(f"enter {first} at")
    assert notes["planned base"].startswith("turn onto base begins at")
    if f"flown {first}" in notes:
        assert notes[f"flown {first}"].startswith(f"turn onto {first} begins at")


def test_the_mark_of_the_next_time_is_a_place_to_be_at() -> None:
    d = fake_debrief()
    place = replace(d.advice[0], kind="turn place", lat=47.3, lon=11.9)
    hover = _next_time(replace(d, advice=(place,)))[0]["hovertemplate"]
    assert hover == "next time: be here<extra></extra>"


def test_changes_on_the_desk_name_the_entry() -> None:
    class Words:
        def __getattr__(self, name: str):
            return lambda *args, **more: "–"

    gates = [{"gate": name, "agl_m": 300.0} for name in ("downwind", "base", "final")]
    said = [line[0] for line in _lines({"plan": {"gates": gates}}, Words())]
    assert [line for line in said if "downwind" in line or "turn onto" in line] == [
        "plan: enter downwind",
        "plan: turn onto base",
        "plan: turn onto final",
    ]
