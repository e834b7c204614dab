"""The pictures: valid for plotly, right in every unit and turned, complete and possible with missing parts."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import plotly.graph_objects as go
import pytest
from fake_debrief import bare_debrief, fake_debrief, no_jump

from analyser.debrief import Debrief
from analyser.report.pictures.bands import BAND_M, band_of, band_traces
from analyser.report.pictures.figures import PICTURES, figure, specs, up_direction
from analyser.report.pictures.flown import flown_path
from analyser.report.pictures.map import plan_view, small_map
from analyser.report.pictures.palette import LIGHT
from analyser.report.pictures.spec import decimate, displayed, label_sides, numbers, view_range
from analyser.wind.profile import WindProfile


@pytest.fixture(scope="module")
def full() -> Debrief:
    return fake_debrief()


@pytest.mark.parametrize("name", PICTURES)
@pytest.mark.parametrize(
    ("units", "wind_up"), [("metric", False), ("us", True), ("uk", False), ("nordic", True)]
)
def test_every_picture_is_a_plotly_figure(full: Debrief, name: str, units: str, wind_up: bool) -> None:
    made = figure(full, name, units=units, wind_up=wind_up)
    assert isinstance(made, go.Figure)
    assert len(made.data) >= 1


def test_specs_hold_plain_json_of_modest_size(full: Debrief) -> None:
    text = json.dumps(specs(full), allow_nan=False)
    assert len(text) < 300_000
    assert set(specs(full)) == set(PICTURES)


def test_without_wind_legs_plan_and_target_the_rest_is_drawn() -> None:
    made = specs(bare_debrief())
    assert set(made) == {"plan-view", "height-to-go", "timeline", "hodograph"}
    assert up_direction(bare_debrief()) is None
    names = [t.get("name") for t in made["plan-view"]["data"]]
    assert "target" not in names
    assert "planned" not in names


def test_a_recording_without_a_flight_has_a_timeline_at_most() -> None:
    assert set(specs(no_jump())) <= {"timeline"}


def test_unknown_names_are_errors(full: Debrief) -> None:
    with pytest.raises(KeyError):
        figure(full, "no such picture")
    with pytest.raises(KeyError):
        figure(full, "plan-view", units="furlongs")


def test_units_scale_the_axes(full: Debrief) -> None:
    metric, us = (figure(full, "height-to-go", units=u) for u in ("metric", "us"))
    assert metric is not None
    assert us is not None
    for a, b in zip(metric.data, us.data):
        np.testing.assert_allclose(
            np.array(b.x, dtype=float), np.array(a.x, dtype=float) / 0.3048, rtol=1e-9
        )  # 0.3048 m: the international foot
        np.testing.assert_allclose(np.array(b.y, dtype=float), np.array(a.y, dtype=float) / 0.3048, rtol=1e-9)
    assert us.layout.yaxis.title.text == "height [ft]"
    assert metric.layout.yaxis.title.text == "height [m]"


def test_speeds_in_knots(full: Debrief) -> None:
    metric, uk = (figure(full, "hodograph", units=u) for u in ("metric", "uk"))
    assert metric is not None
    assert uk is not None
    # One knot is 1852 m in an hour.
    np.testing.assert_allclose(
        np.array(uk.data[0].x, dtype=float), np.array(metric.data[0].x, dtype=float) * 3600 / 1852, rtol=1e-9
    )


def test_wind_up_turns_the_map_so_that_the_wind_comes_from_above(full: Debrief) -> None:
    up = up_direction(full)
    assert up is not None
    assert up.text == "into the wind"
    made = displayed(specs(full)["plan-view"], up_deg=up.deg)
    arrow = next(t for t in made["data"] if t.get("name", "").startswith("wind"))
    xs = np.array([v if v is not None else np.nan for v in arrow["x"]], dtype=float)
    ys = np.array([v if v is not None else np.nan for v in arrow["y"]], dtype=float)
    dx, dy = xs[1::3] - xs[0::3], ys[1::3] - ys[0::3]
    low = slice(0, 6)
    assert np.all(dy[low] < 0.0)
    assert np.all(np.abs(dx[low]) < 0.5 * np.abs(dy[low]))


def test_arrows_point_where_the_air_goes(full: Debrief) -> None:
    assert full.wind is not None
    arrow = next(t for t in specs(full)["plan-view"]["data"] if t.get("name", "").startswith("wind"))
    at = full.wind.profile.at(0.0)
    dx, dy = arrow["x"][1] - arrow["x"][0], arrow["y"][1] - arrow["y"][0]
    assert (dx, dy) == pytest.approx((10 * at.east, 10 * at.north), abs=0.15)


def test_undetermined_heights_stay_empty(full: Debrief) -> None:
    assert full.wind is not None
    spec = specs(full)["wind-profile"]
    void = [h for h, s in zip(full.wind.profile.agl_m, full.wind.profile.status) if s == "undetermined"]
    assert len(void) == 3
    marks = [t for t in spec["data"] if t["mode"] == "markers"]
    drawn = {y for t in marks for y in t["y"]}
    assert drawn
    assert not drawn & set(void)
    assert len([s for s in spec["layout"]["shapes"] if s["y0"] >= void[0] - 25.1]) == 2 * len(void)


def test_budget_bars_end_at_the_landing(full: Debrief) -> None:
    assert full.landing is not None
    bars = [t for t in specs(full)["budget"]["data"] if t["type"] == "bar"]
    for trace, miss in zip(bars, (full.landing.along_m, full.landing.across_m)):
        assert trace["base"][-2] + trace["x"][-2] == pytest.approx(miss, abs=0.1)
        assert trace["x"][-1] == pytest.approx(miss, abs=0.1)
        for i in range(len(trace["x"]) - 2):
            assert trace["base"][i + 1] == pytest.approx(trace["base"][i] + trace["x"][i], abs=0.11)


def test_bands_hold_every_point_of_the_path_once_in_its_band(full: Debrief) -> None:
    path = flown_path(full)
    assert path is not None
    traces = band_traces(path.east_m, path.north_m, path.agl_m, {})
    assert sum(len([x for x in t["x"] if x is not None]) for t in traces) >= path.t_s.size
    assert band_of(np.array([0.0, BAND_M - 1, BAND_M, 1e5, np.nan, -3.0])).tolist() == [0, 0, 1, 5, 5, 0]


def test_path_ends_at_touchdown_with_nothing_to_go(full: Debrief) -> None:
    path = flown_path(full, 100)
    assert path is not None
    assert path.t_s.size == 100
    assert path.t_s[-1] == 0.0
    assert path.togo_m[-1] == 0.0
    assert np.all(np.diff(path.togo_m) <= 0)
    assert path.legs[-1] == "final"


def test_decimate_keeps_both_ends() -> None:
    kept = decimate(10, 5010, 1000)
    assert (kept[0], kept[-1], len(kept)) == (10, 5009, 1000)
    assert decimate(3, 8).tolist() == [3, 4, 5, 6, 7]


def test_numbers_have_no_nan() -> None:
    assert numbers([1.26, np.nan, np.inf]) == [1.3, None, None]


def test_view_shows_all_points_with_equal_scales() -> None:
    xr, yr = view_range([[0, 0], [100, 0], [0, 300]], 90.0, 1.0, 0.5)
    assert (yr[1] - yr[0]) / (xr[1] - xr[0]) == pytest.approx(0.5)
    # With east upward, north lies to the left.
    assert xr[0] < -300
    assert yr[1] > 100


def test_direction_error_is_the_cross_wind_error() -> None:
    wind = WindProfile.from_points([(0.0, 10.0, 270.0)], sd_mps=1.0)
    # Small angle: 1 m/s across 10 m/s is atan(0.1) = 5.7 deg.
    assert wind.at(0.0).from_sd_deg == pytest.approx(5.7, abs=0.1)
    assert WindProfile.from_points([(0.0, 0.2, 270.0)], sd_mps=1.0).at(0.0).from_sd_deg is None


def test_foreign_names_are_escaped_in_pictures(full: Debrief) -> None:
    site = full.settings.site
    evil = replace(site, keep_outs=(replace(site.keep_outs[0], name="<a href='javascript:1'>x</a>"),))
    text = json.dumps(specs(replace(full, settings=replace(full.settings, site=evil))))
    assert "<a href" not in text


def test_labels_of_near_points_stand_on_different_sides() -> None:
    assert label_sides([0.0, 5.0, 300.0], [100.0, 20.0, -200.0]) == [
        "top center",
        "bottom center",
        "top center",
    ]
    assert label_sides([0.0], [0.0]) == ["top center"]
    assert label_sides([], []) == []


def advised(x: Debrief) -> Debrief:
    """The jump with a place for its first advice."""
    lat, lon = (float(v) for v in x.track.frame.to_geodetic(120.0, -90.0))
    return replace(x, advice=(replace(x.advice[0], lat=lat, lon=lon), *x.advice[1:]))


def test_the_advised_place_has_one_mark_in_the_colour_of_the_palette(full: Debrief) -> None:
    marks = [
        trace["marker"]
        for spec in (plan_view(advised(full)), small_map(advised(full)))
        for trace in spec["data"]
        if trace.get("name") == "next time"
    ]
    assert len(marks) == 2
    assert marks[0] == marks[1]
    assert marks[0]["color"] == LIGHT["accent"]


def test_every_open_mark_is_given_its_colour(full: Debrief) -> None:
    """An open mark is drawn in the colour of the marker, not in that of its line."""
    seen = 0
    for spec in specs(advised(full)).values():
        for trace in spec["data"]:
            marker = trace.get("marker", {})
            if str(marker.get("symbol", "")).endswith("-open"):
                seen += 1
                assert marker.get("color"), trace.get("name")
    assert seen >= 4


def test_the_small_map_says_how_large_it_is(full: Debrief) -> None:
    """One number, that of the outer ring, in the reader's unit."""
    words = [t for t in small_map(full)["data"] if t.get("mode") == "text"]
    assert len(words) == 1
    assert words[0]["customdata"] == [[100.0]]
    assert words[0]["meta"]["custom"] == ["distance"]
