"""Confidence and stated errors of the legs: against enumeration, drawn mixtures, turns with a known pause, made-up jumps."""

from __future__ import annotations

import itertools
import math
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.typing import NDArray
from worlds.hard_patterns import hard_jump

from analyser.legs import find_legs
from analyser.legs.begins import Begins, Piece, other_begins, out_of_holding, sd_of_begin
from analyser.legs.heading import AirHeading, Stretch
from analyser.legs.naming import Naming, name_legs
from analyser.legs.scores import FINAL, FIRST, NAMES, OUTSIDE, Landing, StraightLeg, chain, height_density
from analyser.legs.segments import find_stretches
from analyser.legs.turns import Heights, TurnFound, _refine
from analyser.pattern import LegName, Pattern, Turn
from analyser.phases import find_phases
from analyser.synthetic.scenario import record_jump
from analyser.synthetic.truth import SyntheticJump
from analyser.track import Track, build_track
from analyser.wind.estimate import estimate_wind


def flown_of(jump: SyntheticJump) -> tuple[Track, Pattern]:
    """Track and pattern of a made-up jump, the wind recovered from it."""
    track = build_track(jump.recording)
    phases = find_phases(track)
    canopy = phases.canopy()
    assert canopy is not None
    wind = estimate_wind(track, canopy.start, canopy.stop).profile
    return track, find_legs(track, canopy.start, canopy.stop, wind, landing_s=phases.landing_s)


def in_place(jump: SyntheticJump, track: Track, flown: Pattern) -> bool:
    """Whether exactly the legs flown are told and the middle of each lies within the one of that name."""
    begins = [g.utc_s - track.start_utc_s for g in jump.truth.gates]
    true = {
        g.name: span
        for g, span in zip(jump.truth.gates, itertools.pairwise([*begins, math.inf]), strict=True)
    }
    if [leg.name for leg in flown.legs] != list(true):
        return False
    return all(
        true[leg.name][0] <= 0.5 * (leg.start_s + leg.end_s) <= true[leg.name][1] for leg in flown.legs
    )


def stretch(track_deg: float, agl_m: float, turn_deg: float, seconds: float = 12.0) -> StraightLeg:
    return StraightLeg(track_deg, track_deg, 8.0, seconds, agl_m, turn_deg)


@pytest.mark.parametrize("base_deg", [90.0, 60.0, 30.0])
def test_confidence_is_the_sum_over_all_ways_to_tell_the_same_legs(base_deg: float) -> None:
    """Every path over five stretches, both hands and two landings, counted one by one."""
    legs = [
        stretch(20.0, math.nan, math.nan),
        stretch(280.0, 380.0, -100.0),
        stretch(180.0, 270.0, -100.0),
        stretch(base_deg, 170.0, base_deg - 180.0),
        stretch(5.0, 80.0, 5.0 - base_deg),
    ]
    landings = [Landing(0.0, 0.0), Landing(0.0, 20.0, 1, True, -0.7)]
    found = name_legs(legs, landings)
    weights: dict[tuple[int, frozenset[int]], float] = {}
    leg_weight = np.zeros((5, 6, 2))
    for landing, (place, side) in itertools.product(landings, enumerate((1, -1))):
        emit, step = chain(legs, side, landing)
        for path in itertools.product(range(6), repeat=5):
            if path[-1] != FINAL:
                continue
            score = landing.prior + math.log(FIRST[path[0]]) + emit[0, path[0]]
            score += sum(step[i, path[i - 1], path[i]] + emit[i, path[i]] for i in range(1, 5))
            told = frozenset(k for k in path if OUTSIDE < k < FINAL)
            weights[side, told] = weights.get((side, told), 0.0) + math.exp(score)
            leg_weight[np.arange(5), list(path), place] += math.exp(score)
    told = frozenset(NAMES.index(n) for n in found.names if n not in (None, "final"))
    side = 1 if found.hand == "left" else -1
    assert found.whole == pytest.approx(weights[side, told] / sum(weights.values()), rel=1e-3)
    downwind = float(leg_weight[2, 2].sum() / leg_weight[2].sum())
    assert found.confidence[2] == pytest.approx(downwind, rel=1e-6)


def test_no_stretch_or_no_landing_is_an_error() -> None:
    with pytest.raises(ValueError, match="one of each"):
        name_legs([], [Landing(0.0, 0.0)])
    with pytest.raises(ValueError, match="one of each"):
        name_legs([stretch(0.0, 80.0, 90.0)], [])


@pytest.mark.parametrize("share", [0.0, 0.03, 0.08, 0.3])
@pytest.mark.parametrize("off_m", [-70.0, 12.0, 5.0])
def test_the_interval_of_a_begin_holds_a_mixture(share: float, off_m: float) -> None:
    """Draws: the turn told with an error of 3 m, or another one; 1.96 standard deviations hold 95 % of them, and hardly more is stated."""
    rng = np.random.default_rng(5)
    draws = rng.normal(0.0, 3.0, 200_000) + np.where(rng.random(200_000) < share, off_m, 0.0)
    sd = sd_of_begin(3.0, Begins(np.array([0.0, off_m]), np.array([1.0 - share, share])))
    assert np.mean(np.abs(draws) < 1.96 * sd) == pytest.approx(0.95, abs=0.004)


def test_without_other_begins_the_error_stays() -> None:
    assert sd_of_begin(2.5, Begins(np.zeros(0), np.zeros(0))) == 2.5


SINKING = Heights(
    np.arange(0.0, 100.0, 0.5), 400.0 - 4.0 * np.arange(0.0, 100.0, 0.5), np.full(200, 4.0), 1.0, 1.0, 1.0
)


def piece(start_s: float, change_deg: float, turn_s: float = 4.0) -> Piece:
    """Twenty seconds straight after a turn, sinking at 4 m/s from 400 m at time 0."""
    end_s = start_s + turn_s
    found = Turn(
        start_s, end_s, SINKING.at(start_s), SINKING.at(end_s), change_deg, abs(change_deg) / turn_s, 25.0
    )
    return Piece(end_s, end_s + 20.0, 0.0, TurnFound(found, 0.5, 0.5))


@pytest.mark.parametrize(
    ("share", "chosen", "wide"),
    [
        ((0.048, 0.852, 0.1), 1, False),  # 5 % are no more for a correction among the others
        ((0.08, 0.82, 0.1), 1, True),
        ((1e-6, 0.0, 1.0), 2, False),  # a correction that is all there is: the begin told keeps its own share
        ((0.3, 0.0, 0.7), 2, True),
    ],
)
def test_a_correction_on_final_takes_no_weight_from_the_begin_told(
    share: tuple[float, float, float], chosen: int, wide: bool
) -> None:
    pieces = [piece(10.0, -90.0), piece(40.0, -85.0), piece(70.0, 8.0)]
    naming = Naming((None, "base", "final"), (1.0,) * 3, None, 1.0, {"final": share}, Landing(0.0, 0.0))
    sd = sd_of_begin(2.0, other_begins(pieces, naming, "final", pieces[chosen], SINKING))
    assert sd > 40.0 if wide else sd < 4.0


def test_other_begins_lie_as_far_off_as_from_the_begin_told() -> None:
    """A leg out of a holding circle is told to begin late in that turn; the turn itself is then no other begin."""
    pieces = [piece(10.0, -90.0), piece(40.0, -300.0, 12.0), piece(70.0, -90.0)]
    naming = Naming(
        (None, "downwind", "final"), (1.0,) * 3, "left", 1.0, {"downwind": (0.2, 0.8, 0.0)}, Landing(0.0, 0.0)
    )
    told = out_of_holding(pieces[1], "downwind", SINKING)
    assert told.turn.turn.start_agl_m < pieces[1].turn.turn.start_agl_m - 20.0
    others = other_begins(pieces, naming, "downwind", told, SINKING)
    assert others.off_m[:2] == pytest.approx([360.0 - told.turn.turn.start_agl_m, 0.0])


def turned(bank_share: NDArray[np.float64], rate_dps: float, box_s: float = 1.0) -> AirHeading:
    """20 s straight, a turn whose toggles follow ``bank_share`` (every 0.1 s) with a lag of 0.6 s, 20 s straight; box means at 5 Hz."""
    share = np.concatenate([np.zeros(200), bank_share, np.zeros(200)])
    rate, now = np.zeros(share.shape[0]), 0.0
    for i, goal in enumerate(share):
        now += (goal - now) * 0.1 / 0.6
        rate[i] = now * rate_dps
    deg = np.cumsum(rate) * 0.1
    n = round(box_s / 0.1)
    smooth = np.convolve(deg, np.ones(n) / n, mode="valid")[::2]
    t = 0.05 * (n - 1) + 0.2 * np.arange(smooth.shape[0])
    noise = np.random.default_rng(2).normal(0.0, 0.7, t.shape[0])
    return AirHeading(t, smooth + noise, np.full(t.shape[0], 10.0), box_s)


@pytest.mark.parametrize("rate_dps", [14.0, 28.0])
@pytest.mark.parametrize(
    ("level_s", "share", "turns"), [(0.0, 1.0, 1), (2.0, 0.0, 2), (1.5, 0.0, 2), (1.5, 0.7, 1), (0.6, 0.5, 1)]
)
def test_a_turn_is_parted_where_the_wing_was_level(
    rate_dps: float, level_s: float, share: float, turns: int
) -> None:
    """Half a circle with the toggles up for a while in its middle, or let up only in part: two turns, or one, of 30° and more."""
    half = np.ones(round(900.0 / rate_dps))
    heading = turned(np.concatenate([half, np.full(round(10.0 * level_s), share), half]), rate_dps)
    found = [s for s in find_stretches(heading) if s.turning and abs(s.change_deg) > 30.0]
    assert len(found) == turns
    whole = 180.0 + level_s * share * rate_dps
    assert all(s.change_deg == pytest.approx(whole / turns, abs=8.0) for s in found)


def test_a_pattern_square_to_the_nose_of_a_drifting_final() -> None:
    """Strong wind across: final drifts 40° and more off its nose, and every leg is told in its place."""
    for seed in (700_024, 700_049):
        jump = record_jump(seed)
        track, flown = flown_of(jump)
        final = jump.truth.gates[-1]
        assert abs((final.heading_deg - final.track_deg + 180.0) % 360.0 - 180.0) > 40.0
        assert in_place(jump, track, flown)


@pytest.mark.parametrize(("odds", "told"), [(0.2, False), (1.0, True), (3.0, True)])
def test_the_plan_decides_on_a_leg_nearly_across_the_wind(odds: float, told: bool) -> None:
    """A last leg of holding, 40° short of square, before downwind, base and final: a crosswind leg only where one was meant."""
    legs = [
        stretch(20.0, math.nan, math.nan),
        StraightLeg(310.0, 310.0, 15.0, 10.0, 330.0, -70.0),
        stretch(180.0, 280.0, -130.0),
        stretch(90.0, 180.0, -90.0),
        stretch(0.0, 95.0, -90.0),
    ]
    names = name_legs(legs, [Landing(0.0, 0.0, crosswind=odds)]).names
    assert ("crosswind" in names) == told
    assert names[-3:] == ("downwind", "base", "final")


def test_a_crosswind_leg_that_goes_on_from_the_holding_says_so() -> None:
    """The turn seen is 45 to 110 m too high: in five of six the errors of height and place say so, in three the interval holds the pilot's begin."""
    wide, held = [], []
    for jump in [record_jump(s) for s in (700_094, 700_108, 700_123, 700_298)] + [
        hard_jump(s) for s in (700_017, 710_332)
    ]:
        _, flown = flown_of(jump)
        mine, true = flown.gate("crosswind"), jump.truth.gate("crosswind")
        assert mine is not None
        assert true is not None
        assert mine.agl_m - true.agl_m > 45.0
        wide.append(mine.agl_sd_m > 15.0 and mine.lateral_sd_m > 15.0)
        held.append(abs(mine.agl_m - true.agl_m) < 1.96 * mine.agl_sd_m)
    assert sum(wide) >= 5
    assert sum(held) >= 3


@pytest.mark.slow
def test_confidence_means_what_it_says() -> None:
    """60 jumps of record: of those stated 95 % and more at most one is not in its place, and all in all as many are as stated."""
    stated, came = [], []
    for seed in range(710_600, 710_660):
        jump = record_jump(seed)
        track, flown = flown_of(jump)
        stated.append(flown.confidence)
        came.append(in_place(jump, track, flown))
    sure = np.array(stated) >= 0.95
    assert sure.sum() >= 30
    assert np.sum(~np.array(came)[sure]) <= 1
    assert abs(np.mean(stated) - np.mean(came)) < 0.05


def test_a_turn_that_may_be_two_says_so_by_its_error() -> None:
    """A turn onto final by 160°: the second of two turns may have begun anywhere in its middle half."""

    def others(change_deg: float) -> float:
        turn = Turn(20.0, 32.0, SINKING.at(20.0), SINKING.at(32.0), change_deg, 14.0, 25.0)
        piece = Piece(32.0, 60.0, 0.0, TurnFound(turn, 0.4, 0.4))
        naming = SimpleNamespace(begins={"final": np.ones(1)})
        found = other_begins([piece], naming, "final", piece, SINKING)  # type: ignore[arg-type]
        assert found.weight.sum() == pytest.approx(1.0)
        return sd_of_begin(2.0, found)

    assert others(90.0) == pytest.approx(2.0)
    lost = SINKING.at(20.0) - SINKING.at(32.0)
    assert others(160.0) > 0.3 * lost
    assert others(-160.0) == pytest.approx(others(160.0))


def test_the_scale_of_a_barometer_counts_with_the_height() -> None:
    """10 K off the standard's 280 K are 3.6 % of the height (hypsometric equation)."""
    barometer = SINKING._replace(scale_sd=0.036)
    at = float(SINKING.t[0])
    added = math.sqrt(barometer.sd(at, 0.0, 60.0) ** 2 - SINKING.sd(at, 0.0, 60.0) ** 2)
    assert added == pytest.approx(0.036 * SINKING.at(at), rel=1e-6)


@pytest.mark.parametrize("name", ["crosswind", "downwind", "base", "final"])
def test_the_density_of_turn_heights_is_one(name: LegName) -> None:
    """Over log height it adds up to one, and falls off to both sides of its middle."""
    logs = np.linspace(math.log(0.5), math.log(50_000.0), 40_001)
    density = np.array([height_density(float(h), name) for h in np.exp(logs)])
    assert float(np.sum(density) * (logs[1] - logs[0])) == pytest.approx(1.0, abs=2e-3)
    top = int(np.argmax(density))
    assert np.all(np.diff(density[:top]) >= 0.0)
    assert np.all(np.diff(density[top:]) <= 0.0)


@pytest.mark.parametrize(
    ("change_deg", "begin_s", "spread_s"),
    [
        (
            720.0,
            61.0,
            12.0 / math.sqrt(12.0),
        ),  # two circles of 12 s: a quarter of one is 3 s before the roll-out at 64 s
        (-360.0, 58.0, 24.0 / math.sqrt(12.0)),
    ],
)
def test_out_of_a_holding_a_leg_begins_a_quarter_circle_before_the_roll_out(
    change_deg: float, begin_s: float, spread_s: float
) -> None:
    found = out_of_holding(piece(40.0, change_deg, 24.0), "downwind", SINKING).turn
    assert found is not None
    assert found.turn.start_s == pytest.approx(begin_s)
    assert found.turn.start_agl_m == pytest.approx(400.0 - 4.0 * begin_s)
    assert found.turn.change_deg == math.copysign(90.0, change_deg)
    assert found.start_sd_s == pytest.approx(spread_s)


@pytest.mark.parametrize("box_s", [1.0, 2.0, 3.0])
def test_a_turn_without_straight_flight_beside_it_loses_half_a_box_at_either_edge(box_s: float) -> None:
    """90° to the right from 40 to 50 s: where nothing straight tells its edges (_refine), the means over a box spread it that far."""
    t = np.arange(30.0, 60.0, 0.5)
    heading = AirHeading(t, np.interp(t, [40.0, 50.0], [0.0, 90.0]), np.full(t.size, 10.0), box_s)
    turn = _refine(heading, Stretch(40.0, 50.0, 0.0, 90.0, True), None, None, SINKING).turn
    assert (turn.start_s, turn.end_s) == pytest.approx((40.0 + 0.5 * box_s, 50.0 - 0.5 * box_s))
    assert turn.change_deg == pytest.approx(90.0)
    assert turn.rate_dps == pytest.approx(9.0)
