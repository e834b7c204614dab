"""Write down the truth of a jump from what was flown."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from analyser.synthetic.canopy import CanopyPath, Mark
from analyser.synthetic.earth import to_geodetic
from analyser.synthetic.setup import Setup
from analyser.synthetic.timeline import PhaseSpan
from analyser.synthetic.truth import Gate, PlanGate, Truth

__all__ = ["no_jump", "truth_of"]

PLAN_WIND_AGL_M = (0.0, 150.0, 300.0, 600.0, 1000.0)
KINDS = {
    ("crosswind", "downwind", "base", "final"): "box",
    ("downwind", "base", "final"): "three-leg",
    ("final",): "straight in",
    (): "straight in",
}
NOTHING: Any = np.zeros(0)
FLIGHT_ARRAYS = (
    "t_utc_s", "east_m", "north_m", "agl_m", "air_east", "air_north", "gust_east", "gust_north", "heading_deg", "bank_deg",
    "brake",
)  # fmt: skip


def flown_gates(
    path: CanopyPath, names: tuple[str, ...], shift: tuple[float, float], start_utc_s: float
) -> tuple[Gate, ...]:
    """The turns that the pilot marked, with mean heading and track from a second after the turn to the next mark."""
    rows = []
    for name in names:
        begin, end = path.mark(name), path.mark(f"{name} end")
        if begin is None or end is None:
            continue
        heading, track = _leg_direction(path, end)
        rows.append(
            Gate(
                name, begin.agl_m, start_utc_s + begin.t_s, begin.east_m + shift[0], begin.north_m + shift[1],
                end.agl_m, heading, track,
            )
        )  # fmt: skip
    return tuple(rows)


def _leg_direction(path: CanopyPath, end: Mark) -> tuple[float, float]:
    later = next((m.t_s for m in path.marks if m.t_s > end.t_s), float(path.t_s[-1]))
    i = int(np.searchsorted(path.t_s, min(end.t_s + 1.0, later - 0.5)))
    j = min(max(int(np.searchsorted(path.t_s, later)), i + 1), path.t_s.shape[0] - 1)
    i = min(i, j - 1)
    heading = math.atan2(float(np.sum(path.air_east[i:j])), float(np.sum(path.air_north[i:j])))
    track = math.atan2(float(path.east_m[j] - path.east_m[i]), float(path.north_m[j] - path.north_m[i]))
    return math.degrees(heading) % 360.0, math.degrees(track) % 360.0


def _last_track(path: CanopyPath) -> float:
    """Track over the ten seconds before the flare [deg true]."""
    flare = path.mark("flare")
    j = int(np.searchsorted(path.t_s, flare.t_s)) if flare else path.t_s.shape[0] - 1
    i = max(j - 100, 0)
    return (
        math.degrees(
            math.atan2(float(path.east_m[j] - path.east_m[i]), float(path.north_m[j] - path.north_m[i]))
        )
        % 360.0
    )


def truth_of(
    setup: Setup,
    path: CanopyPath,
    shift: tuple[float, float],
    spans: tuple[PhaseSpan, ...],
    names: tuple[str, ...],
    plan: tuple[PlanGate, ...],
) -> Truth:
    """The truth of a jump with a landing. ``spans`` in UTC; ``names`` of the legs that were flown; ``shift`` of the path to the target."""
    canopy = [s for s in spans if s.name == "canopy"][-1]
    east, north = path.east_m + shift[0], path.north_m + shift[1]
    lat, lon = to_geodetic(setup.lat_deg, setup.lon_deg, east[-1], north[-1])
    heights = np.arange(0.0, 6001.0, 10.0)
    lowest_so_far = np.minimum.accumulate(path.agl_m)
    wind = setup.air.mean(heights, np.interp(heights, lowest_so_far[::-1], path.t_s[::-1]))
    gates = flown_gates(path, names, shift, canopy.start_utc_s)
    return Truth(
        **_common(setup, spans),
        kind=KINDS.get(names, "other"),
        hand=("right" if setup.side > 0 else "left") if len(names) > 1 else None,
        landing_deg=gates[-1].track_deg if gates else _last_track(path),
        wind_agl_m=heights,
        wind_east=wind[0],
        wind_north=wind[1],
        t_utc_s=canopy.start_utc_s + path.t_s,
        east_m=east,
        north_m=north,
        agl_m=path.agl_m,
        air_east=path.air_east,
        air_north=path.air_north,
        gust_east=path.gust_east,
        gust_north=path.gust_north,
        heading_deg=path.heading_deg,
        bank_deg=path.bank_deg,
        brake=path.brake,
        gates=gates,
        plan=plan,
        plan_landing_deg=setup.landing_deg,
        opening_utc_s=canopy.start_utc_s,
        landing_utc_s=canopy.end_utc_s,
        landing_lat=float(lat),
        landing_lon=float(lon),
        landing_east_m=float(east[-1]),
        landing_north_m=float(north[-1]),
    )


def no_jump(setup: Setup, spans: tuple[PhaseSpan, ...]) -> Truth:
    """The truth of a recording in which nobody jumped."""
    heights = np.arange(0.0, 6001.0, 10.0)
    wind = setup.air.mean(heights)
    return Truth(
        **_common(setup, spans),
        kind="other",
        hand=None,
        landing_deg=None,
        wind_agl_m=heights,
        wind_east=wind[0],
        wind_north=wind[1],
        **dict.fromkeys(FLIGHT_ARRAYS, NOTHING),
        gates=(),
        plan=(),
        plan_landing_deg=None,
        opening_utc_s=None,
        landing_utc_s=None,
        landing_lat=None,
        landing_lon=None,
        landing_east_m=None,
        landing_north_m=None,
    )  # fmt: skip


def _common(setup: Setup, spans: tuple[PhaseSpan, ...]) -> dict[str, Any]:
    winds = zip(PLAN_WIND_AGL_M, *setup.assumed.mean(np.array(PLAN_WIND_AGL_M)))
    return {
        "seed": setup.seed,
        "style": setup.style,
        "target_lat": setup.lat_deg,
        "target_lon": setup.lon_deg,
        "ground_elevation_m": setup.elevation_m,
        "airspeed_mps": setup.canopy.airspeed_mps,
        "sink_mps": setup.canopy.sink_mps,
        "phases": spans,
        "plan_wind": tuple((h, float(e), float(n)) for h, e, n in winds),
        "errors": setup.errors,
        "jump": setup.jump,
        "receiver": setup.receiver.name,
    }
