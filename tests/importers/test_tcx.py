"""TCX: the points of every lap; the guards are those of GPX."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest
from fix_cases import descent
from track_writers import chunks, tcx

from analyser.errors import FormatError, NoFixesError
from analyser.importers.read import read
from analyser.importers.tcx import read_tcx
from analyser.importers.xml import parse_time

SPACE = "{http://www.garmin.com/xmlschemas/TrainingCenterDatabase/v2}"


def parse(data: bytes | str, block: int = 1 << 16):
    return read_tcx(chunks(data.encode() if isinstance(data, str) else data, block))


@pytest.mark.parametrize("block", [1 << 16, 7])
def test_a_descent_as_the_standard_library_reads_it(block: int) -> None:
    fixes = descent()
    data = tcx(fixes.t, fixes.lat, fixes.lon, fixes.alt)
    raw = parse(data, block)
    points = list(ElementTree.fromstring(data).iter(f"{SPACE}Trackpoint"))
    for column, path in (
        (raw.lat_deg, f"{SPACE}Position/{SPACE}LatitudeDegrees"),
        (raw.lon_deg, f"{SPACE}Position/{SPACE}LongitudeDegrees"),
        (raw.altitude_m, f"{SPACE}AltitudeMeters"),
    ):
        np.testing.assert_array_equal(column, [float(p.find(path).text) for p in points])
    np.testing.assert_array_equal(raw.time_s, [parse_time(p.find(f"{SPACE}Time").text)[0] for p in points])
    assert (raw.format, raw.device) == ("tcx", "a watch")


def test_speed_in_the_extension_of_any_prefix() -> None:
    data = tcx(*(v[:5] for v in (descent().t, descent().lat, descent().lon, descent().alt))).decode()
    more = '<Extensions><ns3:TPX xmlns:ns3="x"><ns3:Speed>9.5</ns3:Speed></ns3:TPX></Extensions></Trackpoint>'
    np.testing.assert_array_equal(parse(data.replace("</Trackpoint>", more)).speed_mps, 9.5)


def test_points_without_a_place_and_a_cut_file() -> None:
    fixes = descent()
    data = tcx(fixes.t[:9], fixes.lat[:9], fixes.lon[:9], fixes.alt[:9]).decode()
    cut = data[: data.index("</Trackpoint>", 800)]
    raw = parse(cut)
    assert len(raw) == cut.count("</Trackpoint>")
    assert {n.code for n in raw.notes} == {"file-cut"}
    start = data.index("<Position>")
    bare = data[:start] + data[data.index("</Position>") + len("</Position>") :]
    assert np.flatnonzero(np.isnan(parse(bare).lat_deg)).tolist() == [0]


def test_refused_with_one_line() -> None:
    with pytest.raises(FormatError, match="document type or entities"):
        parse('<!DOCTYPE a [<!ENTITY x "y">]><TrainingCenterDatabase/>')
    with pytest.raises(NoFixesError, match="TCX file holds no track point"):
        parse("<TrainingCenterDatabase/>")


def test_told_by_content(tmp_path) -> None:
    fixes = descent()
    (tmp_path / "a.gpx").write_bytes(tcx(fixes.t, fixes.lat, fixes.lon, fixes.alt))
    assert read(tmp_path / "a.gpx").format == "tcx"
    (tmp_path / "b.gpx").write_text("<kml><Document/></kml>")
    with pytest.raises(FormatError, match="not <gpx> or <TrainingCenterDatabase>"):
        read(tmp_path / "b.gpx")
