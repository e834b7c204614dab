"""Winds as weather services give them: a METAR, a TAF or a bulletin of winds aloft -> heights above the landing area."""

from __future__ import annotations

from analyser.errors import SettingsError
from analyser.settings.aloft import is_aloft, read_aloft
from analyser.settings.metar import ANEMOMETER_M, is_metar, read_metar
from analyser.settings.model import Air, WindPoint, WindReport
from analyser.settings.taf import is_taf, read_taf
from analyser.units import KNOT_MPS

__all__ = ["is_report", "read_report"]

NOT_KNOWN = "not known: no published verification for this height and lead time was found"


def is_report(text: str) -> bool:
    """Whether a text is a METAR, a TAF or a bulletin of winds aloft."""
    return is_aloft(text) or is_taf(text) or is_metar(text)


def read_report(
    text: str,
    elevation_m: float | None = None,
    station: str | None = None,
    file: str | None = None,
    at: str | None = None,
) -> WindReport:
    """The winds of a METAR or a TAF (at 10 m; ``at`` its time) or of one station of a bulletin of winds aloft, above a field at
    ``elevation_m`` above sea level.

    A wind without a direction (calm, variable, light) counts as none: its error is the half of its greatest speed each way. Raises
    SettingsError where the text is neither, or where heights above sea level are given and the field's elevation is not known.
    """
    if is_aloft(text):
        return _aloft(text, elevation_m, station, file)
    if is_taf(text):
        return _taf(text, at, file)
    if is_metar(text):
        return _metar(text, file)
    raise SettingsError(
        "neither a METAR nor a TAF nor a bulletin of winds aloft", "copy it whole, as it was issued", file
    )


def _metar(text: str, file: str | None) -> WindReport:
    found = read_metar(text, file)
    from_deg, speed = found.from_deg, found.speed_mps
    point = WindPoint(ANEMOMETER_M, 0.0 if from_deg is None else speed, (from_deg or 0.0) % 360.0)
    return WindReport(
        kind="report",
        station=found.station,
        when=found.when,
        points=(point,),
        speed_mps=(speed,),
        variable=(from_deg is None,),
        gust_mps=found.gust_mps,
        range_deg=found.range_deg,
        air=Air(found.temperature_c, found.qnh_hpa),
        error=NOT_KNOWN,
    )


def _taf(text: str, at: str | None, file: str | None) -> WindReport:
    found = read_taf(text, at, file)
    calm = found.from_deg is None
    return WindReport(
        kind="forecast",
        station=found.station,
        when=found.when,
        points=(WindPoint(ANEMOMETER_M, 0.0 if calm else found.speed_mps, (found.from_deg or 0.0) % 360.0),),
        speed_mps=(found.speed_mps,),
        variable=(calm,),
        gust_mps=found.gust_mps,
        error=NOT_KNOWN,
    )


def _aloft(text: str, elevation_m: float | None, station: str | None, file: str | None) -> WindReport:
    name, when, rows = read_aloft(text, station, file)
    if elevation_m is None:
        raise SettingsError(
            "winds aloft are given by height above sea level, and the elevation of the landing area is not known",
            "add elevation_m or elevation_ft to [site]",
            file,
        )
    above = [row for row in rows if row.msl_m >= elevation_m]
    if not above:
        raise SettingsError("no height of the bulletin lies above the landing area", "check elevation", file)
    light = 5.0 * KNOT_MPS  # 9900: below 5 kt
    return WindReport(
        kind="forecast",
        station=name,
        when=when,
        points=tuple(WindPoint(r.msl_m - elevation_m, r.speed_mps, r.from_deg or 0.0) for r in above),
        speed_mps=tuple(light if r.from_deg is None else r.speed_mps for r in above),
        variable=tuple(r.from_deg is None for r in above),
        error=NOT_KNOWN,
    )
