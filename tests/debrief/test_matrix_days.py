"""Two jumps in one file through every named receiver: both found, their landings where they were, or refused with the reason."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from worlds.receivers import RECEIVERS

from analyser.errors import AnalyserError
from analyser.importers.drop_unusable import clean
from analyser.phases import find_phases, split_jumps
from analyser.synthetic.kinds import day_of
from analyser.synthetic.setup import draw_setup
from analyser.track import build_track
from benchmarks.receivers import raw_of

CLOCKS = ("leap back", "12 hours ahead at first", "12 hours ahead later", "week rollover")


@pytest.mark.parametrize("name", RECEIVERS)
def test_a_day_of_two_jumps(name: str) -> None:
    setups = tuple(replace(draw_setup(seed), receiver=RECEIVERS[name]) for seed in (766_011, 766_012))
    day = day_of(setups, "two jumps")
    if name in ("height zero", "height constant", "no height"):
        with pytest.raises(AnalyserError, match="no usable heights"):
            clean(raw_of(day.fixes))
        return
    recording = clean(raw_of(day.fixes))
    ranges = split_jumps(recording)
    assert len(ranges) == 2
    for (start, stop), truth in zip(ranges, day.truths, strict=True):
        track = build_track(recording.slice(start, stop))
        found = find_phases(track)
        if name == "height in feet":
            assert found.kind == "no jump"
            assert "feet" in found.reason
            continue
        assert found.kind == "jump"
        assert found.landing_s is not None
        assert found.landing_sd_s is not None
        assert truth.landing_utc_s is not None
        assert truth.landing_lat is not None
        assert truth.landing_lon is not None
        late = found.landing_s + track.start_utc_s - truth.landing_utc_s
        if name in CLOCKS:  # which half of the day is right can not be told
            late -= round(late / 43_200.0) * 43_200.0
        assert abs(late) < 4.0 * found.landing_sd_s + 0.5
        east, north = track.frame.to_local(truth.landing_lat, truth.landing_lon)
        here = [float(np.interp(found.landing_s, track.t_s, v)) for v in (track.east_m, track.north_m)]
        assert np.hypot(here[0] - east, here[1] - north) < 20.0
