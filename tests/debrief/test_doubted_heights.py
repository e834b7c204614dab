"""Heights that may be feet: nothing is stated at a height, and the reason is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from worlds.receivers import RECEIVERS

from analyser.debrief import debrief_recording
from analyser.importers.recording import Note
from analyser.report.documents.debrief import to_document
from analyser.synthetic.kinds import kind_jump
from analyser.synthetic.scenario import record_jump
from benchmarks.matrix import as_read


@pytest.mark.parametrize("seed", [9112, 9115, 9119])
def test_no_wind_is_measured_at_heights_in_feet(seed: int) -> None:
    """A jump in feet falls faster than any jump: it is refused, and no wind stands at a height that is none."""
    found = debrief_recording(as_read(record_jump(seed, receiver=RECEIVERS["height in feet"])))
    document = to_document(found)
    assert "altitude-maybe-feet" in [n["code"] for n in document["quality"]["notes"]]
    assert document["winds"] == []
    assert "feet" in found.reasons["winds"]
    assert found.layer_mean is None
    assert document["canopy"]["sink_mps"] is None
    assert document["landing"] is None or document["landing"]["utc"] is None


def test_a_canopy_flight_whose_heights_may_be_feet_has_no_winds_and_no_sink() -> None:
    """Where the phases stand, the note alone takes winds and sink away: the doubt is about every height."""
    recording = as_read(kind_jump(703_002, "ordinary"))
    assert debrief_recording(recording).wind is not None
    doubted = replace(recording, notes=(Note("altitude-maybe-feet", "the altitudes may be feet"),))
    found = debrief_recording(doubted)
    assert found.phases.kind == "jump"
    assert found.wind is not None
    assert set(found.wind.profile.status) == {"undetermined"}
    assert "feet" in found.reasons["winds"]
    assert found.wind.canopy.sink_mps is None
    assert found.budget == ()
    assert found.advice == ()
    assert found.track.quality.grade == "poor"
    assert found.flown is None or all(leg.turn_agl_sd_m > 100.0 for leg in found.flown.legs)


def test_a_late_receiver_is_within_the_error_of_the_landing_time() -> None:
    """A receiver that writes where it was a second ago can not be told; the stated error allows for its age."""
    off = []
    for seed in range(700, 706):
        jump = record_jump(seed, receiver=RECEIVERS["lagging"])
        found = debrief_recording(as_read(jump))
        assert found.phases.landing_s is not None
        assert found.phases.landing_sd_s is not None
        assert jump.truth.landing_utc_s is not None
        late = found.phases.landing_s + found.track.start_utc_s - jump.truth.landing_utc_s
        off.append(late / found.phases.landing_sd_s)
    assert 0.5 < np.mean(off) < 2.5
    assert np.max(np.abs(off)) < 3.0
