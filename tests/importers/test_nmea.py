"""NMEA 0183: pynmea2's values on whole logs; dates, voids, checksums and midnight by hand."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pynmea2
import pytest
from fix_cases import descent
from hypothesis import given, settings
from hypothesis import strategies as st
from track_writers import chunks, nmea, sentence, sexagesimal

from analyser.errors import AnalyserError, FormatError, NoFixesError
from analyser.importers.nmea import read_nmea
from analyser.importers.raw import RawFixes
from analyser.importers.read import read

# pynmea2's own documentation and common descriptions of the sentences use these
GGA = "$GPGGA,184353.07,1929.045,S,02410.506,E,1,04,2.6,100.00,M,-33.9,M,,0000*6D"
RMC = "$GPRMC,225446,A,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E*68"
VTG = "$GPVTG,360.0,T,348.7,M,000.0,N,000.0,K*43"


def parse(text: str | bytes, block: int = 1 << 16) -> RawFixes:
    return read_nmea(chunks(text.encode() if isinstance(text, str) else text, block))


@pytest.mark.parametrize("block", [1 << 16, 7])
def test_a_descent_as_pynmea2_reads_it(block: int) -> None:
    fixes = descent()
    data = nmea(fixes.t, fixes.lat, fixes.lon, fixes.alt)
    messages = [pynmea2.parse(line, check=True) for line in data.decode().split()]
    gga = [m for m in messages if m.sentence_type == "GGA"]
    rmc = [m for m in messages if m.sentence_type == "RMC"]
    raw = parse(data, block)
    assert len(raw) == len(rmc) == len(gga)
    np.testing.assert_array_equal(raw.time_s, [m.datetime.replace(tzinfo=UTC).timestamp() for m in rmc])
    np.testing.assert_allclose(raw.lat_deg, [m.latitude for m in gga], rtol=0, atol=1e-12)
    np.testing.assert_allclose(raw.lon_deg, [m.longitude for m in gga], rtol=0, atol=1e-12)
    np.testing.assert_array_equal(raw.altitude_m, [m.altitude for m in gga])
    assert raw.altitude_source == "gps"


@settings(max_examples=150, deadline=None)
@given(
    st.floats(-89.9, 89.9),
    st.floats(-179.9, 179.9),
    st.floats(0, 200).map(lambda v: round(v, 2)),
    st.floats(0, 359.9).map(lambda v: round(v, 1)),
    st.datetimes(datetime(2000, 1, 1), datetime(2068, 12, 31)),
)
def test_one_fix_as_pynmea2_reads_it(
    lat: float, lon: float, knots: float, course: float, moment: datetime
) -> None:
    (la, ns), (lo, ew) = sexagesimal(lat, "NS", 2, 4), sexagesimal(lon, "EW", 3, 4)
    line = sentence(f"GNRMC,{moment:%H%M%S},A,{la},{ns},{lo},{ew},{knots},{course},{moment:%d%m%y},,,A")
    message, raw = pynmea2.parse(line), parse(line)
    assert raw.lat_deg[0] == pytest.approx(message.latitude, abs=1e-12)
    assert raw.lon_deg[0] == pytest.approx(message.longitude, abs=1e-12)
    assert raw.speed_mps[0] == pytest.approx(message.spd_over_grnd * 1852 / 3600)
    assert raw.course_deg[0] == message.true_course
    assert raw.time_s[0] == message.datetime.replace(tzinfo=UTC).timestamp()


def test_sentences_of_textbooks() -> None:
    raw = parse("\n".join([RMC, "$GPGGA,225446,4916.45,N,12311.12,W,1,08,0.9,545.4,M,46.9,M,,"]))
    assert len(raw) == 1
    assert raw.lat_deg[0] == pytest.approx(49 + 16.45 / 60)
    assert raw.lon_deg[0] == pytest.approx(-(123 + 11.12 / 60))
    assert raw.altitude_m[0] == 545.4
    assert raw.speed_mps[0] == pytest.approx(0.5 * 1852 / 3600)
    assert raw.time_s[0] == datetime(1994, 11, 19, 22, 54, 46, tzinfo=UTC).timestamp()
    assert raw.notes == ()


def test_speed_from_vtg_where_rmc_has_none() -> None:
    """36 km/h are 10 m/s; the short form of version 1.5 has no letters."""
    rmc = sentence("GPRMC,100000,A,4700.00,N,00800.00,E,,,010526,,")
    for vtg in ("GPVTG,90.0,T,,M,19.4,N,36.0,K", "GPVTG,90.0,,19.4,36.0"):
        raw = parse("\n".join([rmc, sentence(vtg)]))
        assert raw.speed_mps[0] == pytest.approx(10.0)
        assert raw.course_deg[0] == 90.0
    assert parse("\n".join([rmc, VTG])).course_deg[0] == 360.0


def test_date_for_fixes_before_the_first_and_over_midnight() -> None:
    gga = [
        sentence(f"GPGGA,{c},4700.00,N,00800.00,E,1,8,1,500,M,,M,,")
        for c in ("235958", "235959", "000000", "000001", "000002")
    ]
    rmc = sentence("GPRMC,000001,A,4700.00,N,00800.00,E,,,020526,,")
    raw = parse("\n".join([*gga[:4], rmc, gga[4]]))
    midnight = datetime(2026, 5, 2, tzinfo=UTC).timestamp()
    np.testing.assert_array_equal(raw.time_s - midnight, [-2, -1, 0, 1, 2])


def test_a_void_fix_has_no_place() -> None:
    rows = ["GPRMC,100000,V,4700.00,N,00800.00,E,,,010526,,", "GPRMC,100001,A,4700.00,N,00800.00,E,,,010526,,", "GPGGA,100001,4700.00,N,00800.00,E,0,8,1,500,M,,M,,", "GPRMC,100002,A,4700.00,N,00800.00,E,,,010526,,"]  # fmt: skip
    raw = parse("\n".join(sentence(r) for r in rows))
    np.testing.assert_array_equal(np.isnan(raw.lat_deg), [True, True, False])


def test_wrong_checksums_are_left_out_and_counted_and_text_around_is_no_matter() -> None:
    rows = [f"12:00:00.1 com3: {RMC}\x1b[0m", RMC.replace("4916", "4917"), GGA.replace("*6D", "")]
    raw = parse("\r\n".join(rows))
    assert len(raw) == 2
    assert {n.code: n.count for n in raw.notes} == {"wrong-checksum": 1}


@pytest.mark.parametrize(
    ("text", "error", "match"),
    [
        (GGA, FormatError, "no date"),
        (VTG, NoFixesError, "no fix"),
        (sentence("GPRMC,250000,A,4700.00,N,00800.00,E,,,010526,,"), NoFixesError, "no fix"),
        ("$" * 200_000, FormatError, "100,000 characters"),
    ],
)
def test_refused_with_one_line(text: str, error: type[AnalyserError], match: str) -> None:
    with pytest.raises(error, match=match) as caught:
        parse(text)
    assert "\n" not in str(caught.value)


def test_told_by_content(tmp_path) -> None:
    fixes = descent()
    (tmp_path / "a").write_bytes(nmea(fixes.t, fixes.lat, fixes.lon, fixes.alt))
    found = read(tmp_path / "a")
    assert (found.format, len(found), found.altitude_source) == ("nmea", fixes.t.size, "gps")


@settings(max_examples=300, deadline=None)
@given(st.lists(st.sampled_from([GGA, RMC, VTG, "$GPRMC,", "$GPGGA,,,,,,,,,,,", "$GPVTG,,,,,,,,,", ",", "*", "\0"]) | st.text(max_size=40), max_size=12))  # fmt: skip
def test_only_our_errors_escape(rows: list[str]) -> None:
    try:
        raw = parse("\n".join(rows).encode("utf-8", "surrogatepass"), 11)
    except AnalyserError:
        return
    assert len(raw) > 0
