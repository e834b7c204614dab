"""What one group of jumps is asked, on columns put together by hand."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.pattern import LEG_NAMES
from analyser.season.jumps import Jumps
from analyser.season.questions import _by_hand, _improvement, _steadiness, _together, trim_change


def jumps(texts: dict[str, list[str]] | None = None, **columns: np.ndarray) -> Jumps:
    """Jumps a day apart with these columns."""
    n = next(iter(columns.values())).size
    number = {f"{gate}_agl_error_m": np.full(n, np.nan) for gate in LEG_NAMES} | columns
    return Jumps(86400.0 * np.arange(n), (1,) * n, number, {k: tuple(v) for k, v in (texts or {}).items()})


def swinging(*sizes: float) -> np.ndarray:
    """Twelve values to either side of nothing for each size."""
    return np.concatenate([size * np.tile([1.0, -1.0], 6) for size in sizes])


@pytest.mark.parametrize(("last", "asked"), [(11.0, False), (9.0, False), (14.0, True), (6.0, True)])
def test_a_scatter_that_hardly_changes_is_no_question(last: float, asked: bool) -> None:
    """From 10 m to 11 or 9 m is within the ratio of 0.8 to 1.25; to 14 or 6 m is not."""
    heights = swinging(10.0, 0.5 * (10.0 + last), last)
    (found,) = _steadiness(jumps(final_agl_error_m=heights))
    assert found.value == pytest.approx(1.4826 * (last - 10.0), rel=1e-3)
    assert (found.p < 0.05) is asked
    assert (found.p == 1.0) is not asked
    (far,) = _improvement(jumps(along_m=heights, across_m=np.zeros(36)))
    assert far.value == pytest.approx(last - 10.0)
    assert (far.p == 1.0) is not asked


def test_the_right_hand_is_held_against_the_left() -> None:
    """Left-hand patterns end 5 m short, right-hand ones 25 m long and 8 m to the right."""
    hands = ["left"] * 12 + ["right"] * 12
    along = np.concatenate([swinging(2.0) - 5.0, swinging(2.0) + 25.0])
    across = np.concatenate([swinging(1.0), swinging(1.0) + 8.0])
    found = {q.evidence["axis"]: q for q in _by_hand(jumps({"hand": hands}, along_m=along, across_m=across))}
    assert found["along"].value == pytest.approx(30.0)
    assert found["across"].value == pytest.approx(8.0)


def test_a_change_of_trim_is_dated_by_the_first_jump_after_it() -> None:
    """From 9 to 11 m/s after twelve jumps, of which two have no airspeed."""
    speeds = np.concatenate([swinging(0.1) + 9.0, swinging(0.1) + 11.0])
    speeds[[3, 20]] = np.nan
    found = trim_change(jumps(airspeed_mps=speeds))
    assert found is not None
    index, question = found
    assert (index, question.evidence["n_before"]) == (12, 11)
    assert question.value == pytest.approx(2.0, abs=0.05)
    assert question.evidence["since_s"] == 12 * 86400.0
    assert trim_change(jumps(airspeed_mps=speeds[:15])) is None


@pytest.mark.parametrize(
    ("distances", "heights", "asked"),
    [
        ((40.0, 20.0), (10.0, 5.0), True),
        ((20.0, 40.0), (5.0, 10.0), True),
        ((40.0, 20.0), (5.0, 10.0), False),
    ],
)
def test_distance_and_heights_are_asked_together_only_where_both_go_one_way(
    distances: tuple[float, float], heights: tuple[float, float], asked: bool
) -> None:
    (a, b), (c, d) = distances, heights
    ones = np.ones(12)
    columns = {
        "along_m": np.concatenate([a * ones, 0.5 * (a + b) * ones, b * ones]),
        "across_m": np.zeros(36),
        "final_agl_error_m": swinging(c, 0.5 * (c + d), d),
    }
    (found,) = _together(jumps(**columns))
    assert found.value == pytest.approx(b - a)
    assert (found.p < 1.0) is asked
