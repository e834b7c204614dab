"""The demo tracks: named, invented jumps with their truth and plan, the same bytes at every call."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from analyser.errors import OutputError
from analyser.synthetic.air import Air, power_law_air
from analyser.synthetic.demo import WINGS, DemoPlan, demo_setup, forecast, plan_toml, site_toml
from analyser.synthetic.descent import exit_height
from analyser.synthetic.kinds import SyntheticDay, day_of
from analyser.synthetic.receiver import Receiver
from analyser.synthetic.scenario import Tweak, build
from analyser.synthetic.setup import Setup
from analyser.synthetic.truth import SyntheticJump
from analyser.synthetic.write import fit_bytes, gpx_bytes, truth_bytes
from analyser.units import KNOT_MPS
from analyser.writing import write_bytes

__all__ = ["SITE_FILE", "sample_names", "write_sample", "write_samples"]

SITE_FILE = "quillmere.toml"
FIXED_SITE_FILE = "quillmere_fixed.toml"
DAY_UTC_S = 1_781_395_200.0  # 2026-06-14
BOX = {"crosswind": 1200.0, "downwind": 1000.0, "base": 600.0, "final": 300.0}
THREE = {"downwind": 1000.0, "base": 600.0, "final": 300.0}

Track = SyntheticJump | SyntheticDay


@dataclass(frozen=True, slots=True)
class _Sample:
    text: str
    suffix: str
    make: Callable[[], tuple[Track, DemoPlan]]
    barometer: bool = False


def sample_names() -> dict[str, str]:
    """Name of every sample and what it shows, in one line."""
    return {name: sample.text for name, sample in _SAMPLES.items()}


def write_sample(name: str, folder: Path, plans: Path | None = None, *, over: bool = False) -> list[Path]:
    """Write NAME.gpx or NAME.fit and NAME.truth.json into ``folder``, NAME.toml into ``plans`` (default: the same folder).

    Raises ``KeyError`` for a name that is none; OutputError, before anything is written, where another file has one of these
    names, unless ``over``.
    """
    sample = _SAMPLES[name]
    track, plan = sample.make()
    data = (
        gpx_bytes(track.fixes, name=name)
        if sample.suffix == ".gpx"
        else fit_bytes(track.fixes, barometer=sample.barometer)
    )
    files = {
        folder / f"{name}{sample.suffix}": data,
        folder / f"{name}.truth.json": truth_bytes(_truth(track)),
        (plans or folder) / f"{name}.toml": plan_toml(plan),
    }
    if not over:
        for path, new in files.items():
            if path.is_file() and path.read_bytes() != new:
                raise OutputError(
                    "is there already, and is another file", "name another folder with --out", str(path)
                )
    return [write_bytes(path, new) for path, new in files.items()]


def write_samples(folder: Path, plans: Path) -> list[Path]:
    """Write every sample, and the plan files of the invented field (with free and with fixed landing directions)."""
    written = [path for name in _SAMPLES for path in write_sample(name, folder, plans, over=True)]
    free = write_bytes(plans / SITE_FILE, site_toml())
    return [*written, free, write_bytes(plans / FIXED_SITE_FILE, site_toml(fixed=True))]


def _truth(track: Track) -> dict[str, Any]:
    if isinstance(track, SyntheticJump):
        return track.truth.to_json()
    return {"schema": "crabline.truth/1", "jumps": [t.to_json() for t in track.truths]}


def _air(
    seed: int,
    knots_10m: float,
    from_deg: float,
    *,
    veer_deg: float = 15.0,
    factor: float = 1.7,
    gusts: float = 0.1,
) -> Air:
    return power_law_air(
        np.random.default_rng(seed), u10_mps=knots_10m * KNOT_MPS, factor=factor, extra_mps=0.5, from_deg=from_deg,
        veer_deg=veer_deg, wiggle_mps=0.3, gust_intensity=gusts,
    )  # fmt: skip


def _at(setup: Setup, clock: str, receiver: Receiver, **fields: Any) -> Setup:
    """On the demo day at HH:MM UTC, with a receiver."""
    hours, minutes = clock.split(":")
    return replace(
        setup, start_utc_s=DAY_UTC_S + 3600.0 * int(hours) + 60.0 * int(minutes), receiver=receiver, **fields
    )


FIVE_HZ = Receiver(
    name="5 Hz", rate_hz=5.0, white_m=0.12, drift_m=0.9, height_drift_m=1.3, height_offset_m=2.0
)
ONE_HZ = Receiver(
    name="1 Hz", rate_hz=1.0, white_m=0.2, drift_m=1.2, height_drift_m=1.8, height_offset_m=-3.0
)
TEN_HZ = replace(FIVE_HZ, name="10 Hz with speed", rate_hz=10.0, doppler=True)
WATCH = replace(ONE_HZ, name="watch", white_m=0.3, drift_m=1.8, smooth_s=0.6, doppler=True)


def _first_light() -> tuple[Track, DemoPlan]:
    air = _air(11, 2.5, 315.0, veer_deg=25.0, factor=2.0)
    plan = DemoPlan("Ilka Norn", WINGS["Curlew 260"], "left", 300.0, BOX, forecast(air))
    setup = demo_setup(1101, plan, air, height_error_ft=(20.0, -15.0, 10.0, 25.0), entry_error_m=(6.0, -9.0))
    return build(_at(setup, "12:10", FIVE_HZ, style="figures of eight", open_agl_m=1250.0)), plan


def _steady_breeze() -> tuple[Track, DemoPlan]:
    air = _air(12, 9.0, 125.0)
    plan = DemoPlan(
        "Tobin Reyle", WINGS["Heron 210"], "right", 125.0, THREE, forecast(air, np.random.default_rng(3), 0.6)
    )
    setup = demo_setup(1202, plan, air, height_error_ft=(30.0, 25.0, -20.0), entry_error_m=(-20.0, 14.0))
    return build(_at(setup, "15:40", WATCH, style="crabbing", open_agl_m=1020.0)), plan


def _strong_wind() -> tuple[Track, DemoPlan]:
    """The forecast had three quarters of the wind that blew."""
    air = _air(13, 13.0, 290.0, gusts=0.15)
    plan = DemoPlan("Sefa Lundin", WINGS["Plover 170"], "left", 290.0, BOX, forecast(air, factor=0.75))
    setup = demo_setup(1303, plan, air, height_error_ft=(10.0, 0.0, -20.0, 10.0), entry_error_m=(10.0, 5.0))
    return build(_at(setup, "18:05", ONE_HZ, style="wind checks", open_agl_m=1100.0)), plan


def _veering() -> tuple[Track, DemoPlan]:
    air = _air(14, 6.0, 270.0, veer_deg=70.0, factor=1.9)
    plan = DemoPlan(
        "Ilka Norn", WINGS["Curlew 260"], "left", 275.0, BOX, forecast(air, np.random.default_rng(5), 0.4)
    )
    setup = demo_setup(
        1404, plan, air, height_error_ft=(-20.0, 15.0, 20.0, -10.0), entry_error_m=(15.0, 20.0)
    )
    return build(_at(setup, "14:20", TEN_HZ, style="spirals", open_agl_m=1400.0)), plan


def _long_spot() -> tuple[Track, DemoPlan]:
    """Opened far downwind of the field: into the wind all the way, and short of the target."""
    air = _air(15, 8.0, 300.0)
    plan = DemoPlan(
        "Tobin Reyle", WINGS["Heron 210"], "left", 300.0, THREE, forecast(air, np.random.default_rng(6), 0.5)
    )
    setup = demo_setup(
        1505,
        replace_heights(plan, {"final": 1050.0}),
        air,
        height_error_ft=(40.0,),
        entry_error_m=(90.0, -65.0),
    )
    setup = _at(setup, "16:30", FIVE_HZ, style="into wind", open_agl_m=1000.0, approach_deg=255.0)
    return build(replace(setup, habits=replace(setup.habits, final_brake_share=0.0))), plan


def replace_heights(plan: DemoPlan, heights_ft: dict[str, float]) -> DemoPlan:
    """The same plan with other gates."""
    return plan._replace(heights_ft=heights_ft)


def _late_final() -> tuple[Track, DemoPlan]:
    """All as planned, but the turn onto final comes 90 ft late."""
    air = _air(16, 4.0, 120.0)
    plan = DemoPlan("Sefa Lundin", WINGS["Plover 170"], "right", 120.0, BOX, forecast(air))
    setup = demo_setup(1606, plan, air, height_error_ft=(0.0, 5.0, 0.0, -90.0), entry_error_m=(3.0, -4.0))
    return build(_at(setup, "13:15", FIVE_HZ, style="figures of eight", open_agl_m=1150.0)), plan


def _two_jumps() -> tuple[Track, DemoPlan]:
    """Morning and noon in one recording; by noon the wind has risen and the plan of the morning no longer fits."""
    morning, noon = _air(17, 4.0, 285.0), _air(18, 9.0, 300.0)
    plan = DemoPlan(
        "Ilka Norn",
        WINGS["Curlew 260"],
        "left",
        290.0,
        THREE,
        forecast(morning, np.random.default_rng(8), 0.3),
    )
    first = demo_setup(1707, plan, morning, height_error_ft=(20.0, -30.0, 15.0), entry_error_m=(-12.0, 8.0))
    second = demo_setup(1708, plan, noon, height_error_ft=(-10.0, 20.0, -15.0), entry_error_m=(18.0, 6.0))
    first = _at(first, "15:05", ONE_HZ, style="crabbing", open_agl_m=1250.0)
    second = _at(second, "16:20", ONE_HZ, style="wind checks", open_agl_m=1200.0)
    return day_of((first, second), "two jumps", between_s=2400.0), plan


def _hop_and_pop() -> tuple[Track, DemoPlan]:
    air = _air(19, 7.0, 310.0)
    plan = DemoPlan(
        "Sefa Lundin", WINGS["Plover 170"], "left", 305.0, BOX, forecast(air, np.random.default_rng(9), 0.5)
    )
    setup = demo_setup(
        1909, plan, air, height_error_ft=(15.0, 25.0, -10.0, 20.0), entry_error_m=(14.0, -22.0)
    )
    top = exit_height(1350.0, 4.5, open_sink_mps=plan.wing.sink_mps + 1.0)
    setup = _at(
        setup, "17:30", FIVE_HZ, jump="hop-and-pop", style="spirals", open_agl_m=1350.0, exit_agl_m=top
    )
    return build(replace(setup, climb_s=330.0)), plan


def _wingsuit() -> tuple[Track, DemoPlan]:
    air = _air(20, 6.0, 280.0, factor=2.1)
    plan = DemoPlan(
        "Tobin Reyle", WINGS["Heron 210"], "left", 285.0, THREE, forecast(air, np.random.default_rng(10), 0.4)
    )
    setup = demo_setup(2010, plan, air, height_error_ft=(-25.0, 20.0, 15.0), entry_error_m=(-16.0, -10.0))
    return build(_at(setup, "19:10", ONE_HZ, jump="wingsuit", style="crabbing", open_agl_m=1150.0)), plan


def _s_turns() -> tuple[Track, DemoPlan]:
    """Base turned high in a wind lighter than forecast: too high on final, worked off by S-turns."""
    air = _air(21, 6.0, 110.0)
    plan = DemoPlan("Ilka Norn", WINGS["Curlew 260"], "right", 115.0, THREE, forecast(air, factor=1.35))
    setup = demo_setup(2111, plan, air, height_error_ft=(0.0, 40.0, 70.0), entry_error_m=(8.0, 2.0))
    weaving: Tweak = lambda legs: (*legs[:-1], replace(legs[-1], weave_deg=55.0, weaves=3))  # noqa: E731
    return build(_at(setup, "20:45", WATCH, style="figures of eight", open_agl_m=1100.0), weaving), plan


_SAMPLES: dict[str, _Sample] = {
    "first_light": _Sample("calm morning, left-hand box, 5 Hz GPX", ".gpx", _first_light),
    "steady_breeze": _Sample("right-hand pattern of three legs in a steady breeze, 1 Hz watch, FIT", ".fit", _steady_breeze, True),
    "strong_wind": _Sample("strong wind, forecast a quarter too low, left-hand box, 1 Hz GPX", ".gpx", _strong_wind),
    "veering": _Sample("wind turns by 70 degrees from the ground to the opening, 10 Hz FIT with speed", ".fit", _veering),
    "long_spot": _Sample("opened far downwind, straight in and short, 5 Hz GPX", ".gpx", _long_spot),
    "late_final": _Sample("all as planned but the turn onto final, 90 ft late, right-hand box, 5 Hz GPX", ".gpx", _late_final),
    "two_jumps": _Sample("a day with two jumps in one file, the wind rises between them, 1 Hz GPX", ".gpx", _two_jumps),
    "hop_and_pop": _Sample("exit at 5,000 ft and a few seconds of fall, left-hand box, 5 Hz FIT", ".fit", _hop_and_pop),
    "wingsuit": _Sample("wingsuit flight, then three legs left-hand, 1 Hz GPX", ".gpx", _wingsuit),
    "s_turns": _Sample("too high on final, S-turns, right-hand, 1 Hz watch, FIT", ".fit", _s_turns, True),
}  # fmt: skip
