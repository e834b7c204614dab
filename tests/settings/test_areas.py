"""Areas of a field from GeoJSON: the polygon of RFC 7946, what is refused, and the files the program writes itself."""

from __future__ import annotations

import json
import math
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fake_debrief import fake_debrief
from hypothesis import given
from hypothesis import settings as tries
from hypothesis import strategies as st

from analyser.errors import SettingsError
from analyser.plan.areas import to_edge_m
from analyser.report.files import geojson_text
from analyser.settings.toml import read_settings

# RFC 7946, appendix A.3: a polygon without holes
RING = [[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]]


def feature(coordinates: Any = None, shape: str = "Polygon", **properties: Any) -> dict[str, Any]:
    geometry = {"type": shape, "coordinates": [RING] if coordinates is None else coordinates}
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def read(folder: Path, *features: Any, more: str = "") -> Any:
    whole = {"type": "FeatureCollection", "features": list(features)}
    (folder / "field.geojson").write_text(json.dumps(whole))
    plan = folder / "plan.toml"
    plan.write_text(f'[site]\nareas = "field.geojson"\n{more}')
    return read_settings(plan).site


def test_both_kinds_and_what_is_left_alone(tmp_path: Path) -> None:
    two = [[RING], [[[10.0, 5.0], [11.0, 5.0], [11.0, 6.0], [10.0, 5.0]]]]
    site = read(
        tmp_path,
        feature(kind="keep-out", name="runway", below_ft=1000),
        feature(kind="keep-out", below_m=200.0),
        feature(two, "MultiPolygon", kind="landing area", name="main"),
        feature([100.5, 0.5], "Point", kind="target"),
        feature(kind="a lake"),
        {"type": "Feature", "geometry": None, "properties": None},
        more='[[site.keep_out]]\nname = "wood"\nbelow_m = 50\npolygon = [[1, 2], [1, 3], [2, 3]]\n',
    )
    assert [(a.name, round(a.below_m, 1)) for a in site.keep_outs] == [
        ("wood", 50.0),
        ("runway", 304.8),
        ("area 2", 200.0),
    ]
    assert site.keep_outs[1].polygon == ((0.0, 100.0), (0.0, 101.0), (1.0, 101.0), (1.0, 100.0))
    assert [(a.name, len(a.polygon)) for a in site.landing_areas] == [("main", 4), ("main", 3)]


def test_one_feature_alone(tmp_path: Path) -> None:
    (tmp_path / "a.geojson").write_text(json.dumps(feature(kind="landing area")))
    (tmp_path / "plan.toml").write_text('[site]\nareas = ["a.geojson", "a.geojson"]\n')
    assert [a.name for a in read_settings(tmp_path / "plan.toml").site.landing_areas] == [
        "landing area 1",
        "landing area 2",
    ]


@pytest.mark.parametrize(
    ("row", "match"),
    [
        (feature(), "feature 1: an area of no kind"),
        (feature(kind="keep-out"), "needs one height"),
        (feature(kind="keep-out", below_m=1, below_ft=1), "needs one height"),
        (feature(kind="keep-out", below_m="low"), "must be a number"),
        (feature(kind="keep-out", below_m=-1), "out of range"),
        (feature(kind="keep-out", below_m=1e300), "out of range"),
        (feature([RING, RING], kind="landing area"), "with a hole"),
        (feature([RING[:-1]], kind="landing area"), "must be closed"),
        (feature([], kind="landing area"), "without coordinates"),
        (feature([[]], "MultiPolygon", kind="landing area"), "without coordinates"),
        (feature([[[0, 100]] * 4], kind="landing area"), "swapped"),
        (feature([[["a", 1]] * 4], kind="landing area"), "is no .longitude, latitude"),
        (feature([[[math.nan, 1]] * 4], kind="landing area"), "must be closed|is no"),
        (feature([[[0, 1]] * 3000], kind="landing area"), "more than 2,000 points"),
        (7, "is not an object"),
    ],
)
def test_mistakes(tmp_path: Path, row: Any, match: str) -> None:
    with pytest.raises(SettingsError, match=match) as caught:
        read(tmp_path, row)
    assert str(caught.value).startswith(str(tmp_path / "field.geojson"))
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("text", ["", "{", "[]", "null", '{"type": "FeatureCollection"}', "[" * 100_000])
def test_what_is_no_geojson(tmp_path: Path, text: str) -> None:
    (tmp_path / "field.geojson").write_text(text)
    (tmp_path / "plan.toml").write_text('[site]\nareas = "field.geojson"\n')
    with pytest.raises(SettingsError, match=r"field\.geojson: not "):
        read_settings(tmp_path / "plan.toml")


def test_too_many_and_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="more than 500 areas"):
        read(tmp_path, *[feature(kind="landing area")] * 501)
    (tmp_path / "plan.toml").write_text('[site]\nareas = "none.geojson"\n')
    with pytest.raises(SettingsError, match=r"line 2: .*none\.geojson.*not there"):
        read_settings(tmp_path / "plan.toml")


def test_what_a_debrief_writes_is_read_back(tmp_path: Path) -> None:
    full = fake_debrief()
    (tmp_path / "field.geojson").write_text(geojson_text(full))
    (tmp_path / "plan.toml").write_text('[site]\nareas = "field.geojson"\n')
    (found,) = read_settings(tmp_path / "plan.toml").site.keep_outs
    (mine,) = full.settings.site.keep_outs
    assert (found.name, found.below_m) == (mine.name, mine.below_m)
    assert {(round(a, 6), round(o, 6)) for a, o in found.polygon} == {
        (round(a, 6), round(o, 6)) for a, o in mine.polygon
    }


def test_distance_to_the_edge() -> None:
    """A rectangle of 200 by 100 m about the origin: the distances are plain."""
    box = np.array([[-100.0, -50.0], [100.0, -50.0], [100.0, 50.0], [-100.0, 50.0]])
    assert to_edge_m(0.0, 0.0, box) == pytest.approx(50.0)
    assert to_edge_m(90.0, 0.0, box) == pytest.approx(10.0)
    assert to_edge_m(0.0, 80.0, box) == pytest.approx(-30.0)
    assert to_edge_m(103.0, 54.0, box) == pytest.approx(-5.0)


json_values = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=8,
)


@tries(max_examples=150, deadline=None)
@given(json_values, json_values, json_values)
def test_only_our_errors_escape(tmp_path_factory: pytest.TempPathFactory, a: Any, b: Any, c: Any) -> None:
    folder = tmp_path_factory.mktemp("areas")
    for row in (a, feature(b, kind="keep-out", below_m=c), feature([b], kind="landing area", name=c)):
        with suppress(SettingsError):
            read(folder, row)
