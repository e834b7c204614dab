"""METAR and winds aloft: groups worked out in published descriptions, and what a plan makes of them."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from time import process_time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as tries
from hypothesis import strategies as st

from analyser.atmosphere import density_factor, density_ratio
from analyser.errors import AnalyserError, SettingsError
from analyser.settings.aloft import is_aloft, read_aloft, read_group
from analyser.settings.metar import is_metar, read_metar
from analyser.settings.reports import is_report, read_report
from analyser.settings.toml import parse_settings
from analyser.settings.winds import read_winds

FOOT, KNOT = 0.3048, 1852 / 3600  # exact definitions

# Groups with what their publishers say they mean: direction, knots, temperature. The text of NWS Instruction 10-812 itself was not to be had; these
# publishers repeat its rules, and bulletins as the service issued them stand in test_aloft_bulletins.py.
WORKED = {
    ("3127", 3000): (310, 27, None),  # en.wikipedia.org, Winds aloft
    ("731960", 30000): (230, 119, -60),  # the same; also AC 00-45, Aviation Weather Services
    ("7799", 34000): (270, 199, None),  # the same: 199 kt or more
    ("7345", 34000): (230, 145, None),  # navyflightmanuals.tpub.com, P-1246
    ("7399", 34000): (230, 199, None),  # the same
    ("274650", 30000): (270, 46, -50),  # navyflightmanuals.tpub.com, P-304
    ("2435+07", 9000): (240, 35, 7),  # the same
    ("750456", 39000): (250, 104, -56),  # humbleaviation.com, winds and temperatures aloft
    ("2024+06", 12000): (200, 24, 6),  # the same, Abilene at 12,000 ft
    ("2331-10", 18000): (230, 31, -10),  # the same, at 18,000 ft
    ("9900", 3000): (None, 0, None),  # all of them: light and variable
    ("9900+05", 6000): (None, 0, 5),
}


@pytest.mark.parametrize("group", WORKED)
def test_worked_groups(group: tuple[str, int]) -> None:
    text, height = group
    direction, knots, temperature = WORKED[group]
    row = read_group(text, height)
    assert row is not None
    assert row.from_deg == direction
    assert row.speed_mps == pytest.approx(knots * KNOT)
    assert row.temperature_c == temperature
    assert row.msl_m == pytest.approx(height * FOOT)


@pytest.mark.parametrize("text", ["", "27", "0010", "4510", "9950", "27x5", "2735+7", "273507", "27355+07"])
def test_what_is_no_group(text: str) -> None:
    assert read_group(text, 9000) is None


# pilotfriend.com, training: winds and temperatures aloft forecast
BULLETIN = """FD KSJC 161640
VALID 161800Z FOR USE 1700-2100Z TEMPS NEG ABV 24000

FT    3000    6000    9000   12000   18000   24000
HOU   2619 2728+01 2635-05 2641-09 2654-21 2665-32
JOT   2526 2736+01 2642-06 2649-11 2662-22 2674-33
DEN                2330-03 2330-06 2343-17 2355-29
"""


def test_a_bulletin() -> None:
    name, when, rows = read_aloft(BULLETIN, "jot")
    assert (name, when) == ("JOT", "valid 161800Z for use 1700-2100Z")
    assert [round(r.speed_mps / KNOT) for r in rows] == [26, 36, 42, 49, 62, 74]
    assert [r.temperature_c for r in rows] == [None, 1, -6, -11, -22, -33]
    assert [r.from_deg for r in rows] == [250, 270, 260, 260, 260, 260]


def test_groups_left_out_are_the_lowest() -> None:
    """No wind is given within 1,500 ft of the ground of a station, so its first columns are blank."""
    rows = read_aloft(BULLETIN, "DEN")[2]
    assert [round(r.msl_m / FOOT) for r in rows] == [9000, 12000, 18000, 24000]


def test_which_station() -> None:
    with pytest.raises(SettingsError, match="3 stations") as caught:
        read_aloft(BULLETIN)
    assert "HOU, JOT, DEN" in caught.value.hint
    with pytest.raises(SettingsError, match="no station XYZ"):
        read_aloft(BULLETIN, "XYZ")
    with pytest.raises(SettingsError, match="no group of winds aloft"):
        read_aloft("FT 3000 6000\nABC 2619 99x1")
    with pytest.raises(SettingsError, match="3 groups under 2 heights"):
        read_aloft("FT 3000 6000\nABC 2619 2619 2619")
    with pytest.raises(SettingsError, match="holds no station"):
        read_aloft("FT 3000 6000\n")


def test_heights_are_brought_to_the_field() -> None:
    found = read_report(BULLETIN, elevation_m=1000 * FOOT, station="HOU")
    assert found.kind == "forecast"
    assert [round(p.agl_m / FOOT) for p in found.points] == [2000, 5000, 8000, 11000, 17000, 23000]
    high = read_report(BULLETIN, elevation_m=7000 * FOOT, station="HOU")
    assert [round(p.agl_m / FOOT) for p in high.points] == [2000, 5000, 11000, 17000]
    with pytest.raises(SettingsError, match="elevation of the landing area is not known"):
        read_report(BULLETIN, station="HOU")


# The reports of the metar library's own tests, with what those tests hold of the wind
METARS = {
    "METAR KEWR 111851Z VRB03G19KT 2SM TSRA BR FEW015 22/22 A2987": (None, 3, 19, 22),
    "METAR KEWR 101651Z 00000KT 10SM CLR 10/M02 A3000": (None, 0, None, 10),
    "METAR KEWR 101651Z 27010KT 10SM CLR M05/M12 A3000": (270, 10, None, -5),
    "METAR KEWR 101651Z 09010G29KT 10SM": (90, 10, 29, None),
    "METAR KEWR 101651Z 110100KT 10SM": (110, 100, None, None),
    "METAR KEWR 101651Z 11010MPS 10SM": (110, 10 / KNOT, None, None),
    "KEWR 101651Z 30018KMH 9999": (300, 18 / 1.852, None, None),
    "SPECI KEWR 101651Z COR 27010KT 240V300 10SM": (270, 10, None, None),
}


@pytest.mark.parametrize("text", METARS)
def test_reports(text: str) -> None:
    direction, knots, gust, temperature = METARS[text]
    found = read_metar(text)
    assert found.station == "KEWR"
    assert found.from_deg == direction
    assert found.speed_mps == pytest.approx(knots * KNOT, rel=1e-3)
    assert found.gust_mps == (None if gust is None else pytest.approx(gust * KNOT, rel=1e-3))
    assert found.temperature_c == temperature
    assert found.range_deg == ((240, 300) if "V300" in text else None)


def test_pressure_in_inches_and_hectopascals() -> None:
    assert read_metar("KXYZ 101651Z 27010KT 20/10 A2992").qnh_hpa == pytest.approx(1013.25, abs=0.1)
    assert read_metar("EXYZ 101650Z 27010KT 20/10 Q0987").qnh_hpa == 987.0


@pytest.mark.parametrize(
    "text", ["", "KXYZ", "KXYZ 101651Z /////KT 20/10", "a report", "KXYZ 991651Z 27010KT"]
)
def test_no_wind_no_report(text: str) -> None:
    with pytest.raises(SettingsError) as caught:
        read_report(text)
    assert "\n" not in str(caught.value)


def test_kinds_of_text() -> None:
    assert is_aloft(BULLETIN)
    assert not is_metar(BULLETIN)
    assert is_metar("METAR KEWR 101651Z 27010KT")
    assert not is_aloft("METAR KEWR 101651Z 27010KT")


PLAN = f'''[site]
elevation_ft = 1000
[[wind]]
metar = "METAR KEWR 111851Z 27008G19KT 10SM 25/15 A2992"
[[wind]]
station = "HOU"
aloft = """
{BULLETIN}"""
'''


def test_a_plan_with_reports() -> None:
    settings = parse_settings(PLAN)
    assert [round(p.agl_m) for p in settings.wind] == [10, 610, 1524, 2438, 3353, 5182, 7010]
    assert [r.kind for r in settings.reports] == ["report", "forecast"]
    assert settings.reports[0].gust_mps == pytest.approx(19 * KNOT, rel=1e-3)
    assert settings.air.temperature_c == 25.0
    assert settings.air.pressure_hpa == pytest.approx(1013.2, abs=0.1)
    assert all("not known" in r.error for r in settings.reports)


def test_air_given_beats_the_report_and_makes_the_density() -> None:
    settings = parse_settings(PLAN + "[air]\ntemperature_c = 35\n")
    assert settings.air.temperature_c == 35.0
    assert settings.air.pressure_hpa == pytest.approx(1013.2, abs=0.1)
    altitude = settings.density_altitude_m(304.8)
    wanted = density_ratio(304.8) * density_factor(35.0, settings.air.pressure_hpa, 304.8)
    assert density_ratio(altitude) == pytest.approx(wanted, rel=1e-9)
    assert parse_settings("").density_altitude_m(304.8) is None


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ('[[wind]]\nmetar = "KXYZ 111851Z 27008KT"\nspeed_kt = 5', "metar says all"),
        ('[[wind]]\nmetar = "nothing"', "neither a METAR"),
        ('[[wind]]\naloft = """FT 3000\\nABC 2710"""', "elevation"),
        ("[[wind]]\nagl_ft = 0", "has no speed_kt"),
        ("[[wind]]\nstation = 'ABC'", "has no agl_ft"),
        ("[air]\ntemperature_c = 90", "out of range"),
    ],
)
def test_mistakes_in_a_plan(text: str, match: str) -> None:
    with pytest.raises(SettingsError, match=match):
        parse_settings(text)


def test_density() -> None:
    """In the standard atmosphere the factor is 1; at sea level and its pressure it is the ratio of temperatures (ideal gas)."""
    for height in (0.0, 500.0, 2000.0):
        assert density_factor(15.0 - 0.0065 * height, 1013.25, height) == pytest.approx(1.0, abs=1e-9)
    assert density_factor(30.0, 1013.25, 0.0) == pytest.approx(288.15 / 303.15, abs=1e-9)
    assert density_factor(15.0, 1000.0, 0.0) == pytest.approx(1000 / 1013.25, abs=1e-9)


def test_winds_of_a_file(tmp_path: Path) -> None:
    (tmp_path / "aloft.txt").write_text(BULLETIN)
    found = read_winds(tmp_path / "aloft.txt", elevation_m=0.0, station="HOU")
    east, north = found.vector(np.array([3000 * FOOT]))
    assert (float(east[0]), float(north[0])) == pytest.approx(
        (-19 * KNOT * np.sin(np.radians(260)), -19 * KNOT * np.cos(np.radians(260)))
    )
    (tmp_path / "metar.txt").write_text("METAR KEWR 111851Z VRB03KT 10SM 25/15 A2992")
    assert read_winds(tmp_path / "metar.txt").east.tolist() == [0.0]


@tries(max_examples=200, deadline=None)
@given(st.lists(st.sampled_from(["FT 3000 6000", "ABC 2710 2710-05", "KEWR 111851Z", "27008G19KT", "VRB", "9900", "M05/", "RMK AO2", "A2992", "="]) | st.text(max_size=20), max_size=8))  # fmt: skip
def test_only_our_errors_escape(words: list[str]) -> None:
    for text in (" ".join(words), "\n".join(words), "KEWR 111851Z " + " ".join(words)):
        try:
            read_report(text, 0.0)
        except AnalyserError:
            continue


HEAPS = {
    "blank lines": "\n" * 4_000_000,
    "blanks": " " * 4_000_000,
    "blank lines that end like elsewhere": " \r\n" * 1_300_000,
    "heights": "FT " + "3000 " * 800_000,
    "lines of heights": "FT 3000\n" * 500_000,
    "stations": "FT 3000 6000\n" + "ABC 2710 2710+05\n" * 230_000,
    "validities": "FT 3000\nABC 2710\n" + "VALID " * 600_000,
    "begun TAFs": "TAF KXYZ " * 400_000,
    "a TAF and blanks": "TAF" + " " * 4_000_000,
    "winds": "TAF KXYZ 141130Z 1412/1518 " + "27010KT " * 500_000,
    "begun METARs": "KXYZ 141130Z " * 300_000,
    "one word": "KXYZ 141130Z 27010KT " + "A" * 4_000_000,
}


@pytest.mark.parametrize("text", HEAPS.values(), ids=HEAPS)
def test_heaps_of_text_take_no_time(text: str) -> None:
    """In seconds of CPU; a look for blanks at every line once took minutes for the first of them."""
    begun = process_time()
    for what in (text, text[:100_000]):
        is_report(what)
        with suppress(SettingsError):
            read_report(what, 0.0)
    assert process_time() - begun < 5.0
