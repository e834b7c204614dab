"""What speaks for a name: densities are densities, and a turned or mirrored world scores alike."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analyser.legs.scores import (
    CROSSWIND,
    FINAL,
    OUTSIDE,
    Landing,
    StraightLeg,
    _direction_score,
    _height_score,
    _leg_score,
    _turn_score,
    chain,
    height_density,
)
from analyser.legs.thresholds import LEGS

# onto downwind from outside, then base and final of a left-hand pattern that lands to 40°, crabbing
LEGS_FLOWN = [
    StraightLeg(150.0, 160.0, 5.0, 12.0, math.nan, math.nan),
    StraightLeg(212.0, 225.0, 4.0, 20.0, 300.0, 62.0),
    StraightLeg(127.0, 118.0, 6.0, 9.0, 185.0, -85.0),
    StraightLeg(52.0, 37.0, 3.0, 15.0, 92.0, -75.0, 4.0),
]
LANDING = Landing(38.0, 50.0, by_nose=False, crosswind=0.5)


def turned(degrees: float, sign: float = 1.0) -> tuple[list[StraightLeg], Landing]:
    def way(deg: float) -> float:
        return (sign * deg + degrees) % 360.0

    legs = [
        leg._replace(
            heading_deg=way(leg.heading_deg), track_deg=way(leg.track_deg), turn_deg=sign * leg.turn_deg
        )
        for leg in LEGS_FLOWN
    ]
    return legs, LANDING._replace(track_deg=way(LANDING.track_deg), heading_deg=way(LANDING.heading_deg))


@pytest.mark.parametrize("by_nose", [False, True])
@pytest.mark.parametrize("degrees", [17.0, 101.0, 180.0, 262.0, 355.0])
def test_a_turned_world_scores_alike(degrees: float, by_nose: bool) -> None:
    legs, landing = turned(degrees)
    usual = chain(LEGS_FLOWN, 1, LANDING._replace(by_nose=by_nose))
    for ours, theirs in zip(usual, chain(legs, 1, landing._replace(by_nose=by_nose)), strict=True):
        assert theirs == pytest.approx(ours, abs=1e-9)


def test_a_mirrored_world_scores_alike_with_the_other_hand() -> None:
    legs, landing = turned(0.0, -1.0)
    for ours, theirs in zip(chain(LEGS_FLOWN, 1, LANDING), chain(legs, -1, landing), strict=True):
        assert theirs == pytest.approx(ours, abs=1e-9)
    assert chain(LEGS_FLOWN, 1, LANDING)[1][3] != pytest.approx(chain(LEGS_FLOWN, -1, LANDING)[1][3])


@pytest.mark.parametrize("name", ["crosswind", "downwind", "base", "final"])
def test_heights_have_a_density_about_the_published_checkpoint(name: str) -> None:
    """It integrates to one over log height, is highest at the height of the table, and as far above as below."""
    at = LEGS.height_m[("outside", "crosswind", "downwind", "base", "final").index(name)]
    z = np.linspace(-12.0, 12.0, 24_001)
    density = np.array([height_density(at * math.exp(v), name) for v in z])  # type: ignore[arg-type]
    assert float(np.sum(density) * (z[1] - z[0])) == pytest.approx(1.0, abs=1e-3)
    assert z[int(np.argmax(density))] == pytest.approx(0.0, abs=1e-3)
    assert density == pytest.approx(density[::-1])
    # the wide part is two and a half times as wide: far out it alone is left
    spread = LEGS.height_spread[("outside", "crosswind", "downwind", "base", "final").index(name)]
    far = height_density(at * math.exp(4.0 * spread), name)  # type: ignore[arg-type]
    wide, narrow = (
        math.exp(-0.5 * (4.0 / sd) ** 2) / (sd * spread * math.sqrt(2.0 * math.pi)) for sd in (2.5, 1.0)
    )
    assert far == pytest.approx(0.05 * wide + 0.95 * narrow, rel=0.002)
    assert height_density(math.nan, name) == pytest.approx(math.exp(LEGS.any_height))  # type: ignore[arg-type]


def test_directions_have_a_density_with_a_floor() -> None:
    off = np.linspace(-180.0, 180.0, 36_001)
    density = np.exp([_direction_score(v, 9.0) for v in off])
    assert float(np.sum(density) * (off[1] - off[0])) == pytest.approx(1.0, abs=1e-3)
    assert density[0] == pytest.approx(0.03 / 360.0)
    at_one_sd = 0.97 * math.exp(-0.5) / (9.0 * math.sqrt(2.0 * math.pi)) + 0.03 / 360.0
    assert math.exp(_direction_score(9.0, 9.0)) == pytest.approx(at_one_sd)


def test_the_height_of_a_turn_that_follows_no_pattern() -> None:
    """Any height does, the less likely the lower below 200 m; a final of the pattern is not begun far above its checkpoint."""
    for name, before in ((OUTSIDE, FINAL), (FINAL, OUTSIDE)):
        scores = [_height_score(agl, before, name) for agl in (20.0, 200.0, 600.0)]
        assert scores[0] == pytest.approx(LEGS.any_height - 3.6, abs=0.03)  # 180 m, 50 m each
        assert scores[1] == pytest.approx(LEGS.any_height - math.log(2.0))
        assert scores[2] == pytest.approx(LEGS.any_height, abs=0.01)
    assert _height_score(math.nan, 0, FINAL) == _height_score(1.0, 0, FINAL) == LEGS.any_height
    high = LEGS.high_final_m + 100.0
    lost = math.log(height_density(high, "final")) - _height_score(high, 3, FINAL)
    assert lost == pytest.approx(math.log1p(math.exp(4.0)))


def test_a_final_is_known_by_its_nose_or_its_way_whichever_is_nearer() -> None:
    straight = StraightLeg(50.0, 38.0, 3.0, 30.0, math.nan, math.nan)
    best = _leg_score(straight, FINAL, 1, LANDING)
    assert _leg_score(straight._replace(track_deg=100.0), FINAL, 1, LANDING) == pytest.approx(best)
    assert _leg_score(straight._replace(heading_deg=100.0), FINAL, 1, LANDING) == pytest.approx(best)
    both = straight._replace(heading_deg=50.0 + 70.0, track_deg=38.0 + 80.0)
    assert _leg_score(both, FINAL, 1, LANDING) < best - 2.0
    left, right = (straight._replace(heading_deg=50.0 + d, track_deg=38.0 + d) for d in (-15.0, 15.0))
    assert _leg_score(left, FINAL, 1, LANDING) == pytest.approx(_leg_score(right, FINAL, 1, LANDING))
    bent, short = straight._replace(bend_deg=-10.0), straight._replace(seconds=2.0)
    assert best - _leg_score(bent, FINAL, 1, LANDING) == pytest.approx(0.6)
    assert best - _leg_score(short, FINAL, 1, LANDING) == pytest.approx(1.6 * math.exp(-1.0), abs=1e-5)


def test_a_stretch_of_an_s_turn_on_final_may_be_off_and_one_that_flies_away_may_not() -> None:
    """Beyond four spreads the bell is gone: what is left is the weaving, flat up to its limit, and the floor beyond it."""

    def score(off: float) -> float:
        leg = StraightLeg(50.0 + off, 38.0 + off, 3.0, 60.0, math.nan, math.nan)
        return _leg_score(leg, FINAL, 1, LANDING)

    inside, outside = score(LEGS.weave_deg - 1.0), score(-LEGS.weave_deg - 1.0)
    assert score(-LEGS.weave_deg + 1.0) == pytest.approx(inside)
    floor = 0.75 * 0.03 / 360.0
    assert inside - outside == pytest.approx(math.log(1.0 + 0.25 / (2.0 * LEGS.weave_deg) / floor), rel=1e-3)


def test_turns_of_the_other_hand_and_weaving() -> None:
    base_to_final = LEGS_FLOWN[3]
    right, wrong = (_turn_score(base_to_final, 3, FINAL, side) for side in (1, -1))
    assert right - wrong == pytest.approx(math.log((1.0 - LEGS.wrong_hand) / LEGS.wrong_hand))
    low, high = (StraightLeg(0.0, 0.0, 3.0, 9.0, agl, 10.0) for agl in (20.0, 500.0))
    assert _turn_score(low, FINAL, FINAL, 1) - _turn_score(high, FINAL, FINAL, 1) == pytest.approx(
        5.0, abs=0.06
    )
    weaves = low._replace(turn_deg=LEGS.s_turn_deg + 1.0)
    assert _turn_score(weaves, FINAL, FINAL, 1) - _turn_score(low, FINAL, FINAL, 1) == pytest.approx(
        math.log(LEGS.weave)
    )
    unturned = StraightLeg(0.0, 0.0, 3.0, 9.0, math.nan, math.nan)
    kept, begun = (_turn_score(unturned, before, CROSSWIND, 1) for before in (CROSSWIND, OUTSIDE))
    assert kept - begun == pytest.approx(3.0)
    small, large = (unturned._replace(turn_agl_m=200.0, turn_deg=d) for d in (-5.0, 25.0))
    same = [_turn_score(leg, 2, 2, 1) for leg in (small, large)]
    assert same == pytest.approx([-0.45, -1.45])


@pytest.mark.parametrize("agl_m", [60.0, 200.0, 260.0, 500.0])
def test_a_correction_on_final_is_less_likely_the_higher_it_is(agl_m: float) -> None:
    """A logistic law about 200 m, 60 m wide: half of its density at 200 m, 27 % at 260 m (_turn_score)."""
    small = StraightLeg(0.0, 0.0, 5.0, 10.0, agl_m, 0.5 * LEGS.s_turn_deg)
    share = 1.0 / (1.0 + math.exp((agl_m - 200.0) / 60.0))
    assert _turn_score(small, FINAL, FINAL, 1) == pytest.approx(LEGS.any_height + math.log(share))
