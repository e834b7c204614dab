"""Where the final of a flown pattern counts as flown straight: down to the height of the flare, and no longer."""

from __future__ import annotations

import numpy as np
from pattern_cases import track_of

from analyser.replay.stations import _above_flare
from analyser.settings import Method


def test_the_final_ends_at_the_height_of_the_flare() -> None:
    """From 90 m at 4 m/s down; fixes every half second."""
    track = track_of([(0.0, 0.0, 0.0, 90.0), (22.5, 0.0, 200.0, 0.0)])
    flare = Method().flare_height.value
    found = _above_flare(track, 5.0, 22.5)
    assert found == np.floor((90.0 - flare) / 4.0 / 0.5) * 0.5
    assert _above_flare(track, 5.0, 12.0) == 12.0  # landed above it: on a slope, or heights that are off
    assert _above_flare(track, 21.0, 22.5) is None
    assert _above_flare(track, float(found) - 0.5, 22.5) is None  # two fixes tell no direction
    assert _above_flare(track, float(found) - 1.0, 22.5) == found
