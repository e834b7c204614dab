"""GeoJSON across ±180° of longitude, as RFC 7946, section 3.1.9 asks."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from fake_debrief import fake_debrief
from hypothesis import given
from hypothesis import strategies as st

from analyser.flight import Trim
from analyser.frame import LocalFrame
from analyser.plan.report import report_plan
from analyser.report import files as export
from analyser.report.files.antimeridian import line_geometry, polygon_geometry
from analyser.report.files.plans import plan_geojson
from analyser.settings.toml import parse_settings
from analyser.wind.profile import WindProfile


def positions(coordinates: Any) -> Iterator[list[float]]:
    if isinstance(coordinates[0], (int, float)):
        yield coordinates
    else:
        for inner in coordinates:
            yield from positions(inner)


def lines(geometry: dict[str, Any]) -> list[list[list[float]]]:
    whole = geometry["type"] == "LineString"
    assert whole or geometry["type"] == "MultiLineString"
    return [geometry["coordinates"]] if whole else geometry["coordinates"]


def test_the_line_of_the_standard() -> None:
    assert line_geometry([[170.0, 45.0], [-170.0, 45.0]]) == {
        "type": "MultiLineString",
        "coordinates": [[[170.0, 45.0], [180.0, 45.0]], [[-180.0, 45.0], [-170.0, 45.0]]],
    }


def test_the_area_of_the_standard() -> None:
    found = polygon_geometry([[170.0, 40.0], [-170.0, 40.0], [-170.0, 50.0], [170.0, 50.0], [170.0, 40.0]])
    wanted = [
        [[180.0, 40.0], [180.0, 50.0], [170.0, 50.0], [170.0, 40.0], [180.0, 40.0]],
        [[-170.0, 40.0], [-170.0, 50.0], [-180.0, 50.0], [-180.0, 40.0], [-170.0, 40.0]],
    ]
    assert found["type"] == "MultiPolygon"
    for (ring,), expected in zip(found["coordinates"], wanted, strict=True):
        assert ring[0] == ring[-1]
        start = ring.index(expected[0])  # where a ring begins is left open by the standard
        assert [*ring[start:-1], *ring[:start], expected[0]] == expected


def test_an_area_drawn_clockwise_is_turned_round_before_it_is_cut() -> None:
    found = polygon_geometry([[170.0, 50.0], [-170.0, 50.0], [-170.0, 40.0], [170.0, 40.0]])
    for (ring,) in found["coordinates"]:
        assert sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(ring)) > 0


@pytest.mark.parametrize(
    ("places", "parts"),
    [
        ([[179.0, 1.0], [180.0, 2.0]], [[[179.0, 1.0], [180.0, 2.0]]]),
        ([[179.0, 1.0], [-180.0, 2.0]], [[[179.0, 1.0], [180.0, 2.0]]]),
        ([[180.0, 1.0], [-179.0, 2.0]], [[[-180.0, 1.0], [-179.0, 2.0]]]),
        (
            [[179.0, 1.0], [-180.0, 2.0], [-179.0, 3.0]],
            [[[179.0, 1.0], [180.0, 2.0]], [[-180.0, 2.0], [-179.0, 3.0]]],
        ),
        (
            [[-179.0, 0.0, 10.0], [179.0, 2.0, 30.0], [-179.0, 4.0]],
            [
                [[-179.0, 0.0, 10.0], [-180.0, 1.0, 20.0]],
                [[180.0, 1.0, 20.0], [179.0, 2.0, 30.0], [180.0, 3.0]],
                [[-180.0, 3.0], [-179.0, 4.0]],
            ],
        ),
        ([[-1.0, 0.0], [1.0, 0.0]], [[[-1.0, 0.0], [1.0, 0.0]]]),
    ],
)
def test_places_on_the_line_and_ways_there_and_back(places: Any, parts: Any) -> None:
    assert lines(line_geometry(places)) == parts


@given(st.floats(-180, 180), st.lists(st.tuples(st.floats(-1, 1), st.floats(-1, 1)), min_size=1, max_size=12))
def test_no_way_is_lost_and_none_goes_round_the_globe(lon: float, steps: list[tuple[float, float]]) -> None:
    places, length = [[lon, 0.0]], 0.0
    for east, north in steps:
        before = places[-1]
        places.append([(before[0] + east + 180.0) % 360.0 - 180.0, before[1] + north])
        length += math.hypot(east, north)
    found = lines(line_geometry(places))
    assert all(len(part) > 1 and abs(place[0]) <= 180.0 for part in found for place in part)
    there = sum(math.hypot(b[0] - a[0], b[1] - a[1]) for part in found for a, b in pairwise(part))
    assert there == pytest.approx(length, abs=1e-5)
    for before, after in pairwise(found):
        assert (before[-1][0], before[-1][1:]) == (-after[0][0], after[0][1:])


@pytest.mark.parametrize("lon", [180.0, -180.0, 179.9999, -179.9999])
def test_a_jump_there_stays_a_jump_of_its_size(lon: float) -> None:
    usual = fake_debrief()
    assert usual.landing is not None
    area = [(-17.0 + a, (lon + b + 180.0) % 360.0 - 180.0) for a, b in ((0, -0.01), (0, 0.01), (0.01, 0.0))]
    out = replace(usual.settings.site.keep_outs[0], polygon=tuple(area))
    site = replace(usual.settings.site, keep_outs=(out,))
    there = replace(
        usual,
        track=replace(usual.track, frame=LocalFrame(-17.0, lon)),
        settings=replace(usual.settings, site=site),
        landing=replace(usual.landing, lat=-17.0, lon=lon),
    )
    features = json.loads(export.geojson_text(there))["features"]
    kinds = {(f["properties"]["kind"], f["geometry"]["type"]) for f in features}
    assert ("phase", "MultiLineString") in kinds
    assert ("keep-out", "MultiPolygon") in kinds
    small(features)


@pytest.mark.parametrize("lon", [180.0, -180.0, 179.9999])
def test_a_plan_there_is_cut_too(lon: float) -> None:
    settings = parse_settings(f"[site]\ntarget = [-17.0, {lon}]\n[canopy]\nairspeed_mps = 11\nsink_mps = 4")
    wind = WindProfile.from_points([(0.0, 3.0, 240.0), (1000.0, 6.0, 250.0)])
    report = report_plan(settings, wind, Trim(11.0, 4.0), hands=("left", "right"))
    features = json.loads(plan_geojson(report, settings))["features"]
    kinds = {(f["properties"]["kind"], f["geometry"]["type"]) for f in features}
    assert ("planned", "MultiLineString") in kinds
    small(features)


def small(features: list[dict[str, Any]]) -> None:
    """No place beyond ±180°, and none far from the line."""
    for feature in features:
        for place in positions(feature["geometry"]["coordinates"]):
            assert 179.8 < abs(place[0]) <= 180.0
    for feature in features:
        if feature["geometry"]["type"].endswith("LineString"):
            for part in lines(feature["geometry"]):
                assert all(abs(b[0] - a[0]) < 0.1 for a, b in pairwise(part))
