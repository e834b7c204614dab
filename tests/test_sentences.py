"""Templates filled in display units, errors beside the numbers."""

from __future__ import annotations

import pytest

from analyser.sentences import Number, fill, sd_key, unit_of
from analyser.units import DISPLAY_SYSTEMS

VALUES = {
    "turn_agl_m": 60.96,
    "turn_agl_sd_m": 6.096,
    "off_m": 100.0,
    "w_mps": 5.0,
    "w_sd_mps": 0.5,
    "a_deg": 12.0,
    "share": 0.83,
    "name": "base",
    "n": 3.0,
}


@pytest.mark.parametrize(
    ("system", "expected"),
    [
        ("metric", "61 ± 6 m, 100 m, 5.0 ± 0.5 m/s"),
        ("us", "200 ± 20 ft, 328 ft, 11.2 ± 1.1 mph"),
        ("uk", "200 ± 20 ft, 100 m, 9.7 ± 1.0 kt"),
        ("nordic", "200 ± 20 ft, 100 m, 9.7 ± 1.0 kt"),
    ],
)
def test_units_follow_the_display(system: str, expected: str) -> None:
    """Units by country custom: Norway height in feet, distance in metres, wind in knots (F/NLF handbook, 2011)."""
    text = "{turn_agl_m:height}, {off_m:distance}, {w_mps:speed}"
    assert fill(text, VALUES, DISPLAY_SYSTEMS[system]) == expected


def test_plain_kinds_and_flags() -> None:
    assert (
        fill("{a_deg:angle}, {share:percent}, {name:text}, {n:count} turns", VALUES)
        == "12°, 83 %, base, 3 turns"
    )
    assert fill("{turn_agl_m:height~} {off_m:distance+}", VALUES) == "61 m +100 m"
    assert fill("{x_m:height}", {"x_m": None}) == "–"


def test_where_the_error_stands() -> None:
    assert sd_key("turn_agl_m") == "turn_agl_sd_m"
    assert sd_key("w_mps") == "w_sd_mps"
    assert sd_key("share") == "share_sd"


def test_mistakes_are_errors() -> None:
    with pytest.raises(KeyError):
        fill("{missing_m:height}", VALUES)
    with pytest.raises(KeyError):
        unit_of("furlongs", DISPLAY_SYSTEMS["metric"])


@pytest.mark.parametrize(
    ("value_m", "units", "text"),
    [
        (9999.0, "uk", "9999 m"),
        (10_310.0, "uk", "10 km"),
        (-12_109_168.0, "us", "-7524 mi"),
    ],
)
def test_a_distance_of_many_kilometres_is_not_told_in_metres(value_m: float, units: str, text: str) -> None:
    assert Number("distance", value_m).text(DISPLAY_SYSTEMS[units]) == text
