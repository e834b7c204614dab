"""Places as people copy them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyser.errors import SettingsError
from analyser.settings.position import parse_position
from analyser.settings.toml import parse_settings

COPIED = [
    "49.7215,-107.9342",
    " 49.7215  -107.9342 ",
    "49.7215;-107.9342",
    "49.7215N 107.9342W",
    "49.7215° N, 107.9342° W",
    "N49.7215 W107.9342",
    "107.9342W 49.7215N",
    "49°43.29'N 107°56.052'W",
    "49 43.29 N, 107 56.052 W",
    "N 49° 43.29' W 107° 56.052'",
    "49°43'17.4\"N 107°56'3.12\"W",
    "49:43:17.4n 107:56:03.12w",
    "geo:49.7215,-107.9342",
    "geo:49.7215,-107.9342,742;u=35",
    "geo:49.7215,-107.9342?z=16",
]


@pytest.mark.parametrize("text", COPIED)
def test_one_place_in_many_writings(text: str) -> None:
    assert parse_position(text) == pytest.approx((49.7215, -107.9342), abs=1e-9)


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("-107.9342,49.7215", r"did you mean 49\.7215,-107\.9342\?"),
        ("north", "not LAT,LON"),
        ("49.7215", "not LAT,LON"),
        ("49.7N 107.9N", "one of N and S"),
        ("49°61'N 107°W", "do not fit together"),
        ("49.5°30'N 107°W", "do not fit together"),
        ("95,200", "beyond"),
        ("95N 20E", "beyond ±90"),
    ],
)
def test_what_is_no_place(text: str, match: str) -> None:
    with pytest.raises(SettingsError, match=match) as caught:
        parse_position(text)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    "text", ["[49.7215, -107.9342]", *(f'"{t}"' for t in COPIED if '"' not in t and "\\" not in t)]
)
def test_a_plan_takes_what_the_command_line_takes(text: str) -> None:
    found = parse_settings(f"[site]\ntarget = {text}").site.target
    assert found == pytest.approx((49.7215, -107.9342), abs=1e-9)


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ('"-107.9342,49.7215"', r"line 2: site\.target: .*did you mean 49\.7215,-107\.9342\?"),
        ('"over there"', r"site\.target: .*not LAT,LON; write decimal degrees"),
        ("49.7", r"must be \[latitude, longitude\].*in quotes"),
    ],
)
def test_a_plan_says_what_is_wrong_with_a_place(text: str, match: str) -> None:
    with pytest.raises(SettingsError, match=match):
        parse_settings(f"[site]\ntarget = {text}")


@given(st.text(max_size=40))
def test_only_our_errors_escape(text: str) -> None:
    try:
        lat, lon = parse_position(text)
    except SettingsError:
        return
    assert abs(lat) <= 90
    assert abs(lon) <= 180
