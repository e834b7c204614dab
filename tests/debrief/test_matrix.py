"""Kinds of jump against receivers: every receiver and every kind several times; phases right, said or refused, never confidently wrong."""

from __future__ import annotations

import pytest
from worlds.receivers import RECEIVERS

from analyser.errors import AnalyserError
from analyser.phases import find_phases
from analyser.synthetic.kinds import KINDS, kind_jump
from analyser.track import build_track
from benchmarks.matrix import Results, as_read, collect, true_times, verdict

NAMES = tuple(RECEIVERS)
CELLS = [
    (KINDS[(3 * k + 5 * (k // len(NAMES))) % len(KINDS)], NAMES[k % len(NAMES)])
    for k in range(2 * len(NAMES))
]


def test_the_cells_cover_every_kind_and_every_receiver_twice() -> None:
    for names, place in ((KINDS, 0), (NAMES, 1)):
        for name in names:
            assert sum(cell[place] == name for cell in CELLS) >= 2
    assert len(set(CELLS)) == len(CELLS)


BLIND = ("height zero", "height constant", "no height")


@pytest.mark.parametrize(("kind", "receiver"), [c for c in CELLS if c[1] in BLIND])
def test_cell_without_usable_heights_is_refused(kind: str, receiver: str) -> None:
    with pytest.raises(AnalyserError, match="no usable heights"):
        build_track(as_read(kind_jump(703_000, kind, receiver=RECEIVERS[receiver])))


@pytest.mark.parametrize(("kind", "receiver"), [c for c in CELLS if c[1] not in BLIND])
def test_cell(kind: str, receiver: str) -> None:
    jump = kind_jump(703_000, kind, receiver=RECEIVERS[receiver])
    recording = as_read(jump)
    track = build_track(recording)
    phases = find_phases(track)
    word, why = verdict(jump, track, phases, true_times(jump.fixes, recording, track))
    assert word != "wrong", why
    if word == "refused":
        assert receiver == "height in feet"
    if receiver in ("plain", "1 Hz", "jitter", "10 Hz with speed", "lossy", "smoothing", "lagging"):
        assert word == "right", why


@pytest.mark.parametrize("receiver", ["static hold", "pressure steps"])
def test_results_stay_within_their_errors(receiver: str) -> None:
    jump = kind_jump(703_001, "ordinary", receiver=RECEIVERS[receiver])
    track = build_track(as_read(jump))
    results = Results()
    collect(jump, track, find_phases(track), results)
    every = results.everything()
    assert every.size > 20
    assert (every > 3.0).mean() <= 0.05
