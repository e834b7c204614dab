"""KML and GPX as written, against XML Schemas: no wrong element, order, type or bound.

KML 2.3 twice. Against tests/data/schemas/kml_2_3.xsd (what it is taken from stands in it), and, since 2.3 keeps 2.2's namespace and all that is written
here, against OGC's own schema of KML 2.2 (ogckml22.xsd, as the package fastkml brings it) without the attribute for the version. The latter asks for an
order too, the former does not. Coordinates by the rules of OGC 14-068r2, the abstract test suite of 2.3 (ATC 103, 112, 116, 117), as its suite puts them.
GPX: tests/data/schemas/gpx_1_1.xsd.
"""

from __future__ import annotations

import importlib.util
import warnings
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

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


@cache
def schema(name: str) -> xmlschema.XMLSchema:
    if name == "gpx":
        return xmlschema.XMLSchema(DATA / "gpx_1_1.xsd", allow="local")
    if name == "kml 2.3":
        return xmlschema.XMLSchema11(DATA / "kml_2_3.xsd", allow="local")
    package = importlib.util.find_spec("fastkml")
    assert package is not None
    assert package.origin is not None
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a circle of imports between the schema and that of extensions
        return xmlschema.XMLSchema(Path(package.origin).parent / "schema" / "ogckml22.xsd", allow="local")


def wrong(text: str, name: str) -> list[str]:
    if name == "kml 2.2":
        assert text.count(f'xmlns="{KML_NAMESPACE}" version="2.3"') == 1
        text = text.replace(' version="2.3"', "")
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


@pytest.mark.parametrize("name", ["kml 2.3", "kml 2.2", "gpx"])
@pytest.mark.parametrize("made", MADE.values(), ids=MADE)
def test_what_is_written_is_valid(made: Callable, name: str) -> None:
    text = {"kml": kml_text, "gpx": gpx_text}[name[:3]](made())
    assert wrong(text, name) == []


@pytest.mark.parametrize("made", MADE.values(), ids=MADE)
def test_coordinates_of_kml_keep_the_rules(made: Callable) -> None:
    """A point is one place, a line at least two, a ring at least four and closed, within the globe; a line at heights is not laid on the ground."""
    root = ElementTree.fromstring(kml_text(made()))
    least = {"Point": 1, "LineString": 2, "LinearRing": 4}
    for shape in (e for name in least for e in root.iter(f"{{{KML_NAMESPACE}}}{name}")):
        part = {child.tag.split("}")[1]: child.text for child in shape}
        name, places = shape.tag.split("}")[1], part["coordinates"].split()
        assert len(places) >= least[name]
        assert name != "Point" or len(places) == 1
        assert name != "LinearRing" or places[0] == places[-1]
        for lon, lat, *height in ([float(x) for x in p.split(",")] for p in places):
            assert abs(lon) <= 180
            assert abs(lat) <= 90
            assert bool(height) == (part.get("altitudeMode") == "absolute")
        assert not ("altitudeMode" in part and part.get("tessellate") == "1")


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
        assert wrong(text.replace(good, bad, 1), "kml 2.2")
        # 2.3 asks for no order; two modes are one too many there as well
        assert wrong(text.replace(good, bad, 1), "kml 2.3")
    for good, bad in (
        ('version="2.3"', 'version="2.4"'),
        (KML_NAMESPACE, "http://www.opengis.net/kml/2.3"),
        ("<begin>2", "<begin>on 2"),
        ("<color>ff", "<color>f"),
    ):
        assert good in text
        assert wrong(text.replace(good, bad, 1), "kml 2.3")
    text = gpx_text(fake_debrief())
    for good, bad in (
        ('lon="', 'lon="180.0" x="'),
        ('version="1.1"', 'version="1.0"'),
        ("<trkseg>", "<trkseg><name>a</name>"),
        ("<time>", "<time>then "),
    ):
        assert good in text
        assert wrong(text.replace(good, bad, 1), "gpx")
