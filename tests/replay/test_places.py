"""Where the jumper was on each leg: the moment of reading does not matter, the place does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pattern_cases import Case, fly_case, track_of, uniform

from analyser.pattern import Pattern
from analyser.replay import budget
from analyser.replay.places import established


def moved_starts(flown: Pattern, seconds: float) -> Pattern:
    """The same legs, thought to begin so many seconds later."""
    return replace(flown, legs=tuple(replace(leg, start_s=leg.start_s + seconds) for leg in flown.legs))


def rows(case: Case, flown: Pattern) -> np.ndarray:
    track = track_of(case.flown.path, step_s=0.2)
    found = budget(case.plan, flown, case.landing, case.trim, case.wind, track=track, draws=2)
    return np.array([(r.along_m, r.across_m) for r in found])


def test_the_moment_on_a_leg_does_not_matter() -> None:
    case = fly_case(uniform(5.0, 0.0), entry_error=(20.0, -30.0), final_m=-15.0)
    here = rows(case, case.flown)
    for seconds in (0.5, 2.0, 4.0):
        assert rows(case, moved_starts(case.flown, seconds)) == pytest.approx(here, abs=1.0)


def test_with_the_track_the_budget_agrees_with_the_gates() -> None:
    case = fly_case(uniform(5.0, 0.0), entry_error=(20.0, -30.0), final_m=-15.0)
    found = budget(case.plan, case.flown, case.landing, case.trim, case.wind, draws=2)
    by_gates = np.array([(r.along_m, r.across_m) for r in found])
    assert rows(case, case.flown) == pytest.approx(by_gates, abs=1.5)


def test_a_leg_joined_from_above_counts_from_the_entry_height() -> None:
    case = fly_case(uniform(4.0, 0.0))
    track = track_of(case.flown.path, step_s=0.2)
    low = established(case.flown, "downwind", track, 250.0)
    assert low is not None
    assert low.agl_m == pytest.approx(250.0, abs=1.5)
    assert low.north_m == pytest.approx(case.plan.gates[0].north_m - 54.8 / 4.0 * 14.0, abs=6.0)
    high = established(case.flown, "downwind", track, 400.0)
    assert high is not None
    assert high.agl_m > 295.0


def test_places_carry_the_errors_of_the_track() -> None:
    case = fly_case(uniform(4.0, 0.0))
    track = track_of(case.flown.path, agl_sd_m=3.0, position_sd_m=4.0)
    place = established(case.flown, "base", track)
    assert place is not None
    assert place.agl_sd_m == pytest.approx(np.hypot(3.0, 1.0))
    assert place.lateral_sd_m == pytest.approx(np.hypot(4.0, 1.0))
    assert established(Pattern("other", None, None), "base", track) is None
    blind = replace(track, agl_m=np.full(len(track), np.nan))
    assert established(case.flown, "base", blind) is None
