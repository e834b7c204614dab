"""What ``crabline plan`` does once the words are parsed."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from analyser.cli.debrief import assets_beside, check_outputs, show
from analyser.errors import SettingsError
from analyser.flight import Trim
from analyser.pattern import Hand
from analyser.plan.jump import trim_of
from analyser.plan.report import PlanReport, report_plan
from analyser.plan.usual import with_usual_trim
from analyser.report.documents.plan import plan_document
from analyser.report.documents.values import to_json
from analyser.report.files.plans import plan_geojson, plan_gpx
from analyser.sentences import fill
from analyser.settings import Settings
from analyser.settings.winds import read_measured_trim, read_winds
from analyser.units import DISPLAY_SYSTEMS
from analyser.wind.profile import WindProfile
from analyser.writing import write_text

__all__ = ["run_plan"]

HANDS: dict[str, tuple[Hand, ...] | None] = {
    "": None,
    "left": ("left",),
    "right": ("right",),
    "both": ("left", "right"),
}


def run_plan(
    settings: Settings,
    plans: Sequence[Path],
    winds: Path | None,
    hand: str,
    units: str,
    *,
    station: str | None,
    json_file: str | None,
    html: Path | None,
    gpx: Path | None,
    geojson: Path | None,
    assets: Path | None,
) -> None:
    """Draw the plan, write what was asked for, print it."""
    inputs = [*plans, *([winds] if winds else [])]
    named = [html, gpx, geojson, Path(json_file) if json_file not in (None, "-") else None]
    check_outputs([p for p in named if p is not None], inputs)
    wind = (
        read_winds(winds, elevation_m=settings.site.elevation_m, station=station)
        if winds
        else settings.wind_profile
    )
    if wind is None:
        wind = _no_wind(settings)
    settings = _with_measured_trim(settings, winds)
    settings, usual = with_usual_trim(settings)
    if usual is not None:
        print(f"note: {fill(usual.text, usual.values, DISPLAY_SYSTEMS[units])}", file=sys.stderr)
    trim = trim_of(settings, None, settings.site.elevation_m or 0.0)
    assert trim is not None  # both speeds are there
    report = report_plan(settings, wind, trim, hands=HANDS[hand])
    texts: list[tuple[Path | None, str]] = []
    if json_file is not None:
        text = to_json(plan_document(report, settings, trim))
        texts.append((None if json_file == "-" else Path(json_file), text))
    if html is not None:
        from analyser.report.page.pages import render_plan

        texts.append(
            (html, render_plan(report, settings, trim, units=units, assets=assets_beside(html, assets)))
        )
    texts += [(gpx, plan_gpx(report, settings))] if gpx else []
    texts += [(geojson, plan_geojson(report, settings))] if geojson else []
    for path, text in texts:
        if path is None:
            sys.stdout.write(text)
        else:
            write_text(path, text, inputs=inputs)
    if json_file != "-":
        _print(report, settings, trim, units)


def _no_wind(settings: Settings) -> WindProfile:
    if settings.pattern.landing_deg is None and not settings.site.directions:
        raise SettingsError("no wind to plan for", "add [[wind]] to the plan or give --winds FILE")
    return WindProfile.from_points([(0.0, 0.0, 0.0)])


def _with_measured_trim(settings: Settings, winds: Path | None) -> Settings:
    """Trim speeds measured on an earlier jump, where its JSON was given and the settings have none."""
    wing = settings.canopy
    if winds is None or (wing.airspeed_mps is not None and wing.sink_mps is not None):
        return settings
    measured = read_measured_trim(winds)
    if measured is None:
        return settings
    if wing.airspeed_mps is None:
        wing = replace(wing, airspeed_mps=measured.airspeed_mps, airspeed_sd_mps=measured.airspeed_sd_mps)
    if wing.sink_mps is None:
        wing = replace(wing, sink_mps=measured.sink_mps, sink_sd_mps=measured.sink_sd_mps)
    return replace(settings, canopy=wing)


def _print(report: PlanReport, settings: Settings, trim: Trim, units: str) -> None:
    from analyser.report.story.plan import tell_plan

    show(tell_plan(report, settings, trim), units)
