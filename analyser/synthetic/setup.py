"""Setup: everything that makes one made-up jump, and its draw for the ensemble of record."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analyser.synthetic.air import Air, power_law_air
from analyser.synthetic.canopy import CanopyModel
from analyser.synthetic.holding import HOLDING_STYLES
from analyser.synthetic.pilot import Habits
from analyser.synthetic.receiver import Receiver
from analyser.units import FOOT_M

__all__ = ["LEGS", "NOMINAL_FT", "Setup", "draw_receiver", "draw_setup", "into_wind_deg", "ordered_heights"]

LEGS = ("crosswind", "downwind", "base", "final")
NOMINAL_FT = (1150.0, 900.0, 600.0, 320.0)
FIRST_DAY_UTC_S = 1_767_225_600.0  # 2026-01-01


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """Everything that makes one jump; drawn by :func:`draw_setup`, any field may be replaced.

    ``assumed`` the air the pilot plans with; ``jump`` the kind of jump; ``landing_deg`` direction of the last leg; ``side``
    +1 right-hand, −1 left-hand pattern; ``planned_m``, ``flown_m`` heights of the gates in the order of ``legs``;
    ``heading_errors_deg`` per leg; ``entry_error_m`` (east, north) at the first gate; ``approach_deg`` heading before the
    first gate (None: drawn), ``approach_side`` the side of the turn onto it; ``start_utc_s`` the beginning of the
    recording; ``takeoff_agl_m`` height of the take-off field above the landing area; ``check`` a control
    check after opening; ``sees_drift`` share of the misread wind that the pilot
    notices and crabs for (0: flies the planned headings, 1: the planned tracks); ``open_heading_deg`` heading out of the opening (None: drawn).
    """

    seed: int
    lat_deg: float
    lon_deg: float
    elevation_m: float
    start_utc_s: float
    air: Air
    assumed: Air
    canopy: CanopyModel
    habits: Habits
    style: str
    open_agl_m: float
    exit_agl_m: float
    landing_deg: float
    side: int
    legs: tuple[str, ...]
    planned_m: tuple[float, ...]
    flown_m: tuple[float, ...]
    heading_errors_deg: tuple[float, ...]
    turn_bank_deg: float
    entry_error_m: tuple[float, float]
    receiver: Receiver
    jump: str = "ordinary"
    approach_deg: float | None = None
    approach_side: int = 0
    terminal_mps: float = 53.0
    climb_s: float = 780.0
    wait_s: float = 90.0
    after_s: float = 120.0
    takeoff_agl_m: float = 0.0
    hangar_m: tuple[float, float] = (150.0, -80.0)
    runway_deg: float = 60.0
    errors: tuple[str, ...] = ()
    check: bool = True
    sees_drift: float = 0.0
    open_heading_deg: float | None = None


def into_wind_deg(air: Air, agl_m: float) -> float:
    """The heading straight into the mean wind at a height [deg true]."""
    east, north = air.mean(agl_m)
    return math.degrees(math.atan2(-float(east), -float(north))) % 360.0


def ordered_heights(
    feet: list[float], lowest_ft: float = 150.0, apart_ft: float = 130.0
) -> tuple[float, ...]:
    """Gate heights [m] from feet, far enough apart that every leg is flown."""
    heights = [max(feet[-1], lowest_ft)]
    for value in reversed(feet[:-1]):
        heights.append(max(value, heights[-1] + apart_ft))
    return tuple(h * FOOT_M for h in reversed(heights))


def draw_setup(seed: int) -> Setup:
    """One jump of the ensemble of record; every group of draws has its own stream, so replacing one leaves the others."""
    place, wind, who, device = (np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(4))
    air = _draw_air(wind)
    canopy = _draw_canopy(who)
    spread = float(who.uniform(35.0, 70.0))
    flown = ordered_heights([ft + spread * float(who.standard_normal()) for ft in NOMINAL_FT])
    misread = who.normal(0.0, 0.6, 2)
    return Setup(
        seed=seed,
        lat_deg=float(place.uniform(-60.0, 60.0)),
        lon_deg=float(place.uniform(-179.0, 179.0)),
        elevation_m=float(place.uniform(0.0, 1400.0)),
        start_utc_s=FIRST_DAY_UTC_S
        + 86400.0 * int(place.integers(60, 300))
        + int(place.integers(28800, 64800)),
        air=air,
        assumed=Air(air.agl_m, air.east + misread[0], air.north + misread[1], 0.0, 0.0),
        canopy=canopy,
        habits=Habits(),
        style=HOLDING_STYLES[int(who.integers(len(HOLDING_STYLES)))],
        open_agl_m=float(place.uniform(900.0, 1500.0)),
        exit_agl_m=float(place.uniform(3600.0, 4200.0)),
        landing_deg=(into_wind_deg(air, 30.0) + float(who.normal(0.0, 12.0))) % 360.0,
        side=1 if who.random() < 0.35 else -1,
        legs=LEGS,
        planned_m=tuple(ft * FOOT_M for ft in NOMINAL_FT),
        flown_m=flown,
        heading_errors_deg=tuple(who.normal(0.0, 4.0, 4).tolist()),
        turn_bank_deg=canopy.bank_deg * float(who.uniform(0.7, 1.0)),
        entry_error_m=(float(who.normal(0.0, 30.0)), float(who.normal(0.0, 30.0))),
        receiver=draw_receiver(device),
        terminal_mps=float(place.normal(53.0, 2.0)),
        hangar_m=(float(place.uniform(60.0, 200.0)), float(place.uniform(-150.0, 150.0))),
        runway_deg=float(place.uniform(0.0, 360.0)),
    )


def _draw_air(rng: np.random.Generator) -> Air:
    return power_law_air(
        rng,
        u10_mps=float(rng.uniform(0.5, 8.0)),
        factor=float(rng.uniform(1.1, 2.2)),
        extra_mps=float(rng.uniform(0.0, 2.0)),
        from_deg=float(rng.uniform(0.0, 360.0)),
        veer_deg=float(rng.uniform(-10.0, 35.0)),
        wiggle_mps=float(rng.uniform(0.3, 0.4)),
        gust_intensity=float(rng.uniform(0.05, 0.18)),
    )


def _draw_canopy(rng: np.random.Generator) -> CanopyModel:
    speed, glide = float(rng.uniform(8.5, 14.0)), float(rng.uniform(2.3, 3.1))
    return CanopyModel(
        airspeed_mps=speed,
        sink_mps=speed / glide,
        brake_loss=float(rng.uniform(0.35, 0.5)),
        half_brake_sink=float(rng.uniform(0.22, 0.28)),
        bank_deg=float(rng.uniform(22.0, 45.0)),
        period_s=float(rng.normal(4.5, 0.3)),
        damping=float(rng.normal(0.6, 0.05)),
    )


def draw_receiver(rng: np.random.Generator) -> Receiver:
    """A receiver of the ensemble of record."""
    rate = float(rng.choice([1.0, 2.0, 5.0, 10.0], p=[0.4, 0.2, 0.2, 0.2]))
    drift = float(rng.uniform(0.5, 2.5))
    return Receiver(
        rate_hz=rate,
        white_m=float(rng.uniform(0.05, 0.35)),
        drift_m=drift,
        height_white_m=float(rng.uniform(0.2, 0.8)),
        height_drift_m=1.5 * drift,
        height_offset_m=float(rng.normal(0.0, 4.0)),
        smooth_s=0.6 if rng.random() < 1.0 / 3.0 else 0.0,
        lost=0.02 if rng.random() < 1.0 / 3.0 else 0.0,
        height_digits=int(rng.integers(1, 3)),
    )
