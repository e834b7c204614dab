"""Kinds of jump and receivers: each shows what it is named after."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from worlds.receivers import PLACES, RECEIVERS

from analyser.synthetic.kinds import KINDS, day_of, kind_jump
from analyser.synthetic.receiver import Receiver
from analyser.synthetic.setup import draw_setup
from analyser.synthetic.truth import SyntheticJump

CLEAN = Receiver(
    name="clean",
    rate_hz=10.0,
    white_m=0.0,
    drift_m=0.0,
    height_white_m=0.0,
    height_drift_m=0.0,
    height_digits=4,
    digits=9,
)
ORDINARY = ["ground before", "climb", "free fall", "opening", "canopy", "ground after"]


def names(jump: SyntheticJump) -> list[str]:
    return [p.name for p in jump.truth.phases]


def down_mps(jump: SyntheticJump, phase: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """True rate of descent within the first phase of that name."""
    span = next(p for p in jump.truth.phases if p.name == phase)
    r = jump.recording
    inside = (r.time_s >= span.start_utc_s) & (r.time_s <= span.end_utc_s)
    return -np.gradient(r.altitude_m[inside], r.time_s[inside])


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_moves_smoothly(kind: str) -> None:
    """No step in height or place where the pieces of a recording meet: accelerations stay below 5 g but for the touchdown."""
    for seed in (0, 1):
        jump = kind_jump(seed, kind, receiver=CLEAN)
        r, touchdown = jump.recording, jump.truth.landing_utc_s or -1.0
        up = np.diff(np.diff(r.altitude_m)) / 0.01
        away = np.abs(r.time_s[1:-1] - touchdown) > 0.5
        assert np.abs(up[away]).max() < (90.0 if kind == "cutaway" else 50.0)
        steps = np.hypot(
            np.diff(r.lat_deg) * 111_000.0, np.diff(r.lon_deg) * 111_000.0 * np.cos(np.radians(r.lat_deg[0]))
        )
        assert steps.max() / 0.1 < 85.0


def test_phases_of_each_kind() -> None:
    for kind in ("ordinary", "hop-and-pop", "high opening", "wingsuit", "tandem", "other elevation"):
        assert names(kind_jump(2, kind)) == ORDINARY
    assert names(kind_jump(2, "static line")) == [n for n in ORDINARY if n != "free fall"]
    assert names(kind_jump(2, "cutaway")) == [*ORDINARY[:5], "free fall", "opening", "canopy", "ground after"]
    assert names(kind_jump(2, "ride down")) == ["ground before", "climb", "ground after"]
    assert names(kind_jump(2, "starts under canopy")) == ORDINARY[4:]
    assert names(kind_jump(2, "starts in free fall")) == ORDINARY[2:]
    assert names(kind_jump(2, "stops before landing")) == ORDINARY[:5]


def test_speeds_of_each_kind() -> None:
    """Trade numbers: belly 53.6 m/s; wingsuit 18 to 31 m/s down, 36 to 45 m/s forward; a ride down 5 to 13 m/s."""
    for seed in (1, 2):
        assert down_mps(kind_jump(seed, "ordinary", receiver=CLEAN), "free fall").max() == pytest.approx(
            55.0, abs=6.0
        )
        suit = kind_jump(seed, "wingsuit", receiver=CLEAN)
        down = down_mps(suit, "free fall")
        assert 16.0 < np.median(down) < 34.0
        assert down_mps(kind_jump(seed, "static line", receiver=CLEAN), "opening").max() < 25.0
        ride = kind_jump(seed, "ride down", receiver=CLEAN)
        falling = down_mps(ride, "climb")
        assert 5.0 < np.median(falling[falling > 2.0]) < 14.0
        assert down_mps(kind_jump(seed, "hop-and-pop", receiver=CLEAN), "free fall").max() < 50.0


def test_heights_of_openings() -> None:
    assert kind_jump(3, "high opening").truth.agl_m[0] > 2900.0
    assert 1400.0 < kind_jump(3, "tandem").truth.agl_m[0] < 1750.0
    assert kind_jump(3, "cutaway").truth.agl_m[0] < 850.0


def test_cut_recordings() -> None:
    late = kind_jump(4, "starts in free fall")
    assert late.truth.opening_utc_s is not None
    assert late.truth.landing_utc_s is not None
    under = kind_jump(4, "starts under canopy")
    assert under.truth.opening_utc_s is None
    assert under.recording.time_s[0] == pytest.approx(under.truth.t_utc_s[0], abs=1.1)
    early = kind_jump(4, "stops before landing")
    assert early.truth.landing_utc_s is None
    assert early.truth.landing_east_m is None
    assert early.truth.agl_m[-1] > 30.0
    assert len(early.fixes) == len(early.recording)


def test_cut_goes_by_the_true_time() -> None:
    """A receiver whose clock is wrong is cut at the same moment as one whose clock is right."""
    plain, rolled = (
        kind_jump(4, "starts under canopy", receiver=RECEIVERS[r]) for r in ("plain", "week rollover")
    )
    assert np.array_equal(plain.recording.lat_deg, rolled.recording.lat_deg)


def test_nobody_jumps() -> None:
    for kind in ("ride down", "low circuit"):
        jump = kind_jump(5, kind)
        assert jump.truth.landing_utc_s is None
        assert jump.truth.gates == ()
        assert jump.truth.to_json()["flight"]["utc_s"] == []


def test_other_elevation() -> None:
    jump = kind_jump(6, "other elevation", receiver=CLEAN)
    difference = jump.recording.altitude_m[0] - jump.recording.altitude_m[-1]
    assert difference == pytest.approx(jump.setup.takeoff_agl_m, abs=1.0)
    assert abs(difference) > 50.0


def test_a_day_holds_its_jumps_one_after_the_other() -> None:
    day = day_of((draw_setup(1), draw_setup(2), draw_setup(3)), "day", between_s=600.0)
    assert len(day.truths) == 3
    for before, after in zip(day.truths, day.truths[1:]):
        assert after.phases[0].start_utc_s - before.phases[-1].end_utc_s == pytest.approx(600.0, abs=0.2)
    recording = day.recording
    for truth in day.truths:
        assert truth.landing_utc_s is not None
        i = int(np.argmin(np.abs(recording.time_s - truth.landing_utc_s)))
        assert recording.lat_deg[i] == pytest.approx(truth.landing_lat, abs=2e-4)
        assert recording.lon_deg[i] == pytest.approx(truth.landing_lon, abs=3e-4)


def received(name: str, seed: int = 7) -> SyntheticJump:
    return kind_jump(seed, "ordinary", receiver=RECEIVERS[name])


def test_clock_faults() -> None:
    for name in ("leap back", "stale fixes", "duplicated block", "12 hours ahead at first"):
        jump = received(name)
        assert np.any(np.diff(jump.fixes.time_s) <= 0.0), name
        assert jump.fixes.faulty.any(), name
        assert len(jump.recording) == len(jump.fixes) - int(jump.fixes.faulty.sum())
    assert np.diff(received("12 hours ahead later").recording.time_s).max() == pytest.approx(
        43_200.0, abs=1.0
    )
    rolled, plain = received("week rollover").recording, received("plain").recording
    assert plain.time_s - rolled.time_s == pytest.approx(
        np.full(len(plain), 1024.0 * 7.0 * 86_400.0), abs=1e-3
    )


def test_height_faults() -> None:
    plain = received("plain").recording.altitude_m
    assert received("height in feet").recording.altitude_m == pytest.approx(plain / 0.3048, abs=0.25)
    assert not received("height zero").recording.altitude_m.any()
    assert np.ptp(received("height constant").recording.altitude_m) == 0.0
    assert np.isnan(received("no height").recording.altitude_m).all()
    drifted = received("ground drift").recording.altitude_m
    assert drifted[-1] - plain[-1] - (drifted[0] - plain[0]) == pytest.approx(18.0, abs=0.3)
    stepped = received("pressure steps").recording.altitude_m
    resting = slice(0, 200)
    assert np.std(stepped[resting]) < np.std(plain[resting])


def test_limits_lose_the_fall() -> None:
    jump = received("limit of 30 m/s down")
    fall = next(p for p in jump.truth.phases if p.name == "free fall")
    inside = (jump.recording.time_s > fall.start_utc_s + 6.0) & (jump.recording.time_s < fall.end_utc_s)
    assert not inside.any()
    slow = received("limit of 20 m/s down").recording
    assert np.diff(slow.time_s).max() > 600.0
    assert np.diff(received("gap before opening").recording.time_s).max() == pytest.approx(92.0, abs=4.0)


def test_static_hold_freezes_the_place() -> None:
    recording = received("static hold").recording
    resting = recording.time_s < recording.time_s[0] + 60.0
    assert len(set(recording.lat_deg[resting].tolist())) == 1
    assert not recording.speed_mps[resting].any()


def test_intervals() -> None:
    steps = np.diff(received("jitter").recording.time_s)
    assert (steps.min(), steps.max()) == pytest.approx((0.743, 1.236), abs=0.01)
    smart = np.diff(received("smart recording").recording.time_s)
    assert set(np.unique(smart)) <= {1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0}
    assert len(smart) < 900
    lossy = received("lossy").recording
    assert len(lossy) == pytest.approx(0.9 * len(received("plain").recording), rel=0.03)


def test_lag_and_smoothing() -> None:
    """A receiver that lags writes where it was; one that smooths cuts the corners of turns."""
    turning = replace(draw_setup(8), style="spirals")
    plain, lagging, smooth = (
        kind_jump(
            8,
            "ordinary",
            style="spirals",
            air=turning.air.still(),
            receiver=replace(CLEAN, lag_s=lag, smooth_s=s),
        )
        for lag, s in ((0.0, 0.0), (1.0, 0.0), (0.0, 1.2))
    )
    assert lagging.recording.lat_deg[2000:] == pytest.approx(plain.recording.lat_deg[1990:-10], abs=1e-8)
    speeds = [
        np.hypot(
            np.diff(j.recording.lat_deg) * 111_000.0,
            np.diff(j.recording.lon_deg) * 111_000.0 * np.cos(np.radians(j.recording.lat_deg[0])),
        )
        for j in (plain, smooth)
    ]
    canopy = (plain.recording.time_s[1:] > plain.truth.t_utc_s[0]) & (
        plain.recording.time_s[1:] < plain.truth.t_utc_s[-1]
    )
    assert speeds[1][canopy].sum() < speeds[0][canopy].sum()


def test_slow_error_changes_by_what_it_says() -> None:
    """The standard deviation of the change over a minute is ``drift_m``."""
    wander = replace(CLEAN, drift_m=2.0, rate_hz=1.0)
    changes = []
    for seed in range(12):
        a, b = (
            kind_jump(seed, "ordinary", receiver=r).recording for r in (wander, replace(CLEAN, rate_hz=1.0))
        )
        off = (a.lat_deg - b.lat_deg) * 111_200.0
        changes.append(off[60:] - off[:-60])
    assert np.std(np.concatenate(changes)) == pytest.approx(2.0, rel=0.25)


def test_awkward_places() -> None:
    line = kind_jump(
        5, "ordinary", lat_deg=PLACES["across the date line"][0], lon_deg=PLACES["across the date line"][1]
    )
    assert line.recording.lon_deg.max() > 179.99
    assert line.recording.lon_deg.min() < -179.99
    north = kind_jump(5, "ordinary", lat_deg=PLACES["far north"][0], lon_deg=PLACES["far north"][1])
    assert np.ptp(north.recording.lon_deg) > 0.2
