"""Winds from a table or from the JSON of a debrief."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import SettingsError
from analyser.settings.winds import read_winds


def write(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


def test_winds_from_a_table(tmp_path: Path) -> None:
    path = write(tmp_path / "w.csv", "# forecast\nagl_ft,speed_kt,from_deg,note\n3000,20,270,a\n0,10,180,b\n")
    profile = read_winds(path)
    assert profile.agl_m == pytest.approx([0.0, 914.4])
    # a wind from the south (180°) blows to the north, one from the west (270°) to the east: WMO-No. 8 convention
    assert profile.north[0] == pytest.approx(10 * 1852 / 3600)
    assert profile.east[1] == pytest.approx(20 * 1852 / 3600)
    assert profile.east[0] == pytest.approx(0.0, abs=1e-12)


def test_winds_from_a_table_with_semicolons_and_errors(tmp_path: Path) -> None:
    path = write(tmp_path / "w.csv", "agl_m;east_mps;north_mps;sd_mps\n0;1,5;-2;0,5\n100;2;-2;1\n")
    profile = read_winds(path)
    assert profile.east == pytest.approx([1.5, 2.0])
    assert np.sqrt(np.diag(profile.covariance)) == pytest.approx([0.5, 1.0, 0.5, 1.0])


def debrief_json(**change: object) -> str:
    wind = {"agl_m": 50.0, "east_mps": 3.0, "north_mps": 4.0, "sd_east_mps": 0.5, "sd_north_mps": 0.8, "correlation": 0.3,
            "speed_mps": 5.0, "from_deg": 216.9, "status": "measured", "reason": None}  # fmt: skip
    hole = {
        **wind,
        "agl_m": 100.0,
        "east_mps": None,
        "north_mps": None,
        "status": "undetermined",
        "reason": "x",
    }
    document = {"schema": "crabline.debrief/1", "winds": [wind | change, hole]}
    return json.dumps(document)


def test_winds_from_a_debrief(tmp_path: Path) -> None:
    profile = read_winds(write(tmp_path / "d.json", debrief_json()))
    assert profile.agl_m == pytest.approx([50.0])
    at = profile.at(50.0)
    assert at.covariance == pytest.approx(np.array([[0.25, 0.12], [0.12, 0.64]]))
    assert at.status == "measured"


@pytest.mark.parametrize(
    ("name", "text", "part"),
    [
        ("a.csv", "", "empty table"),
        pytest.param(
            "a.csv", f"agl_m,{'x' * 200_000}\n0,1", "line 1: not a table (field larger", id="long name"
        ),
        pytest.param(
            "a.csv",
            f"agl_m,speed_kt,from_deg\n0,{'1' * 200_000},9",
            "line 2: not a table (field larger",
            id="long cell",
        ),
        ("a.csv", "agl,speed_kt,from_deg\n0,1,2", "no column agl_ft or agl_m"),
        ("a.csv", "agl,speed_kt,from_deg\n0,1,2", "; is it 'agl'? the unit is the end of the name"),
        ("a.csv", "agl_m,sped_kt,from_deg\n0,1,2", "; is it 'sped_kt'? the unit is the end of the name"),
        (
            "a.csv",
            "height,speed_kt,from_deg\n0,1,2",
            "no column agl_ft or agl_m; its columns are height, speed_kt, from_deg; the unit is the end of the name",
        ),
        (
            "a.csv",
            "agl_m,speed_kt,gust_kt\n0,1,2",
            "no column from_deg; its columns are agl_m, speed_kt, gust_kt;",
        ),
        ("a.csv", "agl_m,speed_kt,from_deg", "holds no wind"),
        ("a.csv", "agl_m,speed_kt,from_deg\n0,1,535", "line 2: a direction of 535 degrees"),
        ("a.csv", "agl_m,speed_kt,from_deg\n0,x,2", "line 2: speed must be a number"),
        ("a.csv", "agl_m,speed_kt,from_deg\n0,1", "2 cells under 3 columns"),
        ("a.csv", "agl_m,speed_kt,from_deg\n0,-1,9", "negative"),
        ("a.csv", "agl_m,speed_kt,from_deg\n0,1,9\n0,1,9", "twice"),
        ("a.csv", "agl_m,speed_kt,speed_mps,from_deg\n0,1,1,9", "second time"),
        ("a.csv", "agl_m,speed_kt,from_deg\n0,nan,9", "must be a number"),
        ("a.json", "{", "not valid JSON"),
        ("a.json", "{}", "not a debrief"),
        ("a.json", '{"schema": "crabline.debrief/1"}', 'no list "winds"'),
        ("a.json", debrief_json(east_mps="3"), "must be a number"),
        ("a.json", debrief_json(east_mps=10**400), "must be a number"),
        ("a.json", debrief_json(status="fine"), "status"),
        ("a.json", debrief_json(correlation=2), "beyond ±1"),
    ],
)
def test_winds_refused(tmp_path: Path, name: str, text: str, part: str) -> None:
    with pytest.raises(SettingsError) as caught:
        read_winds(write(tmp_path / name, text))
    assert part in str(caught.value)


@pytest.mark.parametrize(
    "header",
    ["AGL_ft, Speed_KT ,FROM_DEG", '" agl_ft ", "speed_kt ","From_deg"', "Agl_Ft;\tspeed_kt; from_deg"],
)
def test_case_and_blanks_of_the_columns_do_not_matter(tmp_path: Path, header: str) -> None:
    row = '1000, "12" ,240' if ";" not in header else '1000; "12" ;240'
    profile = read_winds(write(tmp_path / "w.csv", f"{header}\n{row}\n"))
    assert profile.agl_m == pytest.approx([304.8])
    speed = math.hypot(profile.east[0], profile.north[0])
    assert speed == pytest.approx(12 * 1852 / 3600)


def test_a_height_without_a_wind_is_passed_over(tmp_path: Path) -> None:
    table = tmp_path / "winds.csv"
    table.write_text(
        "agl_m,east_mps,north_mps,status\n0,,,undetermined\n50,2.0,-1.0,measured\n", encoding="utf-8"
    )
    profile = read_winds(table)
    assert profile.agl_m.tolist() == [50.0]
