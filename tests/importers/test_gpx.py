"""GPX: gpxpy's points on every good file; the right answer or one clear error on odd, broken and hostile ones."""

from __future__ import annotations

import gzip
import math
import re
import xml.etree.ElementTree as ElementTree
from datetime import UTC, datetime
from pathlib import Path

import gpxpy
import gpxpy.parser
import numpy as np
import pytest
from gpx_cases import BLOCK, HEAD, PLAIN, codes, document, ours, parse, point
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analyser.importers.gpx import parse_time

REAL = Path(__file__).resolve().parents[2] / "shared" / "real"
SAMPLES = Path(__file__).resolve().parents[2] / "sample_tracks"


def by_gpxpy(data: bytes | str) -> np.ndarray:
    """(time, lat, lon, ele, speed, course) of every track point, read by gpxpy on the standard library's parser."""
    before = gpxpy.parser.mod_etree
    gpxpy.parser.mod_etree = ElementTree
    try:
        found = gpxpy.parse(data)
    finally:
        gpxpy.parser.mod_etree = before
    rows = [
        (_seconds(p.time), p.latitude, p.longitude, p.elevation, p.speed, p.course)
        for t in found.tracks
        for s in t.segments
        for p in s.points
    ]
    return np.array(rows, dtype=float).reshape(-1, 6)


def _seconds(moment: datetime | None) -> float:
    if moment is None:
        return math.nan
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()


# ---- the reference library agrees ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["0009", "0014", "0033", "0041"])
def test_real_glide_downs_as_gpxpy_reads_them(name: str) -> None:
    """Open paraglider recordings (twpayne/go-igc, testdata, MIT)."""
    path = REAL / f"paraglider_glide_{name}.gpx.gz"
    if not path.exists():
        pytest.skip("the shared real tracks are not beside the repository")
    data = gzip.decompress(path.read_bytes())
    np.testing.assert_array_equal(ours(parse(data)), by_gpxpy(data))


@pytest.mark.parametrize(
    "path", sorted(SAMPLES.glob("*.gpx")) or [None], ids=lambda p: p.name if p else "absent"
)
def test_sample_tracks_as_gpxpy_reads_them(path: Path | None) -> None:
    if path is None:
        pytest.skip("no sample tracks yet")
    data = path.read_bytes()
    np.testing.assert_array_equal(ours(parse(data))[:, :4], by_gpxpy(data)[:, :4])


VARIANTS = {
    "1.1": document(PLAIN),
    "no namespace": document(PLAIN, namespace=""),
    "1.0": document(
        "".join(point(i, f"<course>{i}.5</course><speed>{i}.25</speed>") for i in range(9)),
        version="1.0",
        namespace='xmlns="http://www.topografix.com/GPX/1/0"',
    ),
    "milliseconds": document(PLAIN.replace("Z<", ".125Z<")),
    "offset": document(PLAIN.replace("Z<", "+02:00<")),
    "no elevation": document(re.sub("<ele>.*?</ele>", "", PLAIN)),
    "empty elevation": document(PLAIN.replace("<ele>403</ele>", "<ele/>")),
    "no time": document(PLAIN.replace("<time>2026-05-01T10:00:07Z</time>", "")),
    "two segments": document(PLAIN + "</trkseg><trkseg>" + point(40)),
    "two tracks": document(PLAIN + "</trkseg></trk><trk><trkseg>" + point(40)),
    "comments": document(PLAIN.replace("<ele>", "<!-- <ele>7</ele> --><ele>")),
    "cdata": document(PLAIN.replace("<ele>404</ele>", "<ele><![CDATA[404]]></ele>")),
    "byte order mark": "\ufeff" + document(PLAIN),
    "route and waypoints beside": document(PLAIN)
    .replace("</trk>", "</trk>")
    .replace("<trk>", '<wpt lat="1" lon="2"><ele>3</ele></wpt><rte><rtept lat="1" lon="2"/></rte><trk>', 1),
}


@pytest.mark.parametrize("name", VARIANTS)
@pytest.mark.parametrize("block", [BLOCK, 7])
def test_good_variants_as_gpxpy_reads_them(name: str, block: int) -> None:
    raw = parse(VARIANTS[name], block)
    np.testing.assert_allclose(ours(raw), by_gpxpy(VARIANTS[name]), rtol=0, atol=1e-6)
    assert codes(raw) == set()


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(
        st.tuples(
            st.floats(-90, 90).map(lambda v: round(v, 7)),
            st.floats(-180, 180).map(lambda v: round(v, 7)),
            st.none() | st.floats(-500, 9000).map(lambda v: round(v, 2)),
            st.none() | st.datetimes(datetime(1990, 1, 1), datetime(2090, 1, 1)),
            st.sampled_from(["Z", "", "+05:30", "-09:00"]),
        ),
        min_size=1,
        max_size=20,
    ),
    st.lists(st.integers(0, 20), max_size=3),
)
def test_structured_documents_as_gpxpy_reads_them(rows: list[tuple], cuts: list[int]) -> None:
    parts = []
    for i, (lat, lon, ele, moment, zone) in enumerate(rows):
        inside = "" if ele is None else f"<ele>{ele}</ele>"
        inside += "" if moment is None else f"<time>{moment.isoformat()}{zone}</time>"
        parts.append(
            ("</trkseg><trkseg>" if i in cuts else "") + f'<trkpt lat="{lat}" lon="{lon}">{inside}</trkpt>'
        )
    text = document("".join(parts))
    np.testing.assert_allclose(ours(parse(text)), by_gpxpy(text), rtol=0, atol=2e-6)


# ---- where gpxpy gives nothing or drops something ------------------------------------------------------------------------


@pytest.mark.parametrize("prefix", ["gpxtpx", "ns3", "a-b"])
def test_speed_and_course_in_extensions_of_any_prefix(prefix: str) -> None:
    inside = f"<extensions><{prefix}:TPX><{prefix}:hr>99</{prefix}:hr><{prefix}:speed>7.5</{prefix}:speed><{prefix}:course>270</{prefix}:course></{prefix}:TPX></extensions>"
    raw = parse(
        document(
            "".join(point(i, inside) for i in range(5)), namespace=f'xmlns:{prefix}="http://example.org"'
        )
    )
    np.testing.assert_array_equal(raw.speed_mps, 7.5)
    np.testing.assert_array_equal(raw.course_deg, 270.0)


def test_elevation_and_time_of_an_extension_are_not_the_points_own() -> None:
    inside = "<extensions><x:ele>1</x:ele><x:time>2001-01-01T00:00:00Z</x:time></extensions>"
    raw = parse(document("".join(point(i, inside) for i in range(5))))
    np.testing.assert_array_equal(raw.altitude_m, [400, 401, 402, 403, 404])
    assert raw.time_s[0] == datetime(2026, 5, 1, 10, tzinfo=UTC).timestamp()


def test_prefixed_root_and_namespace_in_a_comment() -> None:
    plain = ours(parse(document(PLAIN)))
    prefixed = (
        HEAD
        + '<g:gpx xmlns:g="http://www.topografix.com/GPX/1/1"><g:trk><g:trkseg>'
        + PLAIN.replace("</", "</g:").replace("<t", "<g:t").replace("<e", "<g:e")
        + "</g:trkseg></g:trk></g:gpx>"
    )
    np.testing.assert_array_equal(ours(parse(prefixed)), plain)
    comment = document(PLAIN).replace("<gpx", '<!-- xmlns="nothing" --><gpx', 1)
    np.testing.assert_array_equal(ours(parse(comment)), plain)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-8-sig", "iso-8859-1", "utf-16-le", "utf-16-be"])
def test_declared_encodings(encoding: str) -> None:
    text = (
        document(PLAIN)
        .replace("UTF-8", encoding.removesuffix("-sig").replace("16-", "16"))
        .replace("<name>a", "<name>Grüße")
    )
    raw = parse(text.encode(encoding))
    assert len(raw) == 30
    assert raw.name == "Grüße"


def test_text_that_is_not_in_the_encoding_it_declares() -> None:
    raw = parse(document(PLAIN).replace("<name>a", "<name>Grüße").encode("iso-8859-1"))
    assert len(raw) == 30
    assert raw.name == "Grüße"
    assert codes(raw) == {"encoding-guessed"}


@pytest.mark.parametrize("bad", ["NaN", "inf", "", "47,5", "4_7.0", "٤٧", "0x1p3", "north"])
def test_a_bad_number_costs_its_point_only(bad: str) -> None:
    raw = parse(document(PLAIN + point(40, lat=bad)))
    assert len(raw) == 31
    assert np.isnan(raw.lat_deg[30])
    assert np.all(np.isfinite(raw.lat_deg[:30]))
    assert np.isnan(parse(document(PLAIN.replace("<ele>403", f"<ele>{bad}"))).altitude_m[3])


def test_times() -> None:
    second = datetime(2026, 5, 1, 10, 0, 7, tzinfo=UTC).timestamp()
    for text in (
        "2026-05-01T10:00:07Z",
        " 2026-05-01T10:00:07z\n",
        "2026-05-01 10:00:07+00:00",
        "20260501T100007Z",
    ):
        assert parse_time(text) == (second, True)
    assert parse_time("2026-05-01T10:00:07,5Z") == (second + 0.5, True)
    assert parse_time("2026-05-01T10:00:07.123456789Z")[0] == pytest.approx(second + 0.123456, abs=1e-6)
    assert parse_time("2026-05-01T10:00:07") == (second, False)
    for text in ("", "yesterday", "2026-13-01T00:00:00Z", "2026-05-01T10:00:60Z", "1780000000", "9" * 999):
        assert math.isnan(parse_time(text)[0])


def test_times_without_zone_and_unreadable_ones_are_counted() -> None:
    raw = parse(document(PLAIN.replace("10:00:07Z", "10:00:07").replace("10:00:08Z", "10:00:61Z")))
    assert {n.code: n.count for n in raw.notes} == {"no-time-zone": 1, "bad-time": 1}


def test_altitudes_with_a_decimal_comma_are_counted_and_not_guessed() -> None:
    raw = parse(document(re.sub(r"<ele>(\d+)</ele>", r"<ele>\1,5</ele>", PLAIN, count=12)))
    assert np.flatnonzero(np.isnan(raw.altitude_m)).tolist() == list(range(12))
    assert {n.code: n.count for n in raw.notes} == {"unreadable-altitude": 12}
