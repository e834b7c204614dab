"""The receivers of the families: what each error does, and nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from worlds.families.craft import DT_S
from worlds.families.day import Day
from worlds.families.devices import Device, Path, draw_device, record, tracked

CLEAN = Device(white_m=0.0, slow_m=0.0, slow_up_m=0.0)
LAT, LON = 47.0, 11.0


def path(seconds: float = 120.0, day: Day | None = None) -> Path:
    """Ten m/s to the east, sinking with 4 m/s from 480 m."""
    t = np.arange(0.0, seconds, DT_S)
    return Path(
        1e9, 10.0 * t, np.zeros_like(t), 480.0 - 4.0 * t, LAT, LON, Day(300.0) if day is None else day
    )


def east_of(recording, i: int) -> float:  # type: ignore[no-untyped-def]
    line = Geodesic.WGS84.Inverse(LAT, LON, float(recording.lat_deg[i]), float(recording.lon_deg[i]))
    return float(line["s12"])


def test_a_clean_device_writes_the_path() -> None:
    made = record(np.random.default_rng(0), CLEAN, path(), "clean")
    assert east_of(made, 250) == pytest.approx(500.0, abs=0.05)
    assert made.time_s[250] == pytest.approx(1e9 + 50.0)
    assert made.altitude_m[250] == pytest.approx(300.0 + 280.0, abs=0.05)


def test_latency_stamps_the_past() -> None:
    late = Device(white_m=0.0, slow_m=0.0, slow_up_m=0.0, latency_s=0.8)
    assert east_of(record(np.random.default_rng(0), late, path(), "late"), 250) == pytest.approx(
        492.0, abs=0.05
    )


@pytest.mark.parametrize("decimals", [5, 6])
def test_rounded_degrees(decimals: int) -> None:
    coarse = Device(white_m=0.0, slow_m=0.0, slow_up_m=0.0, decimals=decimals)
    made = record(np.random.default_rng(0), coarse, path(), "coarse")
    steps = made.lon_deg * 10.0**decimals
    assert steps == pytest.approx(np.round(steps), abs=1e-4)
    assert np.ptp(np.diff(made.lon_deg)) >= 0.9 * 10.0**-decimals


def test_a_tracker_follows_steady_motion_and_overshoots_a_change() -> None:
    """An α–β tracker has no error in steady motion; after a jump of the speed it runs on, past the truth."""
    t = np.arange(0.0, 60.0, DT_S)
    steady = tracked(50.0 * t, 0.8)
    assert steady[-1] == pytest.approx(50.0 * t[-1], abs=1e-3)
    stopped = 50.0 * np.minimum(t, 30.0)
    beyond = tracked(stopped, 0.8) - stopped
    assert 5.0 < beyond.max() < 40.0
    assert abs(beyond[-1]) < 0.05


def test_bursts_pull_aside_and_end() -> None:
    burst = Device(white_m=0.0, slow_m=0.0, slow_up_m=0.0, bursts=1, burst_m=8.0)
    made, clean = (record(np.random.default_rng(4), d, path(), "burst") for d in (burst, CLEAN))
    off = np.array([abs(a - b) for a, b in zip(made.lat_deg, clean.lat_deg)]) * 111_000.0
    far = off > 0.05
    assert 0.5 < off.max() <= 8.0
    assert 2.0 < np.ptp(made.time_s[far]) <= 20.0


def test_a_barometer_reads_the_standard_atmosphere_and_drifts() -> None:
    warm = path(day=Day(300.0, warmer_k=15.0))
    plain = Device(white_m=0.0, slow_m=0.0, barometer=True, baro_drift_m=0.0)
    made = record(np.random.default_rng(0), plain, warm, "baro")
    assert made.altitude_source == "barometric"
    told = made.altitude_m - 300.0
    assert np.mean(told[:100]) == pytest.approx(
        float(np.mean(warm.day.told_by_barometer(480.0 - 4.0 * np.arange(100) / 5.0))), abs=0.15
    )
    assert told[0] < 0.97 * 480.0
    adrift = Device(white_m=0.0, slow_m=0.0, barometer=True, baro_drift_m=3.0)
    moved = record(np.random.default_rng(0), adrift, warm, "baro").altitude_m - made.altitude_m
    assert np.abs(moved).max() > 0.5
    assert np.abs(np.diff(moved)).max() < 3.0


def test_devices_differ() -> None:
    drawn = [draw_device(np.random.default_rng(s)) for s in range(300)]
    assert {d.rate_hz for d in drawn} == {1.0, 2.0, 4.0, 5.0, 10.0}
    assert {d.decimals for d in drawn} == {5, 6, 7}
    assert 0.2 < np.mean([d.latency_s > 0.5 for d in drawn]) < 0.7
    assert max(d.latency_s for d in drawn) <= 1.2
    for flag in ("tracker_s", "bursts", "barometer", "doppler"):
        assert 0.1 < np.mean([bool(getattr(d, flag)) for d in drawn]) < 0.6
