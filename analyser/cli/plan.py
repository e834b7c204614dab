"""What ``crabline plan`` does once the words are parsed."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from analyser.cli.debrief import assets_beside, check_outputs, one_on_stdout, put, show
from analyser.cli.tracks import standard_input
from analyser.flight import Trim
from analyser.plan.ahead import plan_ahead
from analyser.plan.report import PlanReport
from analyser.plan.usual import Usual
from analyser.report.documents.plan import plan_document
from analyser.report.documents.values import to_json
from analyser.report.files.plans import plan_geojson, plan_gpx
from analyser.sentences import fill
from analyser.settings import Settings, WindReport
from analyser.settings.read_keys import MAX_BYTES, as_text, read_text
from analyser.settings.winds import air_of, measured_trim_of, reports_of, winds_of
from analyser.units import DISPLAY_SYSTEMS
from analyser.writing import STDOUT

__all__ = ["run_plan"]

STDIN = Path("-")


def run_plan(
    settings: Settings,
    read: Sequence[Path],
    winds: Path | None,
    hand: str,
    units: str,
    *,
    station: str | None,
    at: str | None,
    json_file: str | None,
    html: Path | None,
    gpx: Path | None,
    geojson: Path | None,
    assets: Path | None,
    quiet: bool = False,
) -> None:
    """Draw the plan, write what was asked for, print it; ``read`` are the files that the settings came from."""
    inputs = [*read, *([winds] if winds and winds != STDIN else [])]
    named = [p for p in (html, gpx, geojson, Path(json_file) if json_file else None) if p is not None]
    alone = one_on_stdout(named)
    check_outputs([p for p in named if p != STDOUT], inputs)
    elevation = settings.site.elevation_m
    wind = measured = None
    reports: tuple[WindReport, ...] = ()
    if winds is not None:
        text, name = _text(winds)
        wind = winds_of(text, name, elevation_m=elevation, station=station, at=at)
        reports = reports_of(text, name, elevation_m=elevation, station=station, at=at)
        measured, settings = measured_trim_of(text), settings.in_air(air_of(text, name))
    report, settings, trim, _, usual = plan_ahead(
        settings, wind, hand=hand, measured=measured, reports=reports
    )
    if usual is not None and not quiet:
        print(f"note: {fill(usual.text, usual.values, DISPLAY_SYSTEMS[units])}", file=sys.stderr)
    texts: list[tuple[Path, str]] = []
    if json_file:
        texts.append((Path(json_file), to_json(plan_document(report, settings, trim))))
    if html is not None:
        from analyser.report.page.pages import render_plan

        beside = assets_beside(html, assets)
        texts.append((html, render_plan(report, settings, trim, usual=usual, units=units, assets=beside)))
    texts += [(gpx, plan_gpx(report, settings))] if gpx else []
    texts += [(geojson, plan_geojson(report, settings))] if geojson else []
    put(texts, inputs)
    if not alone:
        _print(report, settings, trim, units, usual)


def _text(winds: Path) -> tuple[str, str]:
    """The text of a file or of standard input (``-``), and what errors call it."""
    if winds != STDIN:
        return read_text(winds), str(winds)
    name = "standard input"
    return as_text(standard_input(MAX_BYTES, "pipe winds into it: … | crabline plan --winds -"), name), name


def _print(report: PlanReport, settings: Settings, trim: Trim, units: str, usual: Usual | None) -> None:
    from analyser.report.story.plan import tell_plan

    show(tell_plan(report, settings, trim, usual), units)
