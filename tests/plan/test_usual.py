"""The usual trim speeds: near published flights, growing with the root of the loading, labelled, and never over given ones."""

from __future__ import annotations

from pathlib import Path

import pytest
from console_blocks import run

from analyser.plan.thresholds import PLAN
from analyser.plan.usual import usual_speeds, with_usual_trim
from analyser.sentences import fill
from analyser.settings import Canopy, Settings
from analyser.units import DISPLAY_SYSTEMS


def test_speeds_grow_with_the_root_of_the_loading() -> None:
    """V² goes with weight over area (steady glide); a canopy at 1 lb/ft² flies about 20 to 25 kt: common practice, from memory."""
    slow, fast = usual_speeds(0.5), usual_speeds(2.0)
    assert fast[0] == pytest.approx(2.0 * slow[0])
    assert fast[1] == pytest.approx(2.0 * slow[1])
    assert 20.0 < usual_speeds(1.0)[0] / 0.514444 < 25.0
    assert usual_speeds() == usual_speeds(0.8)


def test_only_what_is_missing_is_filled_and_said() -> None:
    given = Settings(canopy=Canopy(airspeed_mps=11.0, sink_mps=4.0))
    assert with_usual_trim(given) == (given, None)
    half, usual = with_usual_trim(Settings(canopy=Canopy(airspeed_mps=11.0, airspeed_sd_mps=0.3)))
    assert (half.canopy.airspeed_mps, half.canopy.airspeed_sd_mps) == (11.0, 0.3)
    assert half.canopy.sink_sd_mps == pytest.approx(PLAN.usual_spread * half.canopy.sink_mps)
    said = fill(usual.text, usual.values, DISPLAY_SYSTEMS["us"])
    assert "The sink of the canopy is not given" in said
    assert "student canopy" in said
    assert "mph" in said


def test_by_the_wing_loading() -> None:
    wing = Canopy(area_m2=200 * 0.3048**2, exit_weight_kg=200 * 0.45359237)
    settings, usual = with_usual_trim(Settings(canopy=wing))
    assert settings.canopy.airspeed_mps == pytest.approx(usual_speeds(1.0)[0])
    assert "1.00 lb/ft²" in usual.text


def test_a_plan_before_the_first_debrief(tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(
        "[site]\ntarget = [49.72, -107.93]\n[[wind]]\nagl_ft = 0\nspeed_kt = 8\nfrom_deg = 235\n",
        encoding="utf-8",
    )
    assert "final" in run(f"crabline plan --plan {plan}")
