"""Named receivers, each with one way of going wrong, and places where coordinates are awkward."""

from __future__ import annotations

from dataclasses import replace

from analyser.synthetic.receiver import Receiver

__all__ = ["PLACES", "RECEIVERS"]

PLAIN = Receiver(name="plain")
ONE_HZ = replace(PLAIN, rate_hz=1.0)

_ALL = (
    PLAIN,
    replace(PLAIN, name="10 Hz with speed", rate_hz=10.0, doppler=True),
    replace(ONE_HZ, name="1 Hz"),
    replace(PLAIN, name="jitter", interval_s=(0.743, 1.236)),
    replace(ONE_HZ, name="smart recording", smart=True),
    replace(ONE_HZ, name="static hold", hold_below_mps=1.5, doppler=True),
    replace(PLAIN, name="smoothing", smooth_s=1.2),
    replace(PLAIN, name="lagging", lag_s=1.0),
    replace(PLAIN, name="lossy", lost=0.1),
    replace(ONE_HZ, name="limit of 20 m/s down", most_down_mps=20.0, most_level_mps=30.0),
    replace(ONE_HZ, name="limit of 30 m/s down", most_down_mps=30.0, most_level_mps=60.0),
    replace(PLAIN, name="limit of 50 m/s down", most_down_mps=50.0),
    replace(PLAIN, name="gap before opening", gap_s=90.0),
    replace(PLAIN, name="leap back", clock_fault="leap back"),
    replace(PLAIN, name="stale fixes", clock_fault="stale"),
    replace(PLAIN, name="duplicated block", clock_fault="duplicates"),
    replace(PLAIN, name="12 hours ahead at first", clock_fault="12 h"),
    replace(PLAIN, name="12 hours ahead later", clock_fault="12 h later"),
    replace(PLAIN, name="week rollover", clock_fault="week rollover"),
    replace(PLAIN, name="height in feet", height_fault="feet"),
    replace(PLAIN, name="height zero", height_fault="zero"),
    replace(PLAIN, name="height constant", height_fault="constant"),
    replace(PLAIN, name="no height", height_fault="missing"),
    replace(PLAIN, name="pressure steps", baro_step_m=8.0, height_drift_m=0.5, height_white_m=0.2),
    replace(PLAIN, name="ground drift", ground_drift_m=18.0),
)
RECEIVERS: dict[str, Receiver] = {r.name: r for r in _ALL}

PLACES: dict[str, tuple[float, float]] = {
    "across the date line": (-16.5, 179.9999),
    "far north": (84.9, 20.0),
    "on the equator": (0.0001, -0.0001),
}
