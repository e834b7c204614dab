"""Temperature and pressure of the day reach the speeds of the canopy: the same path through thinner air is that of a slower wing.

Outside: ISO 2533 (ambiance, a reference library) for the density; the rest follows from the path, which stays the same: its true airspeed does.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from ambiance import Atmosphere

from analyser.debrief import debrief_recording
from analyser.importers.read import read
from analyser.plan.ahead import plan_ahead
from analyser.report.documents.debrief import to_document
from analyser.report.story.air import air_of_the_day
from analyser.report.story.blocks import Sentence
from analyser.settings import Air
from analyser.settings.toml import parse_settings
from analyser.settings.winds import read_air

SAMPLE = Path(__file__).resolve().parents[2] / "sample_tracks" / "first_light.gpx"
METAR = "METAR CQMF 141200Z 24008G15KT 9999 FEW030 35/09 Q0995="


def test_the_same_path_through_thinner_air() -> None:
    recording = read(SAMPLE)
    usual = parse_settings("")
    standard = debrief_recording(recording, usual)
    hot = debrief_recording(recording, usual.in_air(Air(35.0, 995.0)))
    ground = standard.track.ground_elevation_m
    level = Atmosphere(ground)
    # dry air at the field: the standard pressure there, lowered with the QNH (within a per cent), over the gas constant and the temperature
    density = float(level.pressure[0]) * 995.0 / 1013.25 / (287.05287 * 308.15)
    ratio = density / float(level.density[0])
    assert 0.85 < ratio < 0.96
    a, b = standard.wind.canopy, hot.wind.canopy
    assert b.airspeed_mps / a.airspeed_mps == pytest.approx(np.sqrt(ratio), rel=0.01)
    assert b.sink_mps / a.sink_mps == pytest.approx(np.sqrt(ratio), rel=0.01)
    apart = np.hypot(
        *np.subtract(standard.profile.vector([100.0, 400.0]), hot.profile.vector([100.0, 400.0]))
    )
    assert np.all(apart < 0.2)
    assert float(Atmosphere(hot.air_altitude_m).density[0]) == pytest.approx(density, rel=0.01)
    assert to_document(hot)["frame"]["density_altitude_m"] == pytest.approx(hot.air_altitude_m, abs=0.5)
    assert to_document(standard)["frame"]["density_altitude_m"] is None


def test_a_plan_flies_faster_over_the_ground_in_thinner_air(tmp_path: Path) -> None:
    file = tmp_path / "metar.txt"
    file.write_text(METAR)
    air = read_air(file)
    assert (air.temperature_c, air.pressure_hpa) == (35.0, 995.0)
    plan = parse_settings(
        "[site]\ntarget = [49.7, -107.9]\nelevation_m = 740\n[canopy]\nairspeed_mps = 10\nsink_mps = 4\n"
        "[pattern]\nlanding_deg = 240\n[[wind]]\nagl_m = 0\nspeed_mps = 0\nfrom_deg = 240\n"
    )
    cold = plan_ahead(plan.in_air(Air(-20.0, 1013.25))).trim
    warm = plan_ahead(plan.in_air(air)).trim
    faster = float(np.sqrt(Atmosphere(cold.elevation_m).density[0] / Atmosphere(warm.elevation_m).density[0]))
    assert faster == pytest.approx(np.sqrt(308.15 / 253.15 * 1013.25 / 995.0), rel=0.01)
    assert cold.elevation_m < 740 < warm.elevation_m


def test_what_is_given_stands_and_it_is_said() -> None:
    settings = parse_settings("[air]\ntemperature_c = 20\n")
    both = settings.in_air(Air(35.0, 995.0))
    assert (both.air.temperature_c, both.air.pressure_hpa) == (20.0, 995.0)
    (said,) = air_of_the_day(settings, 840.0)
    assert isinstance(said, Sentence)
    assert said.text() == (
        "At 20 °C the air at the landing area is as dense as standard air at 840 m. The canopy's speeds use that density."
    )
    assert air_of_the_day(replace(settings, air=Air()), 840.0) == ()
