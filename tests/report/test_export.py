"""Exchange files read back by other libraries: gpxpy, json, csv, numpy; pictures need a browser."""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import sys
import types
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import gpxpy
import numpy as np
import pytest
from fake_debrief import bare_debrief, fake_debrief, no_jump
from fake_flight import TARGET

from analyser.debrief import Debrief
from analyser.errors import OutputError
from analyser.report import files as export
from analyser.report.documents.values import number, utc
from analyser.report.pictures.figures import PICTURES
from analyser.settings.winds import read_winds

EVIL = "]]></name><evil>\x1b[2J & <b>\x00"


@pytest.fixture(scope="module")
def full() -> Debrief:
    return fake_debrief()


def test_gpx_reads_back(full: Debrief) -> None:
    gpx = gpxpy.parse(export.gpx_text(full))
    assert [t.name for t in gpx.tracks] == [p.name for p in full.phases.intervals]
    assert sum(len(t.segments[0].points) for t in gpx.tracks) == len(full.track)
    names = {w.name for w in gpx.waypoints}
    assert {"target", "touchdown", "flown final", "planned base", "redrawn downwind"} <= names
    target = next(w for w in gpx.waypoints if w.name == "target")
    assert (target.latitude, target.longitude) == pytest.approx(TARGET)
    gate = next(w for w in gpx.waypoints if w.name == "flown final")
    assert full.flown is not None
    final = full.flown.gate("final")
    assert final is not None
    assert gate.elevation == pytest.approx(final.agl_m + 612.0, abs=0.06)
    first = gpx.tracks[0].segments[0].points[0]
    assert first.time is not None
    assert first.time.timestamp() == pytest.approx(full.track.start_utc_s, abs=1e-3)


def test_gpx_survives_foreign_text(full: Debrief) -> None:
    text = export.gpx_text(replace(full, recording=replace(full.recording, name=EVIL)))
    assert "\x1b" not in text
    assert "<evil>" not in text
    assert gpxpy.parse(text).name is not None


def test_geojson(full: Debrief) -> None:
    site = full.settings.site
    odd = replace(
        full,
        settings=replace(
            full.settings, site=replace(site, keep_outs=(replace(site.keep_outs[0], name=EVIL),))
        ),
    )
    made = json.loads(export.geojson_text(odd))
    assert made["type"] == "FeatureCollection"
    kinds = [f["properties"]["kind"] for f in made["features"]]
    assert kinds.count("phase") == len(full.phases.intervals)
    assert {"flown", "planned", "redrawn", "target", "touchdown", "keep-out"} <= set(kinds)
    area = next(f for f in made["features"] if f["properties"]["kind"] == "keep-out")
    ring = area["geometry"]["coordinates"][0]
    assert ring[0] == ring[-1]
    # RFC 7946, 3.1.6: the outer ring runs counterclockwise.
    assert sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(ring)) > 0
    lon, lat = made["features"][0]["geometry"]["coordinates"][0][:2]
    assert abs(lat - TARGET[0]) < 0.1
    assert abs(lon - TARGET[1]) < 0.1


def test_winds_read_back_as_a_wind_for_a_plan(full: Debrief, tmp_path: Path) -> None:
    assert full.wind is not None
    text = export.winds_csv(full)
    rows = list(csv.DictReader(io.StringIO(text)))
    assert tuple(rows[0]) == export.WIND_COLUMNS
    assert len(rows) == full.wind.profile.agl_m.size
    assert [r["speed_mps"] for r in rows if r["status"] == "undetermined"] == [""] * 3
    known = [r for r in rows if r["status"] != "undetermined"]
    target = tmp_path / "winds.csv"
    target.write_text(
        "\n".join([",".join(export.WIND_COLUMNS)] + [",".join(r.values()) for r in known]), encoding="utf-8"
    )
    again = read_winds(target)
    east, north = full.wind.profile.vector(again.agl_m)
    np.testing.assert_allclose(again.east, east, atol=1e-3)
    np.testing.assert_allclose(again.north, north, atol=1e-3)


def test_samples(full: Debrief) -> None:
    rows = list(csv.DictReader(io.StringIO(export.samples_csv(full))))
    assert tuple(rows[0]) == export.SAMPLE_COLUMNS
    assert len(rows) == len(full.track)
    assert rows[0]["utc"].endswith("Z")
    canopy = [r for r in rows if r["phase"] == "canopy"]
    final = [r for r in canopy if r["leg"] == "final"]
    assert final
    # The fake canopy flies at 10.5 m/s through the air.
    speeds = [np.hypot(float(r["air_east_mps"]), float(r["air_north_mps"])) for r in final]
    np.testing.assert_allclose(speeds, 10.5, atol=0.05)
    assert all(r["air_east_mps"] == "" for r in rows if r["phase"] == "climb")


def test_a_leg_is_named_from_the_begin_of_its_turn_on(full: Debrief) -> None:
    assert full.flown is not None
    later = tuple(replace(leg, start_s=leg.start_s + 6.0) for leg in full.flown.legs)
    text = export.samples_csv(replace(full, flown=replace(full.flown, legs=later)))
    assert text == export.samples_csv(full)


def test_times_and_numbers_are_rounded_and_never_minus_zero() -> None:
    assert utc(1_781_430_000.0004) == "2026-06-14T09:40:00Z"
    assert utc(1_781_430_000.9996) == "2026-06-14T09:40:01Z"
    assert utc(1_781_430_000.1996) == "2026-06-14T09:40:00.200Z"
    assert str(number(-0.001)) == "0.0"


def test_a_reason_in_a_table_of_winds_is_harmless(full: Debrief) -> None:
    assert full.wind is not None
    profile = full.wind.profile
    reasons = (*profile.reason[:-1], EVIL)
    text = export.winds_csv(replace(full, wind=replace(full.wind, profile=replace(profile, reason=reasons))))
    assert not set(text) & {"\x1b", "\u202e"}


@pytest.mark.parametrize("make", [export.gpx_text, export.geojson_text, export.winds_csv, export.samples_csv])
@pytest.mark.parametrize("sparse", [bare_debrief, no_jump])
def test_missing_parts_leave_a_valid_file(make: Any, sparse: Any) -> None:
    text = make(sparse())
    if make is export.gpx_text:
        gpxpy.parse(text)
    elif make is export.geojson_text:
        json.loads(text)
    else:
        assert len(list(csv.reader(io.StringIO(text)))) >= 1


def test_pictures_without_kaleido_or_browser_say_what_to_do(
    full: Debrief, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import plotly.io

    class ChromeNotFoundError(Exception):
        """As the drawing package raises it."""

    def no_browser(*_: Any, **__: Any) -> None:
        raise ChromeNotFoundError("no such thing here")

    def other(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError("a fault of its own")

    monkeypatch.setattr(plotly.io, "write_images", no_browser)
    monkeypatch.setitem(sys.modules, "kaleido", types.ModuleType("kaleido"))
    with pytest.raises(OutputError, match="pictures need a browser and none was found; install Chromium"):
        export.write_images(full, tmp_path, "svg")
    monkeypatch.setattr(plotly.io, "write_images", other)
    with pytest.raises(ZeroDivisionError):
        export.write_images(full, tmp_path, "svg")
    monkeypatch.setitem(sys.modules, "kaleido", None)
    with pytest.raises(OutputError, match=r"pictures need the package kaleido; install crabline\[images\]"):
        export.write_images(full, tmp_path, "png")
    assert list(tmp_path.iterdir()) == []


def test_unknown_kind_and_folder_that_is_a_file(full: Debrief, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="choose one of png, svg"):
        export.write_images(full, tmp_path, "bmp")
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(OutputError, match="can not be written"):
        export.write_images(full, tmp_path / "file", "png")


@pytest.mark.slow
@pytest.mark.browser
def test_pictures_are_written(full: Debrief, tmp_path: Path) -> None:
    pytest.importorskip("kaleido", reason="the extra images is not installed")
    browser = shutil.which("chromium") or shutil.which("google-chrome")
    if browser is None and not os.environ.get("CI"):
        pytest.skip("no Chromium on this machine")
    written = export.write_images(full, tmp_path, "svg", units="us")
    assert {p.stem for p in written} == set(PICTURES)
    assert {p.name for p in tmp_path.iterdir()} == {f"{name}.svg" for name in PICTURES}
    assert all("<svg" in p.read_text(encoding="utf-8")[:200] for p in written)
    assert "height [ft]" in (tmp_path / "height-to-go.svg").read_text(encoding="utf-8")
