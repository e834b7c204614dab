"""Two recordings of one jump, or two jumps."""

from __future__ import annotations

import pytest

from analyser.logbook.same_jump import Landed, same_jump

DEGREE_M = 111_195.0


@pytest.mark.parametrize(
    ("later_s", "north_m", "named", "unnamed"),
    [
        (2.0, 5.0, True, True),
        (2.0, 30.0, True, False),
        (40.0, 5.0, True, False),
        (40.0, 80.0, False, False),
        (70.0, 0.0, False, False),
    ],
)
def test_who_is_named_may_land_farther_apart(
    later_s: float, north_m: float, named: bool, unnamed: bool
) -> None:
    first = Landed(1000.0, 49.7, -107.9)
    second = Landed(1000.0 + later_s, 49.7 + north_m / DEGREE_M, -107.9)
    assert same_jump(first, second, named=True) is named
    assert same_jump(second, first, named=True) is named
    assert same_jump(first, second, named=False) is unnamed


def test_the_edge_of_the_world_is_no_distance() -> None:
    a, b = Landed(0.0, -16.5, 179.99999), Landed(1.0, -16.5, -179.99999)
    assert same_jump(a, b, named=False)


def test_without_a_place_only_a_name_tells() -> None:
    a, b = Landed(0.0, None, None), Landed(1.0, 49.7, -107.9)
    assert same_jump(a, b, named=True)
    assert not same_jump(a, b, named=False)
