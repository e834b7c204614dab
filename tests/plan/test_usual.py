"""The usual trim speeds: near published flights, growing with the root of the loading, labelled, and never over given ones."""

from __future__ import annotations

import re
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


WIND = "[[wind]]\nagl_ft = 0\nspeed_kt = 8\nfrom_deg = 235\n"


@pytest.mark.parametrize(
    ("canopy", "label"),
    [
        ("", "the usual speeds for a student canopy."),
        ("area_ft2 = 170\nexit_weight_lb = 204", "the usual speeds for a wing loading of 1.20 lb/ft²."),
        ("airspeed_kt = 22\nairspeed_sd_kt = 1", "the usual sink for a student canopy."),
    ],
)
def test_the_canopy_line_itself_says_that_speeds_are_usual_ones_and_how_far_they_spread(
    tmp_path: Path, canopy: str, label: str
) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(f"[canopy]\n{canopy}\n{WIND}", encoding="utf-8")
    said = " ".join(run(f"crabline plan --quiet --plan {plan}").replace("\u00a0", " ").split())
    found = re.search(
        r"Canopy [\d.]+ ± [\d.]+ kt forward, ([\d.]+) ± ([\d.]+) kt down, glide [\d.]+: (.*?\.) A deb", said
    )
    assert found is not None
    assert found[3] == label
    assert float(found[2]) / float(found[1]) == pytest.approx(PLAN.usual_spread, rel=0.1)


def test_given_speeds_without_an_error_have_neither(tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(f"[canopy]\nairspeed_kt = 22\nsink_kt = 9\n{WIND}", encoding="utf-8")
    assert "Canopy 22 kt forward, 9 kt down, glide 2.4.\n" in run(f"crabline plan --plan {plan}")
