"""The truth of a flown jump, put into its form."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analyser.synthetic.earth import to_geodetic

from .craft import DT_S
from .devices import Device, Path
from .jump import WorldGate, WorldPhase, WorldTruth
from .pilots import wrap

if TYPE_CHECKING:
    from .make import Flown

__all__ = ["crossed_wind", "tell"]

Vector = NDArray[np.float64]

KINDS = {
    ("crosswind", "downwind", "base", "final"): "box",
    ("downwind", "base", "final"): "three-leg",
}
HALF_M = 12.5


def crossed_wind(flown: Flown) -> tuple[Vector, Vector, Vector]:
    """Heights, and the mean wind there with its change in time averaged over the moments within 12.5 m of the height."""
    t, agl = flown.rows[:, 0], flown.rows[:, 3]
    top = float(agl[0])
    heights = np.concatenate([np.arange(0.0, 100.0, 5.0), np.arange(100.0, top + 10.0, 10.0)])
    sky = flown.craft.sky
    added = np.stack(sky.change.at(t))
    order = np.argsort(agl)
    sorted_agl, sums = (
        agl[order],
        np.concatenate([np.zeros((2, 1)), np.cumsum(added[:, order], axis=1)], axis=1),
    )
    low, high = (np.searchsorted(sorted_agl, heights + s * HALF_M) for s in (-1.0, 1.0))
    count = np.maximum(high - low, 1)
    change = (sums[:, high] - sums[:, low]) / count
    last = np.interp(heights, sorted_agl, np.arange(agl.size)).astype(int)
    change = np.where(high > low, change, added[:, order[last]])
    east, north = sky.mean(heights, 0.0)
    zero = sky.change.at(0.0)
    grow = np.clip(heights / 10.0, 0.2, 1.0)
    return heights, east + grow * (change[0] - zero[0]), north + grow * (change[1] - zero[1])


def _gates(flown: Flown, start_utc_s: float, shift: tuple[float, float]) -> tuple[WorldGate, ...]:
    rows, marks = flown.rows, flown.marks
    found = []
    for k, name in enumerate(flown.who.legs):
        begin, end = marks.step_of(name), marks.step_of(f"{name} end")
        after = (
            marks.step_of(flown.who.legs[k + 1]) if k + 1 < len(flown.who.legs) else marks.step_of("flare")
        )
        if begin is None:
            continue
        end = min(begin if end is None else end, rows.shape[0] - 1)
        stop = max(rows.shape[0] if after is None else after, end + 1)
        leg = rows[end:stop]
        heading = math.atan2(np.sin(leg[:, 12]).mean(), np.cos(leg[:, 12]).mean())
        track = math.atan2(leg[-1, 1] - rows[end - 1, 1], leg[-1, 2] - rows[end - 1, 2])
        at = rows[max(begin - 1, 0)]
        found.append(
            WorldGate(
                name,
                float(at[3]),
                start_utc_s + float(at[0]),
                float(at[1]) + shift[0],
                float(at[2]) + shift[1],
                float(rows[end, 3]),
                math.degrees(heading) % 360.0,
                math.degrees(track) % 360.0,
            )
        )
    return tuple(found)


def tell(
    family: str,
    seed: int,
    flown: Flown,
    path: Path,
    starts: list[tuple[str, int]],
    shift: tuple[float, float],
    device: Device,
) -> WorldTruth:
    """Everything that was true of a jump."""
    rows, craft, who, marks = flown.rows, flown.craft, flown.who, flown.marks
    stretch = path.start_utc_s + starts[-1][1] * DT_S
    # the path begins at the first row, one step after line stretch
    clock = stretch - DT_S + rows[:, 0]
    released, inflated = marks.step_of("released"), marks.step_of("inflated")
    opened = float(clock[min(inflated or 0, clock.size - 1)])
    gates = _gates(flown, stretch - DT_S, shift)
    heights, wind_e, wind_n = crossed_wind(flown)
    up30 = math.atan2(-float(np.interp(30.0, heights, wind_e)), -float(np.interp(30.0, heights, wind_n)))
    end, flare = marks.step_of("final end"), marks.step_of("flare")
    braked = (
        rows[(end or 0) : flare, 14]
        if end is not None and flare is not None and flare > end
        else rows[-1:, 14]
    )
    lat, lon = to_geodetic(path.lat_deg, path.lon_deg, craft.east + shift[0], craft.north + shift[1])
    trim = craft.trim()
    return WorldTruth(
        family=family,
        seed=seed,
        style=who.style,
        kind=KINDS.get(who.legs, "other"),
        hand=("right" if who.side > 0 else "left") if len(who.legs) > 1 else None,
        landing_deg=gates[-1].track_deg if gates else None,
        target_lat=path.lat_deg,
        target_lon=path.lon_deg,
        ground_elevation_m=path.day.elevation_m,
        airspeed_mps=trim[0],
        sink_mps=trim[1],
        wind_agl_m=heights,
        wind_east=wind_e,
        wind_north=wind_n,
        t_utc_s=clock,
        east_m=rows[:, 1] + shift[0],
        north_m=rows[:, 2] + shift[1],
        agl_m=rows[:, 3],
        air_east=rows[:, 4] - rows[:, 7] - rows[:, 9],
        air_north=rows[:, 5] - rows[:, 8] - rows[:, 10],
        gust_east=rows[:, 9],
        gust_north=rows[:, 10],
        gust_up=rows[:, 11],
        heading_deg=np.degrees(rows[:, 12]) % 360.0,
        bank_deg=np.degrees(rows[:, 13]),
        brake=rows[:, 14],
        riser=rows[:, 15],
        phases=_phases(path, starts, opened, float(clock[-1])),
        gates=gates,
        opening_utc_s=opened,
        settled_utc_s=None if released is None else float(clock[min(released, clock.size - 1)]),
        landing_utc_s=float(clock[-1]),
        landing_lat=float(lat),
        landing_lon=float(lon),
        landing_east_m=craft.east + shift[0],
        landing_north_m=craft.north + shift[1],
        final_brake=float(np.mean(braked)),
        off_wind_deg=math.degrees(wrap(math.radians(gates[-1].heading_deg) - up30)) if gates else math.nan,
        sky=craft.sky.name,
        pilot=who.label,
        latency_s=device.latency_s,
        receiver=device.name,
    )


def _phases(
    path: Path, starts: list[tuple[str, int]], opened: float, landed: float
) -> tuple[WorldPhase, ...]:
    begins = [(name, path.start_utc_s + row * DT_S) for name, row in starts]
    begins += [("canopy", opened), ("ground after", landed)]
    ends = [t for _, t in begins[1:]] + [path.start_utc_s + path.east_m.size * DT_S]
    return tuple(WorldPhase(name, a, b) for (name, a), b in zip(begins, ends))
