"""Robust levels, tests and lines against scipy, closed forms and published values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from effort import few_or
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from analyser.season.pooling import pool, shrunk
from analyser.season.robust import (
    Level,
    change_point,
    difference,
    holm,
    level,
    line,
    p_difference,
    p_level,
    quantile_interval,
    robust_sd,
    share_interval,
    size_scores,
)

SAMPLES = st.lists(st.floats(-1e3, 1e3), min_size=10, max_size=40).map(np.array)


@given(SAMPLES)
@settings(max_examples=60, deadline=None)
def test_level_is_the_trimmed_mean_of_scipy(x: np.ndarray) -> None:
    found = level(x)
    assert found.value == pytest.approx(stats.trim_mean(x, 0.2), abs=1e-9)
    n, g = x.size, int(0.2 * x.size)
    assert found.df == n - 2 * g - 1


def test_difference_is_the_test_of_yuen_in_scipy() -> None:
    rng = np.random.default_rng(5)
    for _ in range(20):
        a, b = rng.normal(0, 1, 17), rng.normal(1, 3, 25)
        found = difference(a, b)
        oracle = stats.ttest_ind(b, a, equal_var=False, trim=0.2)
        assert found.value / found.se == pytest.approx(oracle.statistic)
        assert 2 * stats.t.sf(abs(found.value / found.se), found.df) == pytest.approx(oracle.pvalue)


def shared_ranks(x: np.ndarray) -> np.ndarray:
    """By the definition: one more than how many are smaller, and half of how many others are equal."""
    return np.array([1 + np.sum(x < v) + (np.sum(x == v) - 1) / 2 for v in x])


def test_rank_tests_by_their_definitions() -> None:
    """Wilcoxon's sums of ranks, counted pair by pair, against the normal law with a correction of half a rank."""
    rng = np.random.default_rng(6)
    for margin in (0.0, 0.3):
        a, b = rng.normal(0, 1, 23), rng.normal(0.9, 1, 31)
        beyond = b - margin
        n = beyond.size
        plus = float(np.sum(shared_ranks(np.abs(beyond))[beyond > 0]))
        z = (plus - n * (n + 1) / 4 - 0.5) / math.sqrt(n * (n + 1) * (2 * n + 1) / 24)
        assert p_level(b, margin) == pytest.approx(min(1.0, math.erfc(z / math.sqrt(2))), rel=1e-6)
        wins = float(np.sum(np.sign(np.subtract.outer(b - margin, a)) + 1)) / 2
        m, n = b.size, a.size
        z = (wins - m * n / 2 - 0.5) / math.sqrt(m * n * (m + n + 1) / 12)
        assert p_difference(a, b, margin) == pytest.approx(min(1.0, math.erfc(z / math.sqrt(2))), rel=1e-6)
    assert p_level([0.0] * 12, 0.0) == 1.0
    assert p_level(-b, 0.3) == pytest.approx(p_level(b, 0.3)), "either side alike"


def test_size_scores_are_the_squared_normal_quantiles_of_the_ranks_of_sizes() -> None:
    x = np.array([-3.0, 0.5, 1.0, -2.0])
    expected = stats.norm.ppf(0.5 + 0.5 * np.array([4.0, 1.0, 2.0, 3.0]) / 5.0) ** 2
    assert size_scores(x) == pytest.approx(expected)
    x[0] = -1e9
    assert size_scores(x) == pytest.approx(expected)


def test_pettitt_on_the_published_industrial_example() -> None:
    # Pettitt (1979), table 2: percentage of a material in 27 samples, change after sample 16; K = 133 (figures from memory)
    x = [-1.05, 0.96, 1.22, 0.58, -0.98, -0.03, -1.54, -0.71, -0.35, 0.66, 0.44, 0.91, -0.02, -1.42, 1.26, -1.02, -0.81,
         1.66, 1.05, 0.97, 2.14, 1.22, -0.24, 1.60, 0.72, -0.12, 0.44]  # fmt: skip
    found = change_point(x)
    assert found is not None
    u = [float(np.sum(np.sign(np.subtract.outer(x[t:], x[:t])))) for t in range(1, len(x))]  # the definition
    k = max(np.abs(u))
    assert found.index == 1 + int(np.argmax(np.abs(u)))
    assert found.p == pytest.approx(min(1.0, 2 * math.exp(-6 * k**2 / (27**3 + 27**2))))


@pytest.mark.parametrize("many", few_or(1500, 300))
@pytest.mark.parametrize("n", [20, 50])
def test_change_points_are_rarely_found_where_there_are_none(n: int, many: int) -> None:
    rng = np.random.default_rng(8)
    p = np.array([change_point(rng.standard_t(3, n)).p for _ in range(many)])  # type: ignore[union-attr]
    for alpha in (0.05, 0.01):
        assert np.mean(p < alpha) <= alpha + 3 * math.sqrt(alpha / many)


def test_a_step_is_found_where_it_is() -> None:
    rng = np.random.default_rng(9)
    x = np.concatenate([rng.normal(0, 5, 30), rng.normal(-18, 5, 20)])
    found = change_point(x)
    assert found is not None
    assert abs(found.index - 30) <= 2
    assert found.p < 1e-4
    assert found.step.value == pytest.approx(-18, abs=5)
    assert change_point(x[:8]) is None


@pytest.mark.parametrize("many", few_or(2000, 250))
@pytest.mark.parametrize("kind", ["normal", "heavy"])
def test_p_values_of_levels_hold_their_size_also_within_the_margin(kind: str, many: int) -> None:
    rng = np.random.default_rng(10)

    def draw(n: int) -> np.ndarray:
        return rng.normal(0, 20, n) if kind == "normal" else 14 * rng.standard_t(3, n)

    edges = [np.array([p_level(draw(n) + 8.0, 8.0) for _ in range(many)]) for n in (12, 30)]
    pairs = [
        np.array([p_difference(draw(m), draw(n) + 8.0, 8.0) for _ in range(many)])
        for m, n in ((25, 15), (40, 30))
    ]
    for p in (*edges, *pairs):
        for alpha in (0.05, 0.01):
            assert np.mean(p < alpha) <= alpha + 3 * math.sqrt(alpha / many)


def test_intervals_of_levels_cover() -> None:
    rng = np.random.default_rng(11)
    hits = 0
    for _ in range(1000):
        low, high = level(rng.standard_t(4, 25)).interval()
        hits += low <= 0.0 <= high
    assert 0.93 <= hits / 1000 <= 0.975


def test_holm_on_the_example_of_its_definition() -> None:
    # by hand: sorted 0.01, 0.02, 0.03, 0.04 times 4, 3, 2, 1 = 0.04, 0.06, 0.06, 0.04, made monotone
    assert holm([0.04, 0.01, 0.03, 0.02]) == pytest.approx([0.06, 0.04, 0.06, 0.06])
    assert holm([0.9, 0.8]) == pytest.approx([1.0, 1.0])


@given(st.lists(st.floats(0, 1), min_size=1, max_size=30))
def test_holm_lies_between_the_raw_and_bonferronis_value(p: list[float]) -> None:
    adjusted = holm(p)
    assert np.all(adjusted >= np.array(p) - 1e-12)
    assert np.all(adjusted <= np.minimum(np.array(p) * len(p), 1.0) + 1e-12)


def test_a_line_is_deaf_to_outliers_and_knows_its_error() -> None:
    rng = np.random.default_rng(12)
    x = rng.uniform(-30, 30, 60)
    y = 4.0 + 1.5 * x + rng.normal(0, 5, 60)
    clean = line(x, y)
    y[:4] += 300.0
    found = line(x, y)
    assert clean is not None
    assert found is not None
    oracle = stats.linregress(x[4:], y[4:])
    assert clean.slope.value == pytest.approx(oracle.slope, abs=0.04)
    assert clean.slope.se == pytest.approx(oracle.stderr, rel=0.4)
    assert found.slope.value == pytest.approx(1.5, abs=0.25)
    assert line([1.0] * 10, range(10)) is None


@pytest.mark.parametrize("many", few_or(600, 150))
def test_intervals_of_slopes_cover_with_unequal_scatter(many: int) -> None:
    rng = np.random.default_rng(13)
    hits = 0
    for _ in range(many):
        x = rng.uniform(0, 10, 40)
        found = line(x, 2.0 * x + rng.normal(0, 0.5 + 0.5 * x))
        assert found is not None
        low, high = found.slope.interval()
        hits += low <= 2.0 <= high
    assert (
        0.95 - 0.03 * math.sqrt(600 / many) <= hits / many <= min(0.95 + 0.035 * math.sqrt(600 / many), 1.0)
    )


def test_wilson_interval_on_a_printed_example() -> None:
    # Agresti & Coull (American Statistician 52 (1998) 119): 0 of 10 gives (0, 0.278)
    low, high = share_interval(0, 10)
    assert low == pytest.approx(0.0, abs=1e-12)
    assert high == pytest.approx(0.278, abs=5e-4)
    for end in share_interval(
        37, 50
    ):  # Wilson's definition: where the share found lies 1.96 of its own deviations away
        assert abs(0.74 - end) == pytest.approx(1.959964 * math.sqrt(end * (1 - end) / 50), rel=1e-5)
    assert share_interval(0, 0) == (0.0, 1.0)


def test_bootstrap_interval_of_a_median_covers_and_repeats_itself() -> None:
    rng = np.random.default_rng(14)
    hits = 0
    for _ in range(300):
        x = rng.rayleigh(20.0, 40)
        _, low, high = quantile_interval(x, 0.5, draws=300)
        hits += low <= 20.0 * math.sqrt(math.log(4.0)) <= high  # median of a Rayleigh distribution
    assert hits / 300 >= 0.91
    assert quantile_interval(x, 0.5) == quantile_interval(x, 0.5)
    assert quantile_interval(np.full(12, 7.0), 0.95) == (7.0, 7.0, 7.0)


def test_robust_sd_of_a_large_normal_sample() -> None:
    x = np.random.default_rng(15).normal(3.0, 2.0, 20_000)
    assert robust_sd(x) == pytest.approx(2.0, rel=0.03)
    assert math.isnan(robust_sd([]))


def test_pooling_weighs_by_error_and_finds_the_scatter_between() -> None:
    assert pool([], []) is None
    alone = pool([10.0], [0.5])
    assert alone is not None
    assert (alone.mean, alone.se, alone.tau) == (10.0, 0.5, 0.0)
    # without scatter beyond the errors it is the inverse-variance mean: (10/0.04 + 10.3/0.36) / (1/0.04 + 1/0.36) = 10.03
    same = pool([10.0, 10.3], [0.2, 0.6])
    assert same is not None
    assert same.mean == pytest.approx(10.03)
    rng = np.random.default_rng(16)
    taus, hits = [], 0
    for _ in range(300):
        truth = rng.normal(10.0, 0.4, 30)
        sds = rng.uniform(0.1, 0.4, 30)
        found = pool(truth + rng.normal(0, sds), sds)
        assert found is not None
        taus.append(found.tau)
        hits += abs(found.mean - 10.0) <= 2.05 * found.se
    assert np.mean(taus) == pytest.approx(0.4, abs=0.04)
    assert hits / 300 >= 0.91


def test_shrinkage_is_nearer_to_the_truth_than_each_alone() -> None:
    rng = np.random.default_rng(17)
    alone = together = 0.0
    for _ in range(200):
        truth = rng.normal(0.0, 6.0, 8)
        found = truth + rng.normal(0, 8.0, 8)
        drawn = shrunk(found, np.full(8, 8.0))
        assert drawn is not None
        alone += float(np.sum((found - truth) ** 2))
        together += float(np.sum((np.array([v for v, _ in drawn]) - truth) ** 2))
    assert together < 0.75 * alone
    assert shrunk([1.0, 2.0], [1.0, 1.0]) is None


def test_half_an_interval_is_by_student_not_by_the_normal() -> None:
    # 97.5 % quantile of Student's t with 9 degrees of freedom: 2.262 (NIST/SEMATECH e-Handbook, table 1.3.6.7.2)
    found = Level(value=3.0, se=2.0, df=9.0, n=15)
    assert found.half == pytest.approx(2.0 * 2.262, abs=0.001)
    assert found.interval() == pytest.approx((3.0 - found.half, 3.0 + found.half))


def test_a_change_leaves_the_least_number_on_either_side() -> None:
    """The leap lies before the last two of twelve; a change point with five on either side comes after the fifth to the seventh."""
    found = change_point([1.0, 3.0, 2.0, 1.5, 2.5, 1.2, 2.8, 2.2, 1.8, 1.1, 90.0, 91.0])
    assert found is not None
    assert 5 <= found.index <= 7
    first = change_point([-91.0, -90.0, 1.0, 3.0, 2.0, 1.5, 2.5, 1.2, 2.8, 2.2, 1.8, 1.1])
    assert first is not None
    assert 5 <= first.index <= 7


def test_a_difference_without_any_scatter_is_exact() -> None:
    """3 ten times, then 5 twelve times: 2 more, without an error; 6 and 8 values are left by the trimming of 20 %, one is taken by each mean."""
    found = difference(np.full(10, 3.0), np.full(12, 5.0))
    assert (found.value, found.se, found.df, found.n) == (2.0, 0.0, 12.0, 22)
