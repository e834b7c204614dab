"""Recordings of other sports through the whole debrief: nothing is claimed that they do not hold."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from analyser.debrief import debrief
from analyser.errors import NoFixesError
from analyser.report.documents.debrief import to_document
from analyser.wind.estimate import estimate_wind

REAL = Path(__file__).resolve().parents[2] / "shared" / "real"
FIT = sorted((REAL / "fit").glob("*.fit"))
needs_real = pytest.mark.skipif(not REAL.is_dir(), reason="no folder shared/real")


@needs_real
@pytest.mark.parametrize("number", ["0009", "0014", "0033", "0041"])
def test_paraglider_glide_downs(number: str) -> None:
    """Launched on foot (twpayne/go-igc test data, MIT): no jump, in one line; the winds of the flight are sober all the same."""
    found = debrief(REAL / f"paraglider_glide_{number}.gpx.gz")
    document = to_document(found)
    assert document["kind"] == "no jump"
    assert "no exit" in found.phases.reason
    assert document["winds"] == []
    track = found.track
    flying = np.flatnonzero(np.hypot(track.v_east, track.v_north) > 5.0)
    wind = estimate_wind(track, int(flying[0]), int(flying[-1]) + 1)
    rows = [wind.profile.at(float(h)) for h in wind.profile.agl_m]
    assert len(rows) > 10
    for row in rows:
        if row.status == "measured":
            assert 0.0 < row.worst_sd < 4.0
            assert row.speed < 20.0  # nobody launches a paraglider into more; common practice, no source
    airspeed = wind.canopy.airspeed_mps
    assert airspeed is None or 7.0 < airspeed < 14.0  # trade figure: paragliders trim at 9 to 12 m/s


@needs_real
@pytest.mark.parametrize("path", FIT or [None], ids=lambda p: p.name if p else "absent")
def test_fit_files_of_other_sports_are_no_jumps(path: Path | None) -> None:
    """Open files (python-fitparse, tests/files, MIT): read with their notes, or one line; none is called a jump."""
    if path is None:
        pytest.skip("the shared real FIT files are not beside the repository")
    if path.name.startswith("20170518"):
        with pytest.raises(NoFixesError, match="records without a position") as caught:
            debrief(path)
        assert str(caught.value).startswith(f"{path}: ")
        return
    found = debrief(path)
    assert found.phases.kind == "no jump"
    assert found.phases.reason
    document = to_document(found)
    json.dumps(document, allow_nan=False)
    assert document["winds"] == []
    assert document["legs"] == []
    assert all(p["phase"] not in ("free fall", "opening", "canopy") for p in document["phases"])
