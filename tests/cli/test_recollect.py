"""With --recollect the terminal holds every result back, and says where it is asked first."""

from __future__ import annotations

from pathlib import Path

import pytest
from console_blocks import run

ROOT = Path(__file__).resolve().parents[2]
TRACK = ROOT / "sample_tracks" / "first_light.gpx"
PLAN = ROOT / "shared" / "plans" / "first_light.toml"
RESULTS = ("You landed", "Why", "Next time", "WHERE THE METRES WENT", "into the wind", " ± ")


@pytest.mark.parametrize("brief", ["", " --brief"])
def test_the_page_asks_first_and_the_terminal_tells_no_result(tmp_path: Path, brief: str) -> None:
    page = tmp_path / "asks.html"
    told = " ".join(run(f"crabline debrief {TRACK} --plan {PLAN} --recollect --html {page}{brief}").split())
    assert "First Open" in told
    assert "asks.html" in told.replace(" ", "")
    assert "it asks what you remember" in told
    assert not [word for word in RESULTS if word in told]
    assert 'id="recall"' in page.read_text(encoding="utf-8")


def test_without_a_page_it_says_what_to_do() -> None:
    told = " ".join(run(f"crabline debrief {TRACK} --plan {PLAN} --recollect").split())
    assert "add --html FILE" in told
    assert "leave out --recollect" in told
    assert not [word for word in RESULTS if word in told]


def test_every_jump_of_a_day_is_held_back() -> None:
    day = ROOT / "sample_tracks" / "two_jumps.gpx"
    told = run(f"crabline debrief {day} --jump all --recollect --brief")
    assert told.count("  First ") == 2
    assert "You landed" not in told


def test_where_nobody_jumped_nothing_is_asked_and_nothing_held_back(tmp_path: Path) -> None:
    fixes = "".join(
        f'<trkpt lat="49.72" lon="-107.93"><ele>742</ele><time>2026-06-14T12:{s // 60:02}:{s % 60:02}Z</time></trkpt>'
        for s in range(900)
    )
    still = tmp_path / "still.gpx"
    still.write_text(
        f'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{fixes}</trkseg></trk></gpx>',
        encoding="utf-8",
    )
    told = run(f"crabline debrief {still} --recollect --brief")
    assert "No jump" in told
    assert "First" not in told
