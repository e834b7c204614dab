"""IGC: aerofiles' fixes on whole files, hand-made ones for what it leaves aside (further digits, midnight, validity)."""

from __future__ import annotations

import io
from datetime import UTC, datetime

import numpy as np
import pytest
from aerofiles.igc import Reader
from fix_cases import descent
from hypothesis import given, settings
from hypothesis import strategies as st
from track_writers import chunks, igc

from analyser.errors import AnalyserError, FormatError, NoFixesError
from analyser.importers.igc import read_igc
from analyser.importers.raw import RawFixes
from analyser.importers.read import read

HEAD = "AXXX001\r\nHFDTE010526\r\n"
FIX = "B1000004700000N00800000EA0040000450"


def parse(text: str | bytes, block: int = 1 << 16) -> RawFixes:
    return read_igc(chunks(text.encode() if isinstance(text, str) else text, block))


def by_aerofiles(data: bytes) -> np.ndarray:
    """(time, lat, lon, pressure height, satellite height) of every fix."""
    rows = Reader().read(io.StringIO(data.decode("latin-1"), newline=None))["fix_records"][1]
    return np.array(
        [[r["datetime"].timestamp(), r["lat"], r["lon"], r["pressure_alt"], r["gps_alt"]] for r in rows]
    )


@pytest.mark.parametrize("block", [1 << 16, 7])
def test_a_descent_as_aerofiles_reads_it(block: int) -> None:
    fixes = descent()
    data = igc(fixes.t, fixes.lat, fixes.lon, fixes.alt, fixes.alt - 120.0)
    raw, other = parse(data, block), by_aerofiles(data)
    assert len(raw) == other.shape[0] == fixes.t.size
    np.testing.assert_array_equal(raw.time_s, other[:, 0])
    # aerofiles leaves LAD and LOD aside: what they add is below a thousandth of a minute
    np.testing.assert_allclose(raw.lat_deg, other[:, 1], rtol=0, atol=1e-3 / 60)
    np.testing.assert_allclose(raw.lon_deg, other[:, 2], rtol=0, atol=1e-3 / 60)
    np.testing.assert_array_equal(raw.altitude_m, other[:, 3])
    np.testing.assert_array_equal(raw.gps_altitude_m, other[:, 4])
    assert raw.altitude_source == "barometric"
    assert raw.device == "TEST RECORDER"
    np.testing.assert_allclose(raw.lat_deg, fixes.lat, rtol=0, atol=1e-5 / 60)
    np.testing.assert_allclose(raw.lon_deg, fixes.lon, rtol=0, atol=1e-5 / 60)


def test_without_further_digits_exactly_as_aerofiles() -> None:
    rng = np.random.default_rng(1)
    lines = ["AXXX001", "HFDTEDATE:010526,01"]
    for i in range(300):
        d = rng.integers(0, 60000, 2)
        lines.append(
            f"B10{i // 60:02d}{i % 60:02d}{rng.integers(0, 90):02d}{d[0]:05d}{'NS'[i % 2]}{rng.integers(0, 180):03d}{d[1]:05d}{'EW'[i // 2 % 2]}A-0012{i:05d}"
        )
    data = "\n".join([*lines, ""]).encode()
    raw, other = parse(data), by_aerofiles(data)
    got = np.stack([raw.time_s, raw.lat_deg, raw.lon_deg, raw.altitude_m, raw.gps_altitude_m], axis=1)
    np.testing.assert_allclose(got, other, rtol=0, atol=1e-9)
    assert np.all(raw.altitude_m == -12)


def test_further_digits_by_hand() -> None:
    """47°15.123' with LAD 45 is 47 + 15.12345/60; 008°30.678' with LOD 90 is 8 + 30.67890/60; TDS 5 is half a second."""
    raw = parse(HEAD + "I033637LAD3839LOD4040TDS\r\nB1000004715123N00830678EA004000045045905\r\n")
    assert raw.lat_deg[0] == pytest.approx(47 + 15.12345 / 60, abs=1e-12)
    assert raw.lon_deg[0] == pytest.approx(8 + 30.67890 / 60, abs=1e-12)
    assert raw.time_s[0] == datetime(2026, 5, 1, 10, 0, 0, 500_000, UTC).timestamp()
    south = parse(HEAD + "I023636LAD3737LOD\nB1000004715123S00830678WA004000045049\n")
    assert south.lat_deg[0] == pytest.approx(-(47 + 15.1234 / 60), abs=1e-12)
    assert south.lon_deg[0] == pytest.approx(-(8 + 30.6789 / 60), abs=1e-12)


def test_midnight_and_a_date_that_stands_again() -> None:
    midnight = datetime(2026, 5, 2, tzinfo=UTC).timestamp()
    rows = [FIX.replace("100000", clock) for clock in ("235958", "235959", "000000", "000001")]
    raw = parse(HEAD + "\n".join(rows))
    np.testing.assert_array_equal(raw.time_s - midnight, [-2, -1, 0, 1])
    again = parse(HEAD + "\n".join([*rows[:2], "HFDTE020526", *rows[2:]]))
    np.testing.assert_array_equal(again.time_s - midnight, [-2, -1, 0, 1])
    twice = parse(HEAD + "\n".join([*rows[:2], "HFDTE010526", *rows[2:]]))
    np.testing.assert_array_equal(twice.time_s - midnight, [-2, -1, 0, 1])


def test_a_small_step_back_is_no_midnight() -> None:
    raw = parse(HEAD + "\n".join(FIX.replace("100000", clock) for clock in ("100005", "100004", "100006")))
    np.testing.assert_array_equal(np.diff(raw.time_s), [-1, 2])


def test_a_void_fix_has_no_satellite_height_and_no_repeated_place() -> None:
    """V with another place is a two-dimensional fix; V with the place before is none at all (RTC time, pressure height)."""
    rows = [
        FIX,
        FIX.replace("100000", "100001").replace("EA", "EV"),
        "B1000024700001N00800000EV0040000450",
        "B1000034700002N00800000EA0040000451",
    ]
    raw = parse(HEAD + "\n".join(rows))
    np.testing.assert_array_equal(np.isnan(raw.lat_deg), [False, True, False, False])
    np.testing.assert_array_equal(np.isnan(raw.gps_altitude_m), [False, True, True, False])
    np.testing.assert_array_equal(raw.altitude_m, 400)


def test_without_a_pressure_sensor_the_height_is_the_satellites() -> None:
    raw = parse(HEAD + "\n".join(FIX.replace("00400", "00000").replace("B10", f"B1{i}") for i in range(3)))
    assert raw.altitude_source == "gps"
    assert raw.gps_altitude_m is None
    np.testing.assert_array_equal(raw.altitude_m, 450)


def test_what_can_not_be_read_is_counted() -> None:
    bad = "B100001470000XN00800000EA0040000450"
    raw = parse(
        HEAD + "\n".join([FIX, bad, FIX.replace("100000", "100002")[:20], FIX.replace("4700000", "4760000")])
    )
    assert len(raw) == 2
    assert np.isnan(raw.lat_deg[1])
    assert {n.code: n.count for n in raw.notes} == {"unreadable-line": 2}


@pytest.mark.parametrize(
    ("text", "error", "match"),
    [
        ("AXXX001\n" + FIX, FormatError, "no date"),
        ("AXXX001\nHFDTE320526\n" + FIX, FormatError, "no date"),
        (HEAD, NoFixesError, "no fix"),
        (HEAD + FIX + "9" * 200_000, FormatError, "100,000 characters"),
    ],
)
def test_refused_with_one_line(text: str, error: type[AnalyserError], match: str) -> None:
    with pytest.raises(error, match=match) as caught:
        parse(text)
    assert "\n" not in str(caught.value)


def test_told_by_content(tmp_path) -> None:
    fixes = descent()
    path = tmp_path / "a.gpx"
    path.write_bytes(igc(fixes.t, fixes.lat, fixes.lon, fixes.alt))
    found = read(path)
    assert (found.format, len(found)) == ("igc", fixes.t.size)
    assert read(path.read_bytes()).sha256 == found.sha256


@settings(max_examples=300, deadline=None)
@given(st.lists(st.sampled_from([FIX, "HFDTE010526", "HFDTE999999", "I013699LAD", "I033637LAD3839LOD4040TDS", "B", "H", "I", "\0"]) | st.text(max_size=50), max_size=12))  # fmt: skip
def test_only_our_errors_escape(rows: list[str]) -> None:
    try:
        raw = parse("\n".join(rows).encode("utf-8", "surrogatepass"), 11)
    except AnalyserError:
        return
    assert len(raw) > 0
