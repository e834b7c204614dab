"""What is no jump is not called one: vehicles, skis, ropes, wings that soar, heights with spikes; and every kind of jump still is."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from worlds.no_jumps import KINDS, no_jump_track, with_spikes

from analyser.importers.drop_unusable import clean
from analyser.importers.raw import RawFixes
from analyser.importers.read import read
from analyser.importers.recording import Recording
from analyser.phases import Phases, find_phases, split_jumps
from analyser.phases.no_exit import _off_the_line, _sharpest_deg, leaps, why_on_rails
from analyser.phases.signals import Signals, make_signals
from analyser.phases.thresholds import PHASES
from analyser.synthetic.kinds import KINDS as JUMPS
from analyser.synthetic.kinds import kind_jump
from analyser.track import build_track

REAL = Path(__file__).resolve().parents[2] / "shared" / "real"


def cleaned(r: Recording) -> Recording:
    """The recording as the readers would have handed it over."""
    columns = (r.time_s, r.lat_deg, r.lon_deg, r.altitude_m, r.speed_mps, r.course_deg)
    return clean(RawFixes("gpx", *(c.copy() for c in columns), np.zeros(len(r), dtype=np.int64)))


def pieces(recording: Recording) -> list[Phases]:
    return [find_phases(build_track(recording.slice(*r))) for r in split_jumps(recording)]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", [61_001, 61_002, 61_003])
def test_no_ground_or_soaring_track_is_a_jump(kind: str, seed: int) -> None:
    for found in pieces(cleaned(no_jump_track(kind, seed))):
        assert found.kind == "no jump"
        assert found.reason
        assert "\n" not in found.reason
        assert not found.all("canopy")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", [61_011, 61_012, 61_013])
def test_spikes_of_kilometres_make_no_free_fall(kind: str, seed: int) -> None:
    for found in pieces(cleaned(with_spikes(no_jump_track(kind, seed), seed))):
        assert found.kind == "no jump"
        assert not found.all("free fall")


@pytest.mark.parametrize("kind", [k for k in JUMPS if k not in ("ride down", "low circuit")])
@pytest.mark.parametrize("seed", [61_021, 61_022, 61_023])
def test_no_kind_of_jump_is_lost(kind: str, seed: int) -> None:
    assert [p.kind for p in pieces(kind_jump(seed, kind).recording)].count("jump") == 1


@pytest.mark.skipif(not REAL.is_dir(), reason="no folder shared/real")
@pytest.mark.parametrize("path", sorted(REAL.glob("paraglider_glide_*.gpx.gz")) or [None])
def test_real_glides_are_no_jumps(path: Path | None) -> None:
    """Paragliders launched on foot (twpayne/go-igc test data, MIT)."""
    assert path is not None
    for found in pieces(read(str(path))):
        assert found.kind == "no jump"
        assert "no exit" in found.reason


def test_leaps_of_the_height() -> None:
    t, h = np.arange(6.0), np.array([0.0, 2.0, 900.0, 905.0, 845.0, 3.0])
    assert leaps(t, h).tolist() == [0.0, 898.0, 0.0, 0.0, -842.0]
    assert not leaps(np.array([0.0, 60.0]), np.array([3000.0, 0.0])).any()


def way_down(seconds: float, bend_deg: float, jolt_deg: float = 0.0) -> Signals:
    """From 1,000 s on 10 m/s over the ground and 5 m/s down, the direction bent evenly, with a sudden jolt in the middle."""
    t = 1000.0 + np.arange(0.0, seconds + 0.5, 1.0)
    deg = np.linspace(0.0, bend_deg, t.size) + np.where(t > 1000.0 + 0.5 * seconds, jolt_deg, 0.0)
    east, north = (np.cumsum(10.0 * f(np.radians(deg))) for f in (np.sin, np.cos))
    return make_signals(t, east, north, 900.0 - 5.0 * (t - 1000.0))


@pytest.mark.parametrize(
    ("seconds", "bend_deg", "jolt_deg", "why"),
    [
        (PHASES.rail_s + 2.0, 0.0, 0.0, "one straight line"),
        (PHASES.rail_s - 2.0, 0.0, 0.0, ""),
        (PHASES.never_s + 10.0, 90.0, 0.0, "no turn in 160 s"),
        (PHASES.never_s - 10.0, 90.0, 0.0, ""),
        (PHASES.never_s + 10.0, 90.0, PHASES.turns_deg + 15.0, ""),
    ],
)
def test_ropes_and_rails_are_told_by_how_long_they_never_turn(
    seconds: float, bend_deg: float, jolt_deg: float, why: str
) -> None:
    """A canopy keeps to a line for half a minute, never for long, and turns sharply now and then; the clock may begin anywhere (why_on_rails)."""
    s = way_down(seconds, bend_deg, jolt_deg)
    found = why_on_rails(s, 0, s.t.size)
    assert why in found
    assert bool(found) is bool(why)


def test_the_distance_from_the_line_that_a_tenth_of_the_fixes_exceed() -> None:
    """A line of 400 m to 30°, begun anywhere; of 41 fixes nine lie 7 m to its right, the others on it (_off_the_line)."""
    way = np.linspace(0.0, 400.0, 41)
    aside = np.where((np.arange(41) > 15) & (np.arange(41) < 25), 7.0, 0.0)
    north, east = np.cos(np.radians(30.0)), np.sin(np.radians(30.0))
    e, n = 500.0 + way * east + aside * north, -300.0 + way * north - aside * east
    s = make_signals(np.arange(41.0), e, n, 900.0 - 5.0 * np.arange(41.0))
    assert _off_the_line(s, 0, 41) == pytest.approx(7.0)
    assert _off_the_line(s, 0, 9) == float("inf")  # 80 m tell nothing


def test_the_sharpest_change_of_direction_within_ten_seconds() -> None:
    """Two degrees a second are 20° from five seconds to the five that end ten later; a corner counts as a whole; a stop has no direction (_sharpest_deg)."""
    slow, corner = way_down(60.0, 120.0), way_down(60.0, 0.0, 50.0)
    assert _sharpest_deg(slow, 0, slow.t.size) == pytest.approx(20.0, abs=0.01)
    assert _sharpest_deg(corner, 0, corner.t.size) == pytest.approx(50.0, abs=0.01)
    stops = replace(slow, e=slow.e[np.minimum(np.arange(61), 30)], n=slow.n[np.minimum(np.arange(61), 30)])
    assert _sharpest_deg(stops, 0, 61) == float("inf")
