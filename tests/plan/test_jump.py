"""Which trim flies again: the better known of typed and measured; a plan takes what was typed."""

from __future__ import annotations

import pytest

from analyser.plan.jump import flown_trim, trim_of
from analyser.settings import Canopy, Settings
from analyser.wind.estimate import CanopyEstimate

SEEN = CanopyEstimate(10.0, 0.2, 4.0, 0.1)


@pytest.mark.parametrize(
    ("wing", "seen", "airspeed", "sink"),
    [
        (Canopy(airspeed_mps=11.0, sink_mps=4.5), SEEN, (10.0, 0.2), (4.0, 0.1)),
        (Canopy(airspeed_mps=11.0, airspeed_sd_mps=0.1, sink_mps=4.5, sink_sd_mps=0.05), SEEN, (11.0, 0.1), (4.5, 0.05)),
        (Canopy(airspeed_mps=11.0, sink_mps=4.5), CanopyEstimate(10.0, 2.0, None, None), (11.0, 0.55), (4.5, 0.225)),
        (Canopy(), SEEN, (10.0, 0.2), (4.0, 0.1)),
    ],
)  # fmt: skip
def test_the_better_known_flies_again(wing, seen, airspeed, sink) -> None:
    trim = flown_trim(Settings(canopy=wing), seen, 300.0)
    assert trim is not None
    assert (trim.airspeed_mps, trim.airspeed_sd_mps) == pytest.approx(airspeed)
    assert (trim.sink_mps, trim.sink_sd_mps) == pytest.approx(sink)
    assert trim.elevation_m == 300.0


def test_a_plan_takes_what_was_typed() -> None:
    trim = trim_of(Settings(canopy=Canopy(airspeed_mps=11.0)), SEEN, 0.0)
    assert trim is not None
    assert (trim.airspeed_mps, trim.sink_mps) == (11.0, 4.0)


def test_nothing_known_is_no_trim() -> None:
    assert flown_trim(Settings(), None, 0.0) is None
    assert (
        flown_trim(Settings(canopy=Canopy(airspeed_mps=11.0)), CanopyEstimate(None, None, None, None), 0.0)
        is None
    )
