"""TAFs: the example of ICAO Annex 3 and that of the FAA's key, with what their explanations say; the limits; only our errors."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import settings as tries
from hypothesis import strategies as st

from analyser.errors import SettingsError
from analyser.settings.reports import read_report
from analyser.settings.taf import _groups, is_taf, read_taf
from analyser.settings.toml import parse_settings
from analyser.settings.winds import read_winds

KNOT = 1852 / 3600  # exact definition

# ICAO Annex 3, appendix 5, example A5-1, as doc 8896 and Annex 3 explain it: surface wind 130° 5 m/s; temporarily between 08 and 12 UTC 170°
# 6 m/s gusting to 12; from 1230 UTC 150° 4 m/s
ICAO = (
    "TAF YUDO 151800Z 1600/1618 13005MPS 9000 BKN020 BECMG 1606/1608 SCT015CB BKN020 "
    "TEMPO 1608/1612 17006G12MPS 1000 TSRA SCT010CB BKN020 FM161230 15004MPS 9999 BKN020="
)
# FAA, Aeronautical Information Manual, figure "Key to aerodrome forecast"
FAA = """TAF KPIT 091730Z 0918/1024 15005KT 5SM HZ FEW020 WS010/31022KT
     FM091930 30015G25KT 3SM SHRA OVC015
       TEMPO 0920/0922 1/2SM +TSRA OVC008CB
     FM100100 27008KT 5SM SHRA BKN020 OVC040
       PROB30 1004/1007 1SM -RA BR
     FM101015 18005KT 6SM -SHRA OVC020
       BECMG 1013/1015 P6SM NSW SKC
"""

READ = [
    (ICAO, None, 130, 5.0, None),
    (ICAO, "160759Z", 130, 5.0, None),
    (ICAO, "160800Z", 130, 5.0, 12.0),
    (ICAO, "161200Z", 130, 5.0, None),
    (ICAO, "161229", 130, 5.0, None),
    (ICAO, "161230Z", 150, 4.0, None),
    (FAA, None, 150, 5 * KNOT, None),
    (FAA, "091929Z", 150, 5 * KNOT, None),
    (FAA, "091930Z", 300, 15 * KNOT, 25 * KNOT),
    (FAA, "100100Z", 270, 8 * KNOT, None),
    (FAA, "101014Z", 270, 8 * KNOT, None),
    (FAA, "102400Z", 180, 5 * KNOT, None),
]


@pytest.mark.parametrize(("text", "at", "direction", "speed", "gust"), READ)
def test_the_wind_at_a_time(
    text: str, at: str | None, direction: int, speed: float, gust: float | None
) -> None:
    found = read_taf(text, at)
    assert found.from_deg == direction
    assert found.speed_mps == pytest.approx(speed)
    assert found.gust_mps == (None if gust is None else pytest.approx(gust))


def test_a_change_is_there_when_it_has_become_and_the_month_may_end() -> None:
    text = "TAF KXYZ 311130Z 3112/0118 24010KT P6SM BECMG 0102/0104 30012KT"
    assert read_taf(text, "010300Z").from_deg == 240.0
    assert read_taf(text, "010400Z").from_deg == 300.0


@pytest.mark.parametrize(
    ("group", "direction", "speed"),
    [
        ("00000KT", None, 0.0),
        ("VRB03KT", None, 3 * KNOT),
        ("36012KT", 360, 12 * KNOT),
        ("03011KMH", 30, 11 / 3.6),
    ],
)
def test_kinds_of_wind(group: str, direction: int | None, speed: float) -> None:
    found = read_taf(f"TAF AMD EXYZ 141130Z 1412/1518 {group} 9999")
    assert found.from_deg == direction
    assert found.speed_mps == pytest.approx(speed, rel=1e-6)
    report = read_report(f"EXYZ 141130Z 1412/1518 {group} 9999")
    assert (report.kind, report.station, report.variable) == ("forecast", "EXYZ", (direction is None,))
    assert report.points[0].speed_mps == pytest.approx(0.0 if direction is None else speed, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "at", "match"),
    [
        (FAA, "091700Z", "holds from 091800Z to 110000Z, not at"),
        (FAA, "120000Z", "holds from"),
        (FAA, "noon", "no time of a TAF"),
        (FAA, "320000Z", "no time of a TAF"),
        ("TAF KXYZ 141130Z NIL", None, "can not be read"),
        ("TAF KXYZ 141130Z 1412/1518 27010 P6SM", None, "no unit"),
        ("TAF KXYZ 141130Z 1412/1518 37010KT P6SM", None, "from 370 degrees"),
        ("TAF KPIT 091730Z 091818 15005KT 5SM", None, "names no period"),
        ("TAF KXYZ 141130Z 1412/1518 CNL", None, "tells no wind"),
        ("TAF KXYZ ", None, "can not be read"),
        ("METAR KXYZ 141130Z 27010KT", None, "no TAF"),
    ],
)
def test_what_is_refused(text: str, at: str | None, match: str) -> None:
    with pytest.raises(SettingsError, match=match):
        read_taf(text, at)


def test_in_a_plan_and_in_a_file(tmp_path: Path) -> None:
    plan = f'[[wind]]\ntaf = """{FAA}"""\nat = "092000Z"\n'
    settings = parse_settings(plan)
    (report,) = settings.reports
    assert report.when == "for 092000Z, FM 091930Z"
    assert report.gust_mps == pytest.approx(25 * KNOT)
    assert [(p.agl_m, p.from_deg) for p in settings.wind] == [(10.0, 300.0)]
    with pytest.raises(SettingsError, match=r"line 2: wind\[0\]\.taf: .*not at"):
        parse_settings(plan.replace("092000Z", "122000Z"))
    (tmp_path / "taf.txt").write_text(FAA)
    found = read_winds(tmp_path / "taf.txt", at="100200Z")
    assert float(found.vector(10.0)[0]) == pytest.approx(8 * KNOT)


KNOTS = st.builds("{:03d}{:02d}{}KT".format, st.integers(1, 36).map(lambda d: d * 10), st.integers(1, 99), st.sampled_from(["", "G25", "G40"]))  # fmt: skip
CHANGE = st.sampled_from(["BECMG 1416/1418", "TEMPO 1414/1416", "FM141800", "FM150600", "PROB30 1502/1504"])
WEATHER = st.sampled_from(["P6SM", "SCT020", "9999", "-RA BKN010", "CAVOK"])
CHANGES = st.lists(st.tuples(CHANGE, KNOTS | st.just(""), WEATHER).map(" ".join), max_size=6)


@tries(max_examples=200, deadline=None)
@given(KNOTS, CHANGES)
def test_the_groups_are_those_of_another_reader(first: str, words: list[str]) -> None:
    """Held against metar-taf-parser-mivek, in knots and two digits: it takes KMH, and speeds without a unit, for knots."""
    from metar_taf_parser.parser.parser import TAFParser

    text = " ".join(["TAF KXYZ 141130Z 1412/1518", first, *words])
    other = TAFParser().parse(text)
    _, (mine, *changes) = _groups(text, None)
    assert len(changes) == len(other.trends)
    for one, wind in zip((mine, *changes), (other.wind, *(t.wind for t in other.trends)), strict=True):
        if one.wind is None or wind is None:
            assert one.wind is None
            assert wind is None
            continue
        assert one.wind.from_deg == wind.degrees
        assert one.wind.speed_mps == pytest.approx(wind.speed * KNOT)
        assert one.wind.gust_mps == (None if wind.gust is None else pytest.approx(wind.gust * KNOT))


def test_kinds_of_text() -> None:
    assert is_taf(ICAO)
    assert is_taf(FAA.removeprefix("TAF "))
    assert not is_taf("METAR KEWR 101651Z 27010KT 10SM")


PIECES = ["TAF", "AMD", "KXYZ", "141130Z", "1412/1518", "27010KT", "VRB", "FM141800", "BECMG", "1414/1416", "TEMPO", "PROB30", "INTER", "NIL", "CNL", "P6SM", "=", "\n", "/////KT", "99/99", "TX25/1415Z"]  # fmt: skip


@tries(max_examples=300, deadline=None)
@given(
    st.lists(st.sampled_from(PIECES) | st.text(max_size=12), max_size=14),
    st.sampled_from([None, "141500Z", "x"]),
)
def test_only_our_errors_escape(words: list[str], at: str | None) -> None:
    for text in (" ".join(words), "TAF KXYZ 141130Z 1412/1518 27010KT " + " ".join(words)):
        with suppress(SettingsError):
            read_taf(text, at)
