"""Files the fuzzer broke the debrief with, each kept after it was mended: a debrief or one of our errors, and no warning."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from analyser.debrief import debrief
from analyser.report.documents.debrief import to_document

FILES = sorted((Path(__file__).resolve().parents[1] / "data" / "regressions").glob("*"))
KINDS = {
    "rest_before_the_top.fit": "no jump",
    "years_after_the_landing.gpx": "jump",
    "no_airspeed_left.gpx": "jump",
}


def test_there_are_some() -> None:
    assert FILES


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.name)
def test_a_file_that_once_broke_the_debrief(path: Path) -> None:
    """``rest_before_the_top.fit``: a spoilt sample track of 19 fixes at rest, one of them 100 m up and later than the rest that was found;
    ``years_after_the_landing.gpx``: some of whose fixes at rest lie years away, which took as long as the years had half minutes;
    ``no_airspeed_left.gpx``: whose wind fit, averaged over the brakes that may have been held, left an airspeed far below zero."""
    found = debrief(path)
    assert found.phases.kind == KINDS[path.name]
    assert (found.phases.reason == "") == (found.phases.kind == "jump")
    json.dumps(to_document(found), allow_nan=False)
