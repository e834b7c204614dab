"""Tables: five ways to name the columns give one track; what is missing or has no unit is said."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest
from fix_cases import START, descent
from hypothesis import given, settings
from hypothesis import strategies as st
from track_writers import chunks, table

from analyser.errors import AnalyserError, FormatError, NoFixesError, SettingsError
from analyser.importers.raw import RawFixes
from analyser.importers.read import read
from analyser.importers.table import is_table, read_table
from analyser.settings.toml import parse_settings
from analyser.track_titles import column_keys, split_unit

FOOT, KNOT = 0.3048, 1852 / 3600  # exact definitions
MAPPED = {
    "time_ms": "Zeit",
    "lat": "Breite",
    "lon": "Länge",
    "altitude_ft": "Höhe",
    "speed_kmh": "v",
    "course": "Kurs",
}
CLOCK = "2026-05-01T12:00:0{}Z"


def parse(text: str, mapped: dict[str, str] | None = None, block: int = 1 << 16) -> RawFixes:
    return read_table(chunks(text.encode(), block), "utf-8", mapped)


def rows(make, titles: str) -> str:
    return "\n".join([titles, *(make(i) for i in range(5)), ""])


NAMINGS = {
    "plain": (rows(lambda i: f"{CLOCK.format(i)},47.00{i},8.5,{300 * FOOT - i},10.0,90", "time,lat,lon,altitude_m,speed_mps,course_deg"), None),
    "brackets": (rows(lambda i: f"2026-05-01 12:00:0{i}+00:00,47.00{i},8.5,{300 - i / FOOT},36.0,90", "Timestamp,Latitude (deg),Longitude [°],Altitude (ft),Ground Speed (km/h),Course"), None),
    "semicolons": (rows(lambda i: f"{START + i:.1f};47,00{i};8,5;{300 * FOOT - i:.10f};36,0;90".replace(".", ","), "unix_utc_s;latitude;longitude;elevation_m;speed_km/h;course_over_ground"), None),
    "date beside time": (rows(lambda i: f"2026-05-01\t12:00:0{i}Z\t47.00{i}\t8.5\t{300 * FOOT - i}\t{10 / KNOT}\t90", "date\ttime\tlat\tlng\tAlt (metres)\tspeed (knots)\ttrack"), None),
    "mapped": (rows(lambda i: f'{(START + i) * 1000:.0f},"47.00{i}",8.5,{300 - i / FOOT},36.0,90', "# a comment\n\nZeit,Breite,Länge,Höhe,v,Kurs"), MAPPED),
    "components": (rows(lambda i: f"{CLOCK.format(i)},47.00{i},8.5,{300 * FOOT - i},10,0", "utc,lat,lon,pressure_altitude_m,v_east_mps,v_north_mps"), None),
}  # fmt: skip


@pytest.mark.parametrize("name", NAMINGS)
@pytest.mark.parametrize("block", [1 << 16, 5])
def test_namings_give_one_track(name: str, block: int) -> None:
    raw = parse(*NAMINGS[name], block)
    np.testing.assert_allclose(raw.time_s, START + np.arange(5), rtol=0, atol=1e-6)
    np.testing.assert_allclose(raw.lat_deg, 47 + np.arange(5) / 1000, rtol=0, atol=1e-12)
    np.testing.assert_allclose(raw.lon_deg, 8.5)
    np.testing.assert_allclose(raw.altitude_m, 300 * FOOT - np.arange(5), rtol=0, atol=1e-9)
    np.testing.assert_allclose(raw.speed_mps, 10.0)
    np.testing.assert_allclose(raw.course_deg, 90.0)
    assert raw.notes == ()
    assert raw.altitude_source == ("barometric" if name == "components" else "unknown")


@pytest.mark.parametrize(
    ("title", "parts"),
    [
        ("altitude_m", ("altitude", "m")),
        ("Altitude (feet)", ("altitude", "ft")),
        ("Speed m/s", ("speed", "mps")),
        ("speed.over.ground [kn]", ("speed_over_ground", "kt")),
        ("time_utc", ("time_utc", "")),
        ("m", ("m", "")),
        ("  ", ("", "")),
    ],
)
def test_name_and_unit_of_a_title(title: str, parts: tuple[str, str]) -> None:
    assert split_unit(title) == parts


def test_our_own_samples_are_a_track_and_winds_are_none() -> None:
    assert is_table("utc,lat,lon,agl_m,east_m\n1,2,3,4,5")
    assert not is_table("agl_m,east_mps,north_mps\n0,1,2")
    assert not is_table("a track, but in words")


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("time,lat,lon,altitude\n1,2,3,4", "'altitude' names no unit"),
        ("time,lat,lon\n1,2,3", "no column altitude_m"),
        ("lat,lon,altitude_m\n1,2,3", "no column time"),
        ("time,lat,altitude_m\n1,2,3", "no column lon"),
        ("time,lat,lon,altitude_m\n12,47,8,400", "numbers without a unit"),
        ("time,lat,lon,altitude_m" + ",x" * 3000, "more than 2000 columns"),
        ("time,lat,lon,altitude_m\n" + "9" * 200_000, "100,000 characters"),
    ],
)
def test_what_is_missing_is_said(text: str, match: str) -> None:
    with pytest.raises(FormatError, match=match) as caught:
        parse(text)
    assert "\n" not in str(caught.value)
    assert caught.value.hint


def test_only_titles() -> None:
    with pytest.raises(NoFixesError, match="no row"):
        parse("time,lat,lon,altitude_m\n")


def test_what_can_not_be_read_is_counted() -> None:
    text = "time,lat,lon,altitude_m\n2026-05-01T12:00:00Z,47,8,400\nyesterday,47,8,400\n2026-05-01T12:00:01,47,8,n/a\nshort,1\n"
    raw = parse(text)
    assert len(raw) == 3
    assert {n.code: n.count for n in raw.notes} == {
        "bad-time": 1,
        "unreadable-altitude": 1,
        "no-time-zone": 1,
        "unreadable-line": 1,
    }


@pytest.mark.parametrize("empty", [",,", ";;", '"","",""', " , , "])
def test_rows_of_empty_cells_are_no_rows(empty: str) -> None:
    """A spreadsheet writes them below its last row, millions of them in a hostile file."""
    titles = "time,lat,lon,altitude_m".replace(",", ";" if ";" in empty else ",")
    made = rows(lambda i: ",".join((CLOCK.format(i), "49.7", "-107.9", "900")), titles)
    text = made.replace(",", ";") if ";" in empty else made
    assert parse(text + f"{empty}\n" * 3).time_s.tolist() == parse(text).time_s.tolist()
    assert parse(text + f"{empty}\n" * 3).notes == parse(text).notes


def test_columns_of_a_plan_file_reach_the_reader(tmp_path) -> None:
    text = "[columns]\n" + "\n".join(f'{key} = "{title}"' for key, title in MAPPED.items())
    columns = parse_settings(text).columns
    assert columns == MAPPED
    (tmp_path / "a.csv").write_text(NAMINGS["mapped"][0], encoding="utf-8")
    assert len(read(tmp_path / "a.csv", columns=columns)) == 5
    with pytest.raises(FormatError, match="not a track"):
        read(tmp_path / "a.csv")
    with pytest.raises(SettingsError, match="did you mean altitude_m"):
        parse_settings('[columns]\naltitud_m = "x"')
    assert {"time", "time_s", "lat", "altitude_ft", "speed_kmh"} <= set(column_keys())
    assert "altitude" not in column_keys()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "iso-8859-1"])
def test_encodings(tmp_path, encoding: str) -> None:
    fixes = descent()
    text = table(fixes.t, fixes.lat, fixes.lon, fixes.alt).decode().replace("altitude_m", "altitude_m,Höhe")
    text = "\n".join(line if i == 0 else f"{line},1" for i, line in enumerate(text.splitlines()))
    (tmp_path / "a").write_bytes(text.encode(encoding))
    found = read(tmp_path / "a")
    assert (found.format, len(found)) == ("csv", fixes.t.size)
    assert found.time_s[0] == datetime(2026, 5, 1, 12, tzinfo=UTC).timestamp()


@settings(max_examples=300, deadline=None)
@given(st.lists(st.sampled_from(["time,lat,lon,altitude_m", "1,2,3,4", '"', ",,,", ";", "2026-05-01T12:00:00Z,47,8,400", "\0"]) | st.text(max_size=40), max_size=12))  # fmt: skip
def test_only_our_errors_escape(lines: list[str]) -> None:
    text = "\n".join(lines)
    try:
        raw = read_table(chunks(text.encode("utf-8", "surrogatepass"), 11), "utf-8", {"lat": "x"})
    except AnalyserError:
        return
    assert len(raw) > 0
