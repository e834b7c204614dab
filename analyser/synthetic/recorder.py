"""From the receiver's fixes to a recording: degrees, digits, faults of clock and height; the raw rows a file would hold."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.importers.recording import Recording
from analyser.synthetic.earth import to_geodetic
from analyser.synthetic.receiver import Receiver, sample
from analyser.synthetic.setup import Setup
from analyser.synthetic.timeline import Joined
from analyser.synthetic.truth import Fixes
from analyser.units import FOOT_M

__all__ = ["recorded", "recording_of"]

Vector = NDArray[np.float64]

WEEK_S = 604_800.0


def recorded(setup: Setup, flight: Joined, name: str) -> tuple[Fixes, Recording]:
    """The rows as a file would hold them, with every fault, and the recording that a faultless reader would make of them."""
    rng = np.random.default_rng(np.random.SeedSequence([setup.seed, 99]))
    receiver = setup.receiver
    sampled = sample(rng, receiver, flight)
    lat, lon = to_geodetic(setup.lat_deg, setup.lon_deg, sampled.east_m, sampled.north_m)
    nothing = np.full(sampled.t_s.shape, np.nan)
    fixes = Fixes(
        time_s=np.round(setup.start_utc_s + sampled.t_s, 3),
        lat_deg=np.round(lat, receiver.digits),
        lon_deg=np.round(lon, receiver.digits),
        altitude_m=_height(receiver, sampled.agl_m, setup.elevation_m),
        speed_mps=nothing if sampled.speed_mps is None else np.round(sampled.speed_mps, 3),
        course_deg=nothing if sampled.course_deg is None else np.round(sampled.course_deg, 1),
        faulty=np.zeros(sampled.t_s.shape, dtype=np.bool_),
        true_s=setup.start_utc_s + sampled.t_s,
    )
    fixes = _clock(receiver, fixes, setup.start_utc_s + _moment(flight))
    return fixes, recording_of(fixes, name)


def _moment(flight: Joined) -> float:
    """When clock faults strike: half a minute after the opening, or in the middle where there is none."""
    names = [s.name for s in flight.spans]
    return flight.start("canopy") + 30.0 if "canopy" in names else float(flight.t_s[-1]) / 2.0


def _height(receiver: Receiver, agl: Vector, elevation: float) -> Vector:
    altitude = agl + elevation
    if receiver.height_fault == "zero":
        altitude = np.zeros_like(agl)
    elif receiver.height_fault == "constant":
        altitude = np.full_like(agl, round(elevation))
    elif receiver.height_fault == "missing":
        altitude = np.full_like(agl, np.nan)
    elif receiver.height_fault == "feet":
        altitude = altitude / FOOT_M
    return np.round(altitude, receiver.height_digits)


def _clock(receiver: Receiver, fixes: Fixes, moment: float) -> Fixes:
    t = fixes.time_s
    fault = receiver.clock_fault
    if fault == "leap back":
        late = t > moment
        times = np.where(late, t - 2.0, t)
        return fixes.with_times(times, late & (t <= moment + 2.0))
    if fault == "12 h":
        early = t < t[0] + 40.0
        return fixes.with_times(np.where(early, t + 43_200.0, t), early)
    if fault == "12 h later":
        return fixes.with_times(np.where(t > moment, t + 43_200.0, t), np.zeros(t.shape, dtype=np.bool_))
    if fault == "week rollover":
        return fixes.with_times(t - 1024.0 * WEEK_S, fixes.faulty)
    if fault == "duplicates":
        block = np.flatnonzero((t > moment) & (t < moment + 15.0))
        order = np.concatenate([np.arange(block[-1] + 1), block, np.arange(block[-1] + 1, t.shape[0])])
        again = np.zeros(order.shape, dtype=np.bool_)
        again[block[-1] + 1 : block[-1] + 1 + block.shape[0]] = True
        return fixes.taken(order, again)
    if fault == "stale":
        return _stale(fixes, moment)
    return fixes


def _stale(fixes: Fixes, moment: float) -> Fixes:
    """On re-acquisition three old fixes (from 20 s before) are written again among the new ones."""
    at = int(np.searchsorted(fixes.time_s, moment))
    old = np.searchsorted(fixes.time_s, moment - 20.0) + np.arange(3)
    order = np.concatenate([np.arange(at), old, np.arange(at, fixes.time_s.shape[0])])
    again = np.zeros(order.shape, dtype=np.bool_)
    again[at : at + 3] = True
    return fixes.taken(order, again)


def recording_of(fixes: Fixes, name: str) -> Recording:
    """The recording of the rows without those that are faulty."""
    good = ~fixes.faulty
    return Recording(
        time_s=fixes.time_s[good],
        lat_deg=fixes.lat_deg[good],
        lon_deg=fixes.lon_deg[good],
        altitude_m=fixes.altitude_m[good],
        speed_mps=fixes.speed_mps[good],
        course_deg=fixes.course_deg[good],
        format="gpx",
        device="synthetic",
        name=name,
        file=name,
    )
