"""Sample tracks with known truth through the whole debrief: direction of landing and offset."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from analyser import api
from analyser.angles import signed_difference_deg

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize("name", ["s_turns.fit", "first_light.gpx", "late_final.gpx", "strong_wind.gpx"])
def test_the_direction_of_landing_is_that_of_the_final(name: str) -> None:
    stem = name.split(".")[0]
    settings = api.read_settings([ROOT / "shared" / "plans" / f"{stem}.toml"])
    found = api.debrief(ROOT / "sample_tracks" / name, settings)
    truth = json.loads((ROOT / "sample_tracks" / f"{stem}.truth.json").read_text(encoding="utf-8"))
    assert found.flown is not None
    assert found.landing is not None
    assert found.flown.landing_deg is not None
    off = float(signed_difference_deg(found.flown.landing_deg, truth["pattern"]["landing_deg"]))
    assert abs(off) < 12.0
    assert abs(off) < 3.0 * max(found.landing.landing_deg_sd or 0.0, 2.0)
