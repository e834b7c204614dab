"""One whole debrief of a made-up jump of any family beside its truth: what ``families.py`` counts."""

from __future__ import annotations

import math
import time
from typing import Any, NamedTuple

import numpy as np
import tests_path  # noqa: F401
from worlds.families import WorldTruth, make_jump

from analyser.debrief import debrief_recording
from analyser.errors import EstimateError
from analyser.jump import Debrief
from analyser.phases.settled import find_settled
from analyser.settings import Settings, Site
from analyser.wind.circle import fit_circle
from analyser.wind.estimate import FLARE_M
from analyser.wind.fit import fit_wind
from analyser.wind.profile import WindProfile
from analyser.wind.samples import Samples, from_positions
from analyser.wind.status import wind_profile
from analyser.wind.straight import spread_of

BELOW_OPENING_M = 50.0
NEAR_M = 120.0
OPEN_SPREAD = 0.05


class Height(NamedTuple):
    """Error of the wind at a height: east, north [m/s], their standard deviations, squared distance in standard deviations."""

    agl_m: float
    east: float
    north: float
    sd_east: float
    sd_north: float
    distance: float
    worst_sd: float
    measured: bool
    open: bool

    @property
    def size(self) -> float:
        return math.hypot(self.east, self.north)


def one(seed: int, family: str, style: str | None = None) -> dict[str, Any]:
    """Everything to be counted about one jump."""
    jump = make_jump(family, seed, style)
    truth = jump.truth
    settings = Settings(site=Site(target=(truth.target_lat, truth.target_lon)))
    start = time.process_time()
    found = debrief_recording(jump.recording, settings)
    row: dict[str, Any] = {
        "seed": seed,
        "style": truth.style,
        "truth": _label(truth),
        "ms": 1000 * (time.process_time() - start),
    }
    row["phases"] = _phases(found, truth)
    row["rows"] = [] if found.wind is None else heights(found.wind.profile, truth)
    row["heights"] = len(_heights(truth))
    row |= _beside(found, truth) | _canopy(found, truth) | _landing(found, truth) | _pattern(found, truth)
    return row


def _label(truth: WorldTruth) -> str:
    return " | ".join((truth.sky, truth.pilot, truth.receiver))


def _heights(truth: WorldTruth) -> np.ndarray:
    """Heights of the table from 0 up to 50 m below where the canopy was open."""
    opened = float(np.interp(truth.opening_utc_s or truth.t_utc_s[0], truth.t_utc_s, truth.agl_m))
    table = truth.wind_table()[0]
    return np.asarray(table[table <= opened - BELOW_OPENING_M])


def heights(profile: WindProfile, truth: WorldTruth) -> list[Height]:
    """Every height of the table, with the error of the profile there."""
    speed = np.maximum(np.hypot(truth.air_east, truth.air_north), 0.1)
    heading = np.stack([truth.air_east, truth.air_north]) / speed
    rows = []
    for h in _heights(truth).tolist():
        at, (east, north) = profile.at(h), truth.wind(h)
        d = np.array([at.east - float(east), at.north - float(north)])
        spread = spread_of(heading[:, np.abs(truth.agl_m - h) <= NEAR_M])
        rows.append(
            Height(
                h,
                *d.tolist(),
                *np.sqrt(np.diag(at.covariance)).tolist(),
                float(d @ np.linalg.solve(at.covariance, d)),
                at.worst_sd,
                at.status == "measured" and h <= float(profile.agl_m[-1]),
                spread < OPEN_SPREAD,
            )
        )
    return rows


def _beside(found: Debrief, truth: WorldTruth) -> dict[str, Any]:
    """The fit that is given the true airspeed, and a circle for each layer, from the same fixes."""
    canopy = found.phases.canopy()
    if canopy is None:
        return {}
    track, part = found.track, slice(canopy.start, canopy.stop)
    t, h = track.t_s[part], track.agl_m[part]
    settled = find_settled(track, canopy.start, canopy.stop)
    use = np.isfinite(h) & settled.counts & (h > FLARE_M)
    row: dict[str, Any] = {}
    if truth.settled_utc_s is not None:
        row["settled"] = (settled.settled_s + track.start_utc_s - truth.settled_utc_s, settled.settled_sd_s)
    try:
        samples = from_positions(t[use], track.east_m[part][use], track.north_m[part][use], h[use])
        fit = fit_wind(
            samples,
            elevation_m=track.ground_elevation_m,
            airspeed=_airspeed(found, truth, samples),
            low_m=0.0,
        )
    except (EstimateError, np.linalg.LinAlgError):
        return row
    row["known"] = heights(wind_profile(fit, samples, _heights(truth)), truth)
    row["circle"] = circles(samples, truth)
    return row


def _airspeed(found: Debrief, truth: WorldTruth, samples: Samples) -> np.ndarray:
    """True airspeed over the time of each sample, as late as the receiver writes."""
    t = truth.t_utc_s - found.track.start_utc_s + truth.latency_s
    steps = np.hypot(truth.air_east, truth.air_north)[:-1] * np.diff(t)
    way = np.concatenate([[0.0], np.cumsum(steps)])
    late, soon = (np.interp(samples.t_s + side * samples.dt_s, t, way) for side in (0.5, -0.5))
    return np.asarray((late - soon) / samples.dt_s)


def circles(samples: Samples, truth: WorldTruth) -> float:
    """RMS error of one circle fit per 100 m about each height (errors over 50 m/s count as 50)."""
    squares = []
    for h in _heights(truth).tolist():
        near = np.abs(samples.agl_m - h) <= 50.0
        try:
            circle = fit_circle(samples.v_east[near], samples.v_north[near])
        except EstimateError:
            continue
        east, north = truth.wind(h)
        squares.append(min(math.hypot(circle.east - float(east), circle.north - float(north)), 50.0) ** 2)
    return math.sqrt(np.mean(squares)) if squares else math.nan


def _canopy(found: Debrief, truth: WorldTruth) -> dict[str, Any]:
    """Error and standard deviation of the trim airspeed and sink, and the true values."""
    if found.wind is None:
        return {}
    c = found.wind.canopy
    row: dict[str, Any] = {}
    if c.airspeed_mps is not None and c.airspeed_sd_mps is not None:
        row["airspeed"] = (c.airspeed_mps - truth.airspeed_mps, c.airspeed_sd_mps, truth.airspeed_mps)
    if c.sink_mps is not None and c.sink_sd_mps is not None:
        row["sink"] = (c.sink_mps - truth.sink_mps, c.sink_sd_mps, truth.sink_mps)
    return row


def _landing(found: Debrief, truth: WorldTruth) -> dict[str, Any]:
    """Errors of the landing along, across and in distance, each with its standard deviation."""
    landing = found.landing
    if landing is None or landing.along_m is None or landing.along_sd_m is None:
        return {}
    a = math.radians(landing.landing_deg or 0.0)
    e, n = truth.landing_east_m, truth.landing_north_m
    row: dict[str, Any] = {
        "along": (landing.along_m - (e * math.sin(a) + n * math.cos(a)), landing.along_sd_m)
    }
    if landing.across_m is not None and landing.across_sd_m is not None:
        row["across"] = (landing.across_m - (e * math.cos(a) - n * math.sin(a)), landing.across_sd_m)
    if landing.offset_m is not None and landing.offset_sd_m is not None:
        row["offset"] = (landing.offset_m - math.hypot(e, n), landing.offset_sd_m)
    row["touchdown_s"] = landing.t_s + found.track.start_utc_s - truth.landing_utc_s
    row["landing_deg"] = math.remainder((landing.landing_deg or 0.0) - (truth.landing_deg or 0.0), 360.0)
    return row


def _pattern(found: Debrief, truth: WorldTruth) -> dict[str, Any]:
    """Hand and kind right or not, error and standard deviation of every turn's height that was found, how many were not."""
    flown = found.flown
    if flown is None:
        return {
            "hand": False,
            "kind": False,
            "turns": [],
            "lost": len(truth.gates),
            "crosswind": (False, True),
        }
    gates = {g.name: g for g in flown.gates}
    both = [(gates[g.name], g) for g in truth.gates if g.name in gates]
    return {
        "hand": flown.hand == truth.hand,
        "kind": flown.kind == truth.kind,
        "turns": [(f.agl_m - g.agl_m, f.agl_sd_m) for f, g in both],
        "lost": len(truth.gates) - len(both),
        "crosswind": ("crosswind" in gates, truth.gate("crosswind") is not None),
    }


def _phases(found: Debrief, truth: WorldTruth) -> list[float]:
    """Seconds between every true phase boundary and the found one (infinite where that phase was not found)."""
    starts = {p.name: found.track.start_utc_s + p.start_s for p in found.phases.intervals}
    return [abs(starts[p.name] - p.start_utc_s) if p.name in starts else math.inf for p in truth.phases[1:]]
