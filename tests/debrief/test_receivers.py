"""One made-up jump through every named receiver and the whole debrief: what is said, and how far its results move."""

from __future__ import annotations

import numpy as np
import pytest
from worlds.receivers import RECEIVERS

from analyser.debrief import debrief_recording
from analyser.errors import NoFixesError
from analyser.importers.drop_unusable import clean
from analyser.report.documents.debrief import to_document
from analyser.synthetic.scenario import record_jump
from benchmarks.receivers import moved, raw_of

SEED = 8202  # an ordinary jump with four clear turns
# receiver: codes that must be among the notes; landing time at most [s], turn heights at most [m], rms of the winds at most [m/s]
USUAL = (1.5, 12.0, 1.5)
SAID: dict[str, tuple[set[str], tuple[float, float, float]]] = {
    "plain": (set(), USUAL),
    "10 Hz with speed": (set(), USUAL),
    "1 Hz": (set(), USUAL),
    "jitter": (set(), USUAL),
    "smart recording": (set(), (4.0, 40.0, 2.5)),
    "static hold": (set(), USUAL),
    "smoothing": (set(), (2.0, 15.0, 1.5)),
    "lagging": (set(), (2.5, 20.0, 1.5)),
    "lossy": (set(), USUAL),
    "limit of 20 m/s down": (set(), USUAL),
    "limit of 30 m/s down": (set(), USUAL),
    "limit of 50 m/s down": (set(), USUAL),
    "gap before opening": (set(), USUAL),
    "leap back": ({"clock-shift"}, USUAL),
    "stale fixes": ({"duplicate"}, USUAL),
    "duplicated block": ({"duplicate"}, USUAL),
    "12 hours ahead at first": ({"clock-shift"}, USUAL),
    "12 hours ahead later": ({"clock-shift"}, USUAL),
    "week rollover": ({"odd-date"}, USUAL),
    "height in feet": ({"altitude-maybe-feet"}, USUAL),
    "pressure steps": ({"altitude-step"}, (1.5, 25.0, 1.5)),
    "ground drift": ({"ground-levels-differ"}, (1.5, 20.0, 1.5)),
}
BLIND = {"height zero", "height constant", "no height"}


def test_every_named_receiver_is_here() -> None:
    assert set(SAID) | BLIND == set(RECEIVERS)


@pytest.mark.parametrize("name", sorted(BLIND))
def test_without_heights_there_is_no_debrief(name: str) -> None:
    with pytest.raises(NoFixesError, match="no usable heights"):
        debrief_recording(clean(raw_of(record_jump(SEED, receiver=RECEIVERS[name]).fixes)))


@pytest.mark.parametrize("name", SAID)
def test_what_is_said_and_how_far_results_move(name: str) -> None:
    must, (late_s, turn_m, wind_mps) = SAID[name]
    jump = record_jump(SEED, receiver=RECEIVERS[name])
    found = debrief_recording(clean(raw_of(jump.fixes)))
    document = to_document(found)
    assert must <= {note["code"] for note in document["quality"]["notes"]}
    off = moved(jump, found)
    if name == "height in feet":
        assert found.phases.kind == "no jump"
        assert off.place.size == off.time.size == off.turns.size == off.winds.size == 0
        return
    assert found.phases.kind == "jump"
    assert off.place.shape[0] == 2
    assert off.turns.shape[0] >= 1
    assert off.winds.shape[0] >= 6
    for rows in (off.place, off.time, off.turns):
        assert np.max(np.abs(rows[:, 0] / rows[:, 1])) < 4.0
    assert np.mean(np.abs(off.winds[:, 0] / off.winds[:, 1]) > 3.0) <= 0.05
    assert np.max(np.abs(off.time[:, 0])) < late_s
    assert np.max(np.abs(off.turns[:, 0])) < turn_m
    assert np.sqrt(np.mean(off.winds[:, 0] ** 2)) < wind_mps
