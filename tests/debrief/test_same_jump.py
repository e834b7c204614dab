"""One jump in every format that is read gives one debrief, within the digits each format has."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from track_writers import WRITERS

from analyser.debrief import debrief_recording
from analyser.importers.read import read
from analyser.report.documents.debrief import to_document
from analyser.settings.toml import read_settings

ROOT = Path(__file__).resolve().parents[2]
# IGC has whole metres of height, the others a tenth or a fifth: what that may move, in SI units
COARSE = {"agl_m": 1.5, "place_m": 3.0, "wind_mps": 0.3}
FINE = {"agl_m": 0.3, "place_m": 0.5, "wind_mps": 0.05}


@cache
def told(kind: str | None) -> dict:
    """The document of the sample in the given format, or of the sample itself."""
    found = read(ROOT / "sample_tracks" / "first_light.gpx")
    if kind is not None:
        found = read(WRITERS[kind](found.time_s, found.lat_deg, found.lon_deg, found.altitude_m))
        assert found.format == kind
    return to_document(
        debrief_recording(found, read_settings([ROOT / "shared" / "plans" / "first_light.toml"]))
    )


@pytest.mark.parametrize("kind", WRITERS)
def test_the_same_debrief(kind: str) -> None:
    mine, other, within = told(None), told(kind), COARSE if kind == "igc" else FINE
    assert other["source"]["points"] == mine["source"]["points"]
    assert [p["phase"] for p in other["phases"]] == [p["phase"] for p in mine["phases"]]
    assert [leg["leg"] for leg in other["legs"]] == [leg["leg"] for leg in mine["legs"]]
    for a, b in zip(mine["legs"], other["legs"], strict=True):
        assert b["turn_agl_m"] == pytest.approx(a["turn_agl_m"], abs=3 * within["agl_m"])
    for name in ("along_m", "across_m"):
        assert other["landing"][name] == pytest.approx(mine["landing"][name], abs=within["place_m"])
    rows = [(w["agl_m"], w["east_mps"], w["north_mps"]) for w in mine["winds"] if w["status"] == "measured"]
    same = {w["agl_m"]: w for w in other["winds"]}
    assert len(rows) > 10
    got = np.array([(same[h]["east_mps"] - e, same[h]["north_mps"] - n) for h, e, n in rows])
    assert np.abs(got).max() < within["wind_mps"]
