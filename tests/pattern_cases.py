"""Made-up patterns for the tests of plan, replay and findings: the flight of a pilot with known errors, by the forward model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyser.angles import rotate
from analyser.flight import Air, Order, Start, Trim, fly
from analyser.frame import LocalFrame
from analyser.pattern import Gate, Pattern, to_landing_frame
from analyser.plan import orders_of, pattern_of, plan_pattern
from analyser.score import Landing
from analyser.settings import PatternSetup
from analyser.track import Quality, Track
from analyser.wind.profile import WindProfile

TRIM = Trim(10.0, 4.0, airspeed_sd_mps=0.2, sink_sd_mps=0.1)
FRAME = LocalFrame(47.3, 11.9)


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """A plan, how it was flown, and where that ended."""

    plan: Pattern
    flown: Pattern
    landing: Landing
    trim: Trim
    wind: WindProfile
    assumed: WindProfile


def uniform(speed: float, from_deg: float, sd: float = 0.0, top: float = 600.0) -> WindProfile:
    """The same wind at every height."""
    return WindProfile.from_points([(0.0, speed, from_deg), (top, speed, from_deg)], sd_mps=sd)


def sheared(low: float, high: float, from_deg: float, veer: float = 0.0, sd: float = 0.0) -> WindProfile:
    """Linear in height from the ground to 600 m."""
    rows = [
        (h, low + (high - low) * h / 600.0, from_deg + veer * h / 600.0) for h in np.arange(0.0, 601.0, 50.0)
    ]
    return WindProfile.from_points(rows, sd_mps=sd)


def landing_at(east: float, north: float, landing_deg: float, sd: float = 2.5, t_s: float = 0.0) -> Landing:
    """A touchdown with the target at the origin."""
    along, across = to_landing_frame(east, north, landing_deg)
    return Landing(
        t_s,
        east,
        north,
        0.0,
        0.0,
        None,
        None,
        offset_m=float(np.hypot(east, north)),
        offset_sd_m=sd,
        along_m=along,
        across_m=across,
        bearing_deg=0.0,
        landing_deg=landing_deg,
        landing_deg_from="final track",
    )


def fly_case(
    wind: WindProfile,
    assumed: WindProfile | None = None,
    *,
    landing_deg: float = 0.0,
    hand: str = "left",
    setup: PatternSetup | None = None,
    trim: Trim = TRIM,
    entry_error: tuple[float, float] = (0.0, 0.0),
    final_m: float = 0.0,
    base_m: float = 0.0,
    final_trim: Trim | None = None,
) -> Case:
    """Fly the plan for ``assumed`` in ``wind`` with errors: entry place (east, north), heights of the turns onto base and final."""
    setup = setup or PatternSetup()
    assumed = wind if assumed is None else assumed
    plan = plan_pattern(setup, trim, assumed, hand=hand, landing_deg=landing_deg)
    orders = [
        o._replace(turn_agl_m=o.turn_agl_m + {"base": base_m, "final": final_m}.get(o.name, 0.0))
        for o in orders_of(setup, hand, landing_deg)
    ]
    first = plan.gates[0]
    start = Start(first.east_m + entry_error[0], first.north_m + entry_error[1], first.agl_m)
    flight = fly(Air.still(trim, wind), start, orders)
    end = flight.landing
    if final_trim is not None:
        last = flight.legs[-1].turned
        slow = fly(
            Air.still(final_trim, wind),
            Start(last.east_m, last.north_m, last.agl_m),
            [Order("final", float(last.agl_m[0]), landing_deg)],
        )
        end = slow.landing
    flown = pattern_of(flight, hand, landing_deg, bank_deg=trim.bank_deg)
    landing = landing_at(float(end.east_m[0]), float(end.north_m[0]), landing_deg, t_s=float(end.t_s[0]))
    return Case(plan, flown, landing, trim, wind, assumed)


def turned_gate(gate: Gate, deg: float, mirror: bool = False) -> Gate:
    """The gate in a world turned clockwise by ``deg``, or mirrored east-west."""
    if mirror:
        return replace(
            gate,
            east_m=-gate.east_m,
            heading_deg=(-gate.heading_deg) % 360.0,
            track_deg=(-gate.track_deg) % 360.0,
        )
    east, north = rotate(gate.east_m, gate.north_m, deg)
    return replace(
        gate,
        east_m=float(east),
        north_m=float(north),
        heading_deg=(gate.heading_deg + deg) % 360.0,
        track_deg=(gate.track_deg + deg) % 360.0,
    )


def track_of(
    path: Sequence[tuple[float, float, float, float]],
    *,
    step_s: float = 0.5,
    after_s: float = 20.0,
    **changes: object,
) -> Track:
    """A faultless track along (t, east, north, agl) nodes, then standing still."""
    rows = np.asarray(path, dtype=np.float64)
    t = np.arange(rows[0, 0], rows[-1, 0] + after_s, step_s)
    east, north, agl = (np.interp(t, rows[:, 0], rows[:, i]) for i in (1, 2, 3))
    fields: dict[str, object] = {
        "t_s": t,
        "east_m": east,
        "north_m": north,
        "agl_m": agl,
        "v_east": np.gradient(east, t),
        "v_north": np.gradient(north, t),
        "v_up": np.gradient(agl, t),
        "start_utc_s": 0.0,
        "frame": FRAME,
        "ground_elevation_m": 0.0,
        "ground_elevation_sd_m": 1.0,
        "agl_sd_m": 1.0,
        "position_sd_m": 2.5,
        "velocity_sd": 0.1,
        "velocity_source": "position",
        "quality": Quality("good", "barometric", (), (), 1.0 / step_s),
    }
    return Track(**{**fields, **changes})  # type: ignore[arg-type]
