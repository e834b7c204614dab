"""Tables (CSV) of the recovered winds and of the samples.

``winds.csv`` columns, one row per height: ``agl_m``, ``east_mps``, ``north_mps`` (velocity of the air), ``sd_east_mps``,
``sd_north_mps`` (1 sigma), ``correlation``, ``speed_mps``, ``from_deg`` (true), ``status``, ``reason``, ``correlation_above`` (of the
errors of this height and the next one up); empty where unknown. ``crabline plan --winds`` reads it.

``samples.csv`` columns, one row per fix: ``utc`` (ISO 8601), ``lat``, ``lon`` (WGS 84, deg), ``agl_m`` (above the landing area),
``east_m``, ``north_m`` (from the target, or the landing point without one), ``v_east_mps``, ``v_north_mps``, ``v_up_mps`` (over the ground,
up positive), ``phase``, ``leg``, ``air_east_mps``, ``air_north_mps`` (ground velocity less the wind; empty off the canopy flight or
where the wind is unknown).
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from analyser.debrief import Debrief
from analyser.report.documents.air import wind_rows
from analyser.report.documents.values import utc
from analyser.report.plain import plain

__all__ = ["SAMPLE_COLUMNS", "WIND_COLUMNS", "samples_csv", "winds_csv"]

WIND_COLUMNS = (
    "agl_m",
    "east_mps",
    "north_mps",
    "sd_east_mps",
    "sd_north_mps",
    "correlation",
    "speed_mps",
    "from_deg",
    "status",
    "reason",
    "correlation_above",
)
SAMPLE_COLUMNS = (
    "utc",
    "lat",
    "lon",
    "agl_m",
    "east_m",
    "north_m",
    "v_east_mps",
    "v_north_mps",
    "v_up_mps",
    "phase",
    "leg",
    "air_east_mps",
    "air_north_mps",
)


def winds_csv(debrief: Debrief) -> str:
    """The recovered winds by height (columns: see the module); only the heading line where none were found."""
    rows = wind_rows(debrief.wind.profile) if debrief.wind is not None else []
    return _csv(WIND_COLUMNS, ([row.get(name) for name in WIND_COLUMNS] for row in rows))


def samples_csv(debrief: Debrief) -> str:
    """Every fix of the jump with what was made of it (columns: see the module)."""
    track = debrief.track
    lat, lon = track.frame.to_geodetic(track.east_m, track.north_m)
    phase, leg = _labels(debrief)
    air_east, air_north = _air(debrief)
    numbers = (
        np.round(lat, 7),
        np.round(lon, 7),
        np.round(track.agl_m, 2),
        np.round(track.east_m, 2),
        np.round(track.north_m, 2),
        np.round(track.v_east, 3),
        np.round(track.v_north, 3),
        np.round(track.v_up, 3),
    )
    columns = [np.asarray(v).tolist() for v in numbers]
    air = [np.round(v, 3).tolist() for v in (air_east, air_north)]
    times = [utc(track.start_utc_s + t) for t in track.t_s]
    return _csv(SAMPLE_COLUMNS, zip(times, *columns, phase, leg, *air))


def _labels(debrief: Debrief) -> tuple[list[str], list[str]]:
    n = len(debrief.track)
    phase, leg = [""] * n, [""] * n
    for p in debrief.phases.intervals:
        stop = min(p.stop, n)
        phase[p.start : stop] = [p.name] * (stop - p.start)
    t = debrief.track.t_s
    for one in debrief.flown.legs if debrief.flown is not None else ():
        begin = one.turn.start_s if one.turn is not None else one.start_s
        for i in np.flatnonzero((t >= begin) & (t <= one.end_s)):
            leg[i] = one.name
    return phase, leg


def _air(debrief: Debrief) -> tuple[Any, Any]:
    track, canopy = debrief.track, debrief.phases.canopy()
    east, north = np.full(len(track), math.nan), np.full(len(track), math.nan)
    if debrief.wind is None or canopy is None:
        return east, north
    profile = debrief.wind.profile
    known = np.array([s != "undetermined" for s in profile.status], dtype=np.float64)
    part = slice(canopy.start, canopy.stop)
    agl = track.agl_m[part]
    hidden = np.interp(agl, profile.agl_m, known) < 0.999
    wind_east, wind_north = profile.vector(agl)
    east[part] = np.where(hidden, math.nan, track.v_east[part] - wind_east)
    north[part] = np.where(hidden, math.nan, track.v_north[part] - wind_north)
    return east, north


def _csv(columns: Sequence[str], rows: Iterable[Iterable[Any]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow([_cell(v) for v in row])
    return text.getvalue()


def _cell(value: Any) -> Any:
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return ""
    return plain(value) if isinstance(value, str) else value
