"""The winds that were given (plan, weather report, forecast) beside those recovered from the track, for the document."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from analyser.report.documents.values import Json, angle, number
from analyser.settings import Settings, WindPoint, WindReport
from analyser.wind.profile import WindProfile

__all__ = ["given_report", "given_winds", "planned_winds"]


def given_winds(settings: Settings, profile: WindProfile | None) -> list[Json]:
    """One row per source: the plan's own heights, each METAR, each station of winds aloft. Empty where no wind was given. ``profile``: the recovered one."""
    told = {point for report in settings.reports for point in report.points}
    own = [point for point in settings.wind if point not in told]
    rows: list[Json] = []
    if own:
        heights = [_height(p, p.speed_mps, False, profile) for p in own]
        rows.append({"kind": "plan", **_about(None), "heights": heights})
    rows += [given_report(report, profile) for report in settings.reports]
    return rows


def given_report(report: WindReport, profile: WindProfile | None = None) -> Json:
    """One report or forecast, height by height; beside it what was recovered, null where ``profile`` has nothing."""
    heights = [
        _height(p, speed, variable, profile)
        for p, speed, variable in zip(report.points, report.speed_mps, report.variable)
    ]
    return {"kind": report.kind, **_about(report), "heights": heights}


def planned_winds(reports: Sequence[WindReport]) -> list[Json]:
    """Reports and forecasts that a plan was drawn for: nothing was recovered yet."""
    rows = [given_report(report) for report in reports]
    for row in rows:
        row["heights"] = [
            {key: value for key, value in height.items() if not key.startswith("recovered")}
            for height in row["heights"]
        ]
    return rows


def _about(report: WindReport | None) -> Json:
    """Station, time, gusts (never mixed into a mean), range of directions, and what is known of the error."""
    if report is None:
        return dict.fromkeys(("station", "when", "gust_mps", "from_range_deg", "error"))
    between = report.range_deg
    return {
        "station": report.station or None,
        "when": report.when or None,
        "gust_mps": number(report.gust_mps, 1),
        "from_range_deg": None if between is None else [angle(a) for a in between],
        "error": report.error or None,
    }


def _height(point: WindPoint, speed: float, variable: bool, profile: WindProfile | None) -> Json:
    """A height with what was told of it, and the recovered wind there: null above and where none could be found."""
    east, north = _recovered(point.agl_m, profile)
    blows = math.isfinite(east)
    return {
        "agl_m": number(point.agl_m, 1),
        "speed_mps": number(speed, 2),
        "from_deg": None if variable or speed == 0.0 else angle(point.from_deg),
        "variable": variable,
        "recovered_speed_mps": number(math.hypot(east, north), 2) if blows else None,
        "recovered_from_deg": angle(math.degrees(math.atan2(-east, -north)) % 360.0) if blows else None,
    }


def _recovered(agl_m: float, profile: WindProfile | None) -> tuple[float, float]:
    if profile is None or not profile.agl_m[0] <= agl_m <= profile.agl_m[-1]:
        return math.nan, math.nan
    known = np.array([status != "undetermined" for status in profile.status], dtype=np.float64)
    if float(np.interp(agl_m, profile.agl_m, known)) < 0.999:
        return math.nan, math.nan
    east, north = profile.vector(np.array([agl_m]))
    return float(east[0]), float(north[0])
