"""Winds that were given beside those found: gusts apart, no direction where none was told, nothing invented above the flight."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from fake_debrief import fake_debrief

from analyser.jump import Debrief
from analyser.report.documents.given_winds import given_winds
from analyser.report.story.air import winds
from analyser.report.story.blocks import Sentence, Table
from analyser.report.story.given import told_and_found
from analyser.settings.toml import parse_settings

TEXT = '''[site]
elevation_m = 0
[[wind]]
agl_m = 200
speed_mps = 5
from_deg = 90
[[wind]]
metar = "KXYZ 111851Z VRB03G19KT 10SM 25/15 A2992"
[[wind]]
aloft = """FT 3000 39000
ABC 2710 750456"""
'''


def test_three_sources_side_by_side() -> None:
    full = fake_debrief()
    assert full.wind is not None
    plan, report, forecast = given_winds(parse_settings(TEXT), full.wind.profile)
    assert [row["kind"] for row in (plan, report, forecast)] == ["plan", "report", "forecast"]
    assert plan["heights"][0]["from_deg"] == 90.0
    assert plan["gust_mps"] is None
    assert (report["station"], report["when"], report["gust_mps"]) == ("KXYZ", "111851Z", 9.8)
    low = report["heights"][0]
    assert (low["agl_m"], low["speed_mps"], low["from_deg"], low["variable"]) == (10.0, 1.54, None, True)
    assert [h["agl_m"] for h in forecast["heights"]] == [914.4, 11887.2]
    high = forecast["heights"][1]
    assert (high["from_deg"], high["recovered_speed_mps"], high["recovered_from_deg"]) == (250.0, None, None)
    east, north = full.wind.profile.vector(np.array([200.0]))
    assert plan["heights"][0]["recovered_speed_mps"] == pytest.approx(
        float(np.hypot(east, north)[0]), abs=0.01
    )
    assert "not known" in report["error"]


def test_no_direction_is_shown_of_a_wind_assumed_without_one() -> None:
    """A variable wind counts as none in the plan, and is no wind of 0 kt from 180°; a calm is one."""
    full = fake_debrief()
    for group, shown in (("VRB03KT", "variable"), ("00000KT", "calm"), ("27003KT", "270°")):
        metar = f'[[wind]]\nmetar = "KXYZ 111851Z {group} 10SM 25/15 A2992"\n'
        blocks = winds(replace(full, settings=parse_settings(metar)))
        table = next(b for b in blocks if isinstance(b, Table) and b.head[-1] == "assumed")
        cells = {cell.text().split(",")[0] for *_, cell in table.rows}
        assert cells == {shown}


def test_nothing_given() -> None:
    assert given_winds(parse_settings(""), None) == []


def test_the_text_sets_them_side_by_side() -> None:
    """A row for each height that the flight reached; gusts in a sentence of their own; nothing where only the plan has a wind."""
    wind = fake_debrief().wind
    assert wind is not None
    assert told_and_found(parse_settings(""), wind.profile) == ()
    table, points = told_and_found(parse_settings(TEXT.replace("FT 3000", "FT 1000")), wind.profile)
    shown = [tuple(c.text() if isinstance(c, Sentence) else str(c) for c in row) for row in table.rows]
    assert [row[0] for row in shown] == ["plan", "report KXYZ", "forecast ABC"]
    assert shown[1][2] == "variable, up to 1.5 m/s"
    assert shown[2][2].startswith("270°")
    assert all("°" in row[3] for row in shown)
    report, forecast, left_out = (point.text() for point in points.items)
    assert (
        report == "report KXYZ: 111851Z, gusts of 9.8 m/s, which are in no mean here. Its error is not known."
    )
    assert "gusts" not in forecast
    assert left_out == "Heights above the flight are left out (1)."


def test_the_wind_where_the_turns_began_needs_no_plan_only_a_pattern_that_was_flown() -> None:
    full = fake_debrief()
    assert full.flown is not None

    def turns(debrief: Debrief) -> list[Table]:
        return [
            b for b in winds(debrief) if isinstance(b, Table) and b.caption == "Wind where the turns began"
        ]

    (found,) = turns(replace(full, plan=None, matched=None))
    assert [row[0] for row in found.rows] == [gate.name for gate in full.flown.gates]
    assert turns(replace(full, flown=None)) == []
