"""KML 2.3: the order and content of elements, by hand (test_xml_schemas.py has the schemas), and what they say."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest
from fake_debrief import bare_debrief, fake_debrief, no_jump

from analyser.report.files import geojson_text, gpx_text, kml_text
from analyser.report.files.kml import ARROW_S, KML_NAMESPACE
from analyser.report.files.maps import gpx_place

K = f"{{{KML_NAMESPACE}}}"
# KML 2.3 asks for no order. 2.2 does, and its readers may: a feature's elements stand in this one, a geometry's in that of its own type
ORDER = {
    "Document": ["name", "description", "Style", "Folder"],
    "Folder": ["name", "Placemark"],
    "Placemark": [
        "name",
        "description",
        "TimeSpan",
        "styleUrl",
        "LineString",
        "Point",
        "Polygon",
        "MultiGeometry",
    ],
    "LineString": ["tessellate", "altitudeMode", "coordinates"],
    "Point": ["altitudeMode", "coordinates"],
    "Polygon": ["outerBoundaryIs"],
    "LinearRing": ["coordinates"],
    "TimeSpan": ["begin", "end"],
    "Style": ["LineStyle", "PolyStyle"],
    "LineStyle": ["color", "width"],
}


@pytest.fixture(scope="module", params=["full", "bare", "no jump"])
def root(request: pytest.FixtureRequest) -> ElementTree.Element:
    made = {"full": fake_debrief, "bare": bare_debrief, "no jump": no_jump}[request.param]
    return ElementTree.fromstring(kml_text(made()))


def test_elements_stand_in_the_order_of_the_standard(root: ElementTree.Element) -> None:
    assert root.tag == f"{K}kml"
    assert root.get("version") == "2.3"
    for element in root.iter():
        assert element.tag.startswith(K)
        order = ORDER.get(element.tag.removeprefix(K))
        if order is not None:
            places = [order.index(child.tag.removeprefix(K)) for child in element]
            assert places == sorted(places)


def test_styles_are_there_and_colours_are_eight_hexadecimal_digits(root: ElementTree.Element) -> None:
    known = {style.get("id") for style in root.iter(f"{K}Style")}
    assert {f"#{name}" for name in known} >= {url.text for url in root.iter(f"{K}styleUrl")}
    for colour in root.iter(f"{K}color"):
        assert re.fullmatch("[0-9a-f]{8}", colour.text or "")


def test_coordinates_are_longitude_latitude_height(root: ElementTree.Element) -> None:
    for line in root.iter(f"{K}LineString"):
        places = [[float(x) for x in place.split(",")] for place in line.find(f"{K}coordinates").text.split()]
        assert len(places) > 1
        assert all(-180 <= p[0] <= 180 and -90 <= p[1] <= 90 for p in places)
        mode = line.find(f"{K}altitudeMode")
        assert all(len(p) == (2 if mode is None else 3) for p in places)
        assert mode is None or mode.text == "absolute"
    for ring in root.iter(f"{K}LinearRing"):
        places = ring.find(f"{K}coordinates").text.split()
        assert places[0] == places[-1]
        assert len(places) > 3


def test_times_go_on(root: ElementTree.Element) -> None:
    for span in root.iter(f"{K}TimeSpan"):
        begin, end = (span.find(f"{K}{name}").text for name in ("begin", "end"))
        assert begin <= end
        assert end.endswith("Z")


def folder(text: str, name: str) -> list[ElementTree.Element]:
    found = [f for f in ElementTree.fromstring(text).iter(f"{K}Folder") if f.find(f"{K}name").text == name]
    return found[0].findall(f"{K}Placemark")


def test_legs_gates_and_winds() -> None:
    full = fake_debrief()
    text = kml_text(full)
    assert [leg.find(f"{K}name").text for leg in folder(text, "legs")] == [
        leg.name for leg in full.flown.legs
    ]
    assert {m.find(f"{K}name").text for m in folder(text, "gates")} >= {"target", "touchdown", "flown final"}
    arrows = folder(text, "winds")
    assert arrows
    profile = full.wind.profile
    for arrow in arrows:
        agl = float(re.search(r"at (\d+) m", arrow.find(f"{K}name").text)[1])
        at = int(np.flatnonzero(profile.agl_m == agl)[0])
        way = arrow.find(f"{K}LineString/{K}coordinates").text.split()
        (lon0, lat0, z), (lon1, lat1, _) = ([float(x) for x in p.split(",")] for p in way[:2])
        assert z == pytest.approx(agl + full.track.ground_elevation_m, abs=0.06)
        east = (lon1 - lon0) * 111_320 * np.cos(np.radians(lat0))
        north = (lat1 - lat0) * 111_200
        assert east == pytest.approx(profile.east[at] * ARROW_S, abs=3.0)
        assert north == pytest.approx(profile.north[at] * ARROW_S, abs=3.0)


def test_foreign_text_does_not_break_out() -> None:
    full = fake_debrief()
    text = kml_text(
        replace(full, recording=replace(full.recording, name="]]></name><evil>\x1b[2J & <b>\x00"))
    )
    assert "<evil>" not in text
    assert "\x1b" not in text
    ElementTree.fromstring(text)


def test_gpx_longitudes_stay_below_180() -> None:
    """GPX 1.1, longitudeType: -180 up to, but not with, 180."""
    assert gpx_place(1.00000004, 180.0) == (1.0, -180.0)
    assert gpx_place(1.0, 179.99999999) == (1.0, -180.0)
    assert gpx_place(-1.0, -180.0) == (-1.0, -180.0)
    for number in re.findall(r'(?:lat|lon)="([^"]*)"', gpx_text(fake_debrief())):
        assert re.fullmatch(r"-?\d+(\.\d{1,7})?", number)


def test_every_feature_of_geojson_has_a_kind_and_times_go_by_one_name() -> None:
    import json

    features = json.loads(geojson_text(fake_debrief()))["features"]
    assert all(f["properties"]["kind"] for f in features)
    lines = [f["properties"] for f in features if f["properties"]["kind"] == "phase"]
    assert all(a["end_utc"] <= b["start_utc"] for a, b in pairwise(lines))
    marks = {f["properties"]["name"]: f["properties"] for f in features if f["geometry"]["type"] == "Point"}
    assert marks["touchdown"]["utc"].endswith("Z")
    assert marks["flown base"]["utc"] < marks["flown final"]["utc"] < marks["touchdown"]["utc"]
    assert marks["planned base"]["utc"] is None
