"""KML and GPX as written, against XML Schemas: no wrong element, order, type or bound.

KML: the schema of OGC KML 2.2 (ogckml22.xsd, as the package fastkml brings it). That of 2.3 is not to be had here; 2.3 keeps the elements written
here as they were, under a new namespace and with an attribute for the version (OGC 12-007r2, annex on changes, from memory), so both are set back first.
GPX: tests/data/schemas/gpx_1_1.xsd.
"""

from __future__ import annotations

import importlib.util
import warnings
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
import xmlschema
from fake_debrief import bare_debrief, fake_debrief, no_jump

from analyser.flight import Trim
from analyser.frame import LocalFrame
from analyser.plan.report import report_plan
from analyser.report.files import gpx_text, kml_text
from analyser.report.files.kml import KML_NAMESPACE
from analyser.report.files.plans import plan_gpx
from analyser.settings import LandingArea
from analyser.settings.toml import parse_settings
from analyser.wind.profile import WindProfile

DATA = Path(__file__).resolve().parents[1] / "data" / "schemas"
OLD = "http://www.opengis.net/kml/2.2"


@cache
def schema(name: str) -> xmlschema.XMLSchema:
    if name == "gpx":
        return xmlschema.XMLSchema(DATA / "gpx_1_1.xsd", allow="local")
    package = importlib.util.find_spec("fastkml")
    assert package is not None
    assert package.origin is not None
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a circle of imports between the schema and that of extensions
        return xmlschema.XMLSchema(Path(package.origin).parent / "schema" / "ogckml22.xsd", allow="local")


def wrong(text: str, name: str) -> list[str]:
    if name == "kml":
        assert text.count(KML_NAMESPACE) == text.count(' version="2.3"') == 1
        text = text.replace(KML_NAMESPACE, OLD).replace(' version="2.3"', "")
    return [f"{error.path}: {error.reason}" for error in schema(name).iter_errors(text)]


def far_east():
    """At 180° of longitude, with both kinds of area across it, and a name that wants escaping."""
    usual = fake_debrief()
    ring = ((-17.01, 179.99), (-17.01, -179.99), (-16.99, -179.99), (-16.99, 179.99))
    out = replace(usual.settings.site.keep_outs[0], polygon=ring, name="a <b> & c")
    site = replace(usual.settings.site, keep_outs=(out,), landing_areas=(LandingArea("main & only", ring),))
    return replace(
        usual,
        track=replace(usual.track, frame=LocalFrame(-17.0, 180.0)),
        settings=replace(usual.settings, site=site),
        landing=replace(usual.landing, lat=-17.0, lon=180.0),
    )


MADE = {"full": fake_debrief, "bare": bare_debrief, "no jump": no_jump, "at 180 degrees": far_east}


@pytest.mark.parametrize("name", ["kml", "gpx"])
@pytest.mark.parametrize("made", MADE.values(), ids=MADE)
def test_what_is_written_is_valid(made: Callable, name: str) -> None:
    text = {"kml": kml_text, "gpx": gpx_text}[name](made())
    assert wrong(text, name) == []


@pytest.mark.parametrize("lon", [-107.9342, 180.0])
def test_a_plan_as_gpx_is_valid(lon: float) -> None:
    settings = parse_settings(f"[site]\nname = 'a & b'\ntarget = [-17.0, {lon}]\nelevation_m = 12.5")
    wind = WindProfile.from_points([(0.0, 3.0, 240.0), (1000.0, 6.0, 250.0)])
    report = report_plan(settings, wind, Trim(11.0, 4.0), hands=("left", "right"))
    assert wrong(plan_gpx(report, settings), "gpx") == []


def test_the_schemas_find_what_is_wrong() -> None:
    text = kml_text(fake_debrief())
    for good, bad in (
        ("<altitudeMode>absolute", "<altitudeMode>above"),
        ("<width>5", "<width>wide"),
        ("<Placemark>", "<Placemark><height>5</height>"),
        ("</LineString>", "<altitudeMode>absolute</altitudeMode></LineString>"),
    ):
        assert good in text
        assert wrong(text.replace(good, bad, 1), "kml")
    text = gpx_text(fake_debrief())
    for good, bad in (
        ('lon="', 'lon="180.0" x="'),
        ('version="1.1"', 'version="1.0"'),
        ("<trkseg>", "<trkseg><name>a</name>"),
        ("<time>", "<time>then "),
    ):
        assert good in text
        assert wrong(text.replace(good, bad, 1), "gpx")
