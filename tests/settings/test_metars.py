"""The reports of the ``metar`` library's own tests (python-metar, test/test_metar.py), with what those tests say of wind and temperature.

Ours reads with that library: what is held here is that the way in and out keeps every value, and that what the tests call missing or illegal
never becomes a wind.
"""

from __future__ import annotations

import pytest

from analyser.errors import SettingsError
from analyser.settings.metar import read_metar
from analyser.settings.reports import read_report

KNOT, KMH = 1852 / 3600, 1 / 3.6  # exact definitions
HEAD = "KEWR 101651Z "

# group: direction, speed [m/s], gust [m/s]
WINDS = {
    "09010KT": (90, 10 * KNOT, None),
    "09010MPS": (90, 10.0, None),
    "09010KMH": (90, 10 * KMH, None),
    "090010KT": (90, 10 * KNOT, None),
    "000000KT": (None, 0.0, None),
    "VRB03KT": (None, 3 * KNOT, None),
    "VRB00KT": (None, 0.0, None),
    "VRB03G40KT": (None, 3 * KNOT, 40 * KNOT),
    "21010G30KT": (210, 10 * KNOT, 30 * KNOT),
    "21010KT 180V240": (210, 10 * KNOT, None),
    "OOOOOKT": (None, 0.0, None),
    "09010K": (90, 10 * KNOT, None),
    "09010T": (90, 10 * KNOT, None),
    "09010LT": (90, 10 * KNOT, None),
    "09010KTS": (90, 10 * KNOT, None),
    "VRBOOK": (None, 0.0, None),
    "///00KT": (None, 0.0, None),
    "09010G//KT": (90, 10 * KNOT, None),
    "09010GMKT": (90, 10 * KNOT, None),
    "09010GMMKT": (90, 10 * KNOT, None),
    "09010G7KT": (90, 10 * KNOT, 7 * KNOT),
    "MMM00KT": (None, 0.0, None),
}
# what follows 09010KT without touching it, and the temperature where one is told
AFTER = {
    "10SM": None,
    "3/8SM": None,
    "1 3/4SM": None,
    "5000": None,
    "5000M": None,
    "CAVOK": None,
    "1000W 3000": None,
    "1000 3000NE": None,
    "5KM": None,
    "5000E": None,
    "7000NDV": None,
    "M1000": None,
    "P6000": None,
    "CAVOK 02/01": 2.0,
    "5000 02/01": 2.0,
    "10SM -SN OVC020 23/05 Q1001 TEMPO FM0306 BKN030CU": 23.0,
    "10SM -SN OVC020 23/05 Q1001 BECMG 0306 VRB06KT": 23.0,
    "10SM -SN OVC020 23/05 Q1001 TEMPO FM0306 TL0345 01030G50KT": 23.0,
    "10SM -SN OVC020 23/05 Q1001 TEMPO 0306 RMK 402500072": 23.0,
}
WINDY = {
    "METAR WSSS 280900Z 26009KT 180V350 0600 R20R/1900D R20C/1600D +TSRA FEW008 SCT013CB FEW015TCU 24/23 Q1010 BECMG FM0920 TL0930 3000 TSRA": (260, 9, None, 24),
    "KABI 031752Z 30010KT 6SM BR FEW009 OVC036 02/01 A3003 RMK AO2 SLP176 60001 I3003 T00170006 10017 21006 56017=": (300, 10, None, 2),
    "METAR LOXZ 141420Z 08006KT 20KM VCSH FEW025SC SCT040SC BKN090AC 21/14 Q1015 BECMG SCT090": (80, 6, None, 21),
    "METAR FSIA 220100Z AUTO 14014KT 120V180 9999 ///////// 27/23 Q1010": (140, 14, None, 27),
    "METAR KPIT 091955Z COR 22015G25KT 3/4SM R28L/2600FT TSRA OVC010CB 18/16 A2992 RMK SLP045 T01820159": (220, 15, 25, 18),
    "METAR KEWR 111851Z VRB03G19KT 2SM R04R/3000VP6000FT TSRA BR FEW015 BKN040CB BKN065 OVC200 22/22 A2987 RMK AO2 PK WND 29028/1817 WSHFT 1812 TSB05RAB22 SLP114 FRQ LTGICCCCG TS OHD AND NW-N-E MOV NE P0013 T02270215": (None, 3, 19, 22),
}  # fmt: skip
WHOLE = {
    "EGNX 191250Z VRB03KT 9999 -RASN FEW008 SCT024 BKN046 M01/M03 Q0989 09690692 27550591": (-1.0, 989.0),
    "EGNX 191250Z VRB03KT 9999 -RASN FEW008 SCT024 BKN046 M01/M03 Q0989 09SNOCLO": (-1.0, 989.0),
    "EGNX 191250Z VRB03KT 9999 -RASN FEW008 SCT024 BKN046 M01/M03 Q0989 09CLRD//": (-1.0, 989.0),
}
MISSING = ("/////KT", "000//KT", "/////", "MMMMMKT", "000MMKT", "MMMMM", "MMMMMGMMKT", "MMMMMG01KT")
# the library's tests take 09010 for knots or for metres a second, by the country: too much is at stake for a guess
ILLEGAL = (
    "09010",
    "09010G20",
    "VRB03",
    "90010KT",
    "9010KT",
    "09010 KT",
    "09010FPS",
    "09010MPH",
    "00///KT",
    "VAR10KT",
    "123UnME",
)


def test_there_are_fifty() -> None:
    assert len(WINDS) + len(AFTER) + len(WINDY) + len(WHOLE) >= 50


@pytest.mark.parametrize("group", WINDS)
def test_winds(group: str) -> None:
    direction, speed, gust = WINDS[group]
    found = read_metar(HEAD + group)
    assert (found.station, found.when) == ("KEWR", "101651Z")
    assert found.from_deg == direction
    assert found.speed_mps == pytest.approx(speed, rel=1e-3)
    assert found.gust_mps == (None if gust is None else pytest.approx(gust, rel=1e-3))
    assert found.range_deg == ((180, 240) if "180V240" in group else None)
    (point,) = read_report(HEAD + group).points
    assert point.agl_m == 10.0
    assert point.speed_mps == pytest.approx(0.0 if direction is None else speed, rel=1e-3)


@pytest.mark.parametrize("group", AFTER)
def test_what_follows_does_not_touch_the_wind(group: str) -> None:
    found = read_metar(f"{HEAD}09010KT {group}")
    assert (found.from_deg, found.gust_mps, found.range_deg) == (90, None, None)
    assert found.speed_mps == pytest.approx(10 * KNOT, rel=1e-3)
    assert found.temperature_c == AFTER[group]


@pytest.mark.parametrize("text", WHOLE)
def test_whole_reports(text: str) -> None:
    found = read_metar(text)
    assert (found.temperature_c, found.qnh_hpa) == WHOLE[text]
    assert (found.station, found.from_deg) == ("EGNX", None)


@pytest.mark.parametrize("text", WINDY)
def test_windy_reports(text: str) -> None:
    direction, knots, gust, temperature = WINDY[text]
    found = read_metar(text)
    assert found.from_deg == direction
    assert found.speed_mps == pytest.approx(knots * KNOT, rel=1e-3)
    assert found.gust_mps == (None if gust is None else pytest.approx(gust * KNOT, rel=1e-3))
    assert found.temperature_c == pytest.approx(
        temperature, abs=0.8
    )  # the group T has the tenth, the other one was cut
    assert found.range_deg == {"WSSS": (180, 350), "FSIA": (120, 180)}.get(found.station)


@pytest.mark.parametrize("group", MISSING)
def test_a_missing_wind_is_none(group: str) -> None:
    with pytest.raises(SettingsError, match=r"tells no wind|can not be read"):
        read_metar(HEAD + group)


@pytest.mark.parametrize("group", ILLEGAL)
def test_an_illegal_group_is_no_wind(group: str) -> None:
    with pytest.raises(SettingsError):
        read_metar(f"{HEAD}{group} 10SM")
