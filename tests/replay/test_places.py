"""Where the jumper was on each leg: the moment of reading does not matter, the place does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pattern_cases import Case, fly_case, track_of, uniform

from analyser.pattern import Pattern
from analyser.replay import budget
from analyser.replay.places import established, place_at_height


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


def test_a_leg_joined_lower_on_its_way_is_no_error_of_height() -> None:
    """Who joins the planned downwind at 220 m, where the plan is at 220 m, lands where the plan does: neither place nor height cost metres."""
    case = fly_case(uniform(4.0, 0.0))
    first, low = case.flown.gates[0], 220.0
    t, east, north, agl = np.array(case.flown.path).T
    at = [float(np.interp(-low, -agl, v)) for v in (t, east, north)]
    joined = replace(first, agl_m=low, t_s=at[0], east_m=at[1], north_m=at[2])
    leg = replace(case.flown.legs[0], start_s=at[0])
    flown = replace(case.flown, gates=(joined, *case.flown.gates[1:]), legs=(leg, *case.flown.legs[1:]))
    track = track_of(case.flown.path, step_s=0.2)
    entry = next(
        r
        for r in budget(case.plan, flown, case.landing, case.trim, case.wind, track=track, draws=20)
        if r.cause == "entry"
    )
    assert [p.part for p in entry.parts] == ["place"]
    assert np.hypot(entry.along_m, entry.across_m) < 2.0


def test_a_turn_whose_height_is_hardly_known_leaves_the_direction_of_its_leg() -> None:
    """One drawn height in hundreds that leaves no leg above it is no reason to know nothing of how the leg was flown."""
    case = fly_case(uniform(4.0, 90.0))
    gates = [replace(g, agl_sd_m=30.0) if g.name == "final" else g for g in case.flown.gates]
    flown = replace(case.flown, gates=tuple(gates))
    track = track_of(case.flown.path, step_s=0.2)
    found = budget(case.plan, flown, case.landing, case.trim, case.wind, track=track, draws=200)
    base = next(r for r in found if r.cause == "base leg")
    assert base.part("direction").amount == pytest.approx(0.0, abs=2.0)
    assert base.part("height").along_sd_m > 20.0


def test_the_place_at_a_height_lies_between_the_fixes_about_it() -> None:
    """From 100 m down at 5 m/s and 10 m/s north: 60 m high after 8 s, 80 m north."""
    track = track_of([(0.0, 3.0, 0.0, 100.0), (20.0, 3.0, 200.0, 0.0)])
    fixes = 0, track.t_s.size
    assert place_at_height(track, fixes, 60.0) == pytest.approx((3.0, 80.0), abs=1e-6)
    assert place_at_height(track, fixes, 120.0) is None, "never above it"
    assert place_at_height(track, fixes, -5.0) is None
