"""The oracle of reach against the closed form, and jumps flown to the edge."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analyser.synthetic.air import uniform_air
from analyser.synthetic.canopy import CanopyModel
from analyser.synthetic.scenario import record_jump
from analyser.synthetic.truth import SyntheticJump
from worlds.edge import edge_jump, reach_margin

V, SINK = 10.0, 4.0


def jump_in(speed: float, from_deg: float) -> SyntheticJump:
    air = uniform_air(speed, from_deg)
    return record_jump(
        2, air=air, assumed=air, canopy=CanopyModel(V, SINK), elevation_m=0.0, landing_deg=from_deg
    )


@pytest.mark.parametrize(("speed", "from_deg"), [(0.0, 0.0), (5.0, 200.0), (8.0, 90.0)])
@pytest.mark.parametrize("direction", [0.0, 120.0, 255.0])
def test_margin_against_the_glide_cone(speed: float, from_deg: float, direction: float) -> None:
    """A glide of 2.5 carried by the wind: metres to spare = height · V/sink − |point − drift|, less what the first turn costs.

    The true airspeed factor cancels in height · V/sink and shortens the drift by 1 to 4 %.
    """
    jump = jump_in(speed, from_deg)
    truth = jump.truth
    i = int(np.argmax(truth.agl_m <= 700.0))
    down = float(truth.agl_m[i]) - 300.0
    point = np.array(
        [
            truth.east_m[i] + 900.0 * math.sin(math.radians(direction)),
            truth.north_m[i] + 900.0 * math.cos(math.radians(direction)),
        ]
    )
    seconds = down / (SINK * 1.025)
    wind = np.array([float(w) for w in jump.setup.air.mean(500.0)])
    cone = down * V / SINK - float(np.hypot(*(point - [truth.east_m[i], truth.north_m[i]] - wind * seconds)))
    margin = reach_margin(jump, float(truth.t_utc_s[i]), (float(point[0]), float(point[1])), 300.0)
    assert cone - 100.0 < margin < cone + 15.0


def test_margin_is_none_below_the_point() -> None:
    jump = jump_in(3.0, 0.0)
    late = float(jump.truth.t_utc_s[-20])
    here = (float(jump.truth.east_m[-20]) + 50.0, float(jump.truth.north_m[-20]))
    assert reach_margin(jump, late, here, 300.0) == pytest.approx(-50.0, abs=1.0)


def test_jumps_at_the_edge_have_little_to_spare() -> None:
    margins = []
    for seed in range(8):
        jump, moment, margin = edge_jump(seed)
        gate = jump.truth.plan[0]
        assert margin == pytest.approx(
            reach_margin(jump, moment, (gate.east_m, gate.north_m), gate.agl_m), abs=1e-6
        )
        assert jump.truth.t_utc_s[0] < moment < jump.truth.t_utc_s[-1]
        margins.append(margin)
    assert np.abs(margins).max() < 150.0
    assert min(margins) < 0.0 < max(margins)
