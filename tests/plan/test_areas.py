"""Keep-out areas: inside, crossed between points, heights, margins."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pattern_cases import FRAME

from analyser.angles import rotate
from analyser.plan.areas import crossed, inside, to_edge_m
from analyser.settings import KeepOut

SQUARE = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]])
ELL = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 40.0], [40.0, 40.0], [40.0, 100.0], [0.0, 100.0]])


def area(polygon: np.ndarray, below: float = 300.0) -> KeepOut:
    lat, lon = FRAME.to_geodetic(polygon[:, 0], polygon[:, 1])
    return KeepOut("runway", below, tuple((float(a), float(b)) for a, b in zip(lat, lon, strict=True)))


@given(x=st.floats(-50.0, 150.0), y=st.floats(-50.0, 150.0))
def test_inside_a_square_and_an_ell(x: float, y: float) -> None:
    eps = 1e-6
    if min(abs(x - v) for v in (0.0, 40.0, 100.0)) < eps or min(abs(y - v) for v in (0.0, 40.0, 100.0)) < eps:
        return
    in_square = 0.0 < x < 100.0 and 0.0 < y < 100.0
    assert bool(inside(x, y, SQUARE)[0]) == in_square
    assert bool(inside(x, y, ELL)[0]) == (in_square and (x < 40.0 or y < 40.0))


def test_orientation_does_not_matter() -> None:
    points = np.random.default_rng(1).uniform(-20.0, 120.0, (200, 2))
    assert np.array_equal(inside(*points.T, ELL), inside(*points.T, ELL[::-1]))


def test_a_narrow_area_between_two_points_is_seen() -> None:
    strip = np.array([[48.0, -500.0], [53.0, -500.0], [53.0, 500.0], [48.0, 500.0]])
    path = [(-200.0, 0.0, 250.0), (200.0, 0.0, 150.0)]
    assert crossed([area(strip)], FRAME, path) == ("runway",)
    assert crossed([area(strip, below=180.0)], FRAME, path) == ()
    assert crossed([area(strip, below=180.0)], FRAME, path, margin_m=20.0) == ("runway",)


def test_above_or_beside_is_fine() -> None:
    assert crossed([area(SQUARE)], FRAME, [(50.0, 50.0, 400.0), (60.0, 60.0, 300.5)]) == ()
    assert crossed([area(SQUARE)], FRAME, [(150.0, 50.0, 100.0)]) == ()
    assert crossed([area(SQUARE)], FRAME, [(50.0, 50.0, 100.0)]) == ("runway",)
    assert crossed([], FRAME, [(50.0, 50.0, 100.0)]) == ()
    assert crossed([area(SQUARE)], FRAME, []) == ()


@pytest.mark.parametrize("agl", [299.0, 301.0])
def test_the_height_decides(agl: float) -> None:
    assert bool(crossed([area(SQUARE)], FRAME, [(50.0, 50.0, agl)])) == (agl < 300.0)


@settings(max_examples=40, deadline=None)
@given(x=st.floats(-150.0, 250.0), y=st.floats(-150.0, 250.0))
def test_the_way_to_the_edge_of_a_square(x: float, y: float) -> None:
    """Closed form: inside, the nearest of four walls; outside, how far both coordinates are beyond the walls."""
    beyond = np.abs(np.array([x, y]) - 50.0) - 50.0
    outside = float(np.hypot(*np.maximum(beyond, 0.0)))
    expected = -outside if np.max(beyond) > 0.0 else -float(np.max(beyond))
    for polygon in (SQUARE, SQUARE[::-1]):
        assert abs(to_edge_m(x, y, polygon)) == pytest.approx(abs(expected), abs=1e-9)
        if abs(expected) > 1e-6:
            assert to_edge_m(x, y, polygon) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("x", "y", "edge"),
    [(20.0, 20.0, 20.0), (60.0, 20.0, 20.0), (50.0, 50.0, -10.0), (43.0, 60.0, -3.0), (30.0, 80.0, 10.0)],
)
def test_the_way_to_the_edge_of_an_ell(x: float, y: float, edge: float) -> None:
    """Also about the corner at 40, 40 that points inwards; counted by hand."""
    assert to_edge_m(x, y, ELL) == pytest.approx(edge)


@pytest.mark.parametrize("degrees", [17.0, 45.0, 161.0, 290.0])
def test_a_turned_area_holds_the_turned_points(degrees: float) -> None:
    points = np.random.default_rng(3).uniform(-20.0, 120.0, (200, 2))
    there, area_there = np.stack(rotate(*points.T, degrees)), np.stack(rotate(*ELL.T, degrees), axis=1)
    assert np.array_equal(inside(*there, area_there), inside(*points.T, ELL))
    for (x, y), (u, v) in zip(points[:20], there.T[:20], strict=True):
        assert to_edge_m(u, v, area_there) == pytest.approx(to_edge_m(x, y, ELL))
