"""The pieces of the wind fit, each against a closed form, a table or numpy."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyser.errors import EstimateError
from analyser.wind import average as average_module
from analyser.wind.average import average
from analyser.wind.basis import hat_functions, knot_heights, prior_covariance
from analyser.wind.circle import fit_circle
from analyser.wind.covariance import blocks, error_parts, gust_sd, node_noise, wandering, whiten
from analyser.wind.fit import _ring, fit_wind
from analyser.wind.model import build_model, height_swing, linearise
from analyser.wind.priors import SOURCES, Priors
from analyser.wind.response import brake_filter, full_flight, lagged_sink, off_or_on, responded, turn_factors
from analyser.wind.samples import Samples, from_positions, height_noise, position_noise
from analyser.wind.solve import LONGEST_STEP, State, descend
from analyser.wind.straight import heading_spread, spread_of
from analyser.wind.turning import ECHOES, TURN_ECHOES

P = Priors()


def flight(
    seconds: float = 200.0,
    rate_hz: float = 1.0,
    *,
    wind: tuple[float, float] = (4.0, -2.0),
    airspeed: float = 10.0,
    sink: float = 4.0,
    turn: float = 0.25,
    noise: float = 0.0,
    seed: int = 0,
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Circles in a steady wind: t, east, north, height (fine integration)."""
    t = np.arange(0.0, seconds, 1.0 / rate_hz)
    fine = np.arange(0.0, seconds + 0.01, 0.01)
    psi = turn * fine
    east = np.cumsum(airspeed * np.sin(psi) + wind[0]) * 0.01
    north = np.cumsum(airspeed * np.cos(psi) + wind[1]) * 0.01
    rng = np.random.default_rng(seed)
    return (
        t,
        np.interp(t, fine, east) + noise * rng.standard_normal(t.size),
        np.interp(t, fine, north) + noise * rng.standard_normal(t.size),
        50.0 + sink * (seconds - t),
    )


@pytest.mark.parametrize(
    ("bank", "speed", "sink"),
    [
        (10, 11.44, 3.87),
        (20, 11.63, 4.12),
        (30, 11.94, 4.59),
        (40, 12.36, 5.38),
        (45, 12.60, 5.94),
        (60, 13.22, 8.82),
    ],
)
def test_steady_gliding_turn(bank: float, speed: float, sink: float) -> None:
    """Textbook turn at constant lift coefficient, V0 = 12 m/s, glide 3 (11.38 m/s horizontal, 3.79 m/s sink)."""
    factors = turn_factors(np.tan(np.radians([float(bank)])), 3.0)
    assert 12.0 * np.cos(np.arctan(1 / 3)) * factors[0][0] == pytest.approx(speed, abs=0.006)
    assert 12.0 * np.sin(np.arctan(1 / 3)) * factors[1][0] == pytest.approx(sink, abs=0.006)


@pytest.mark.parametrize(
    ("bank", "load", "multiplier"), [(15, 1.04, 1.02), (30, 1.15, 1.07), (45, 1.41, 1.19), (60, 2.0, 1.41)]
)
def test_shallow_glide_reaches_the_turn_table(bank: float, load: float, multiplier: float) -> None:
    """Welch & Irving's table for a glider: load factor, and its root as the factor on the speed; sink n^1.5."""
    speed, sink = turn_factors(np.tan(np.radians([float(bank)])), np.inf)
    assert speed[0] == pytest.approx(multiplier, abs=0.006)
    assert speed[0] ** 2 == pytest.approx(load, abs=0.006)
    assert sink[0] == pytest.approx(load**1.5, rel=0.01)


def test_response_is_that_of_a_second_order_system() -> None:
    """Step response of ω0 = 2π/4.5 s, ζ = 0.6: overshoot exp(−πζ/√(1−ζ²)) = 9.5 %, first peak at π/(ω0 √(1−ζ²)) = 2.8 s."""
    t = np.arange(0.0, 60.0, 0.25)
    out = responded(t, np.where(t >= 20.0, 1.0, 0.0), P)
    assert out[t < 19.0] == pytest.approx(0.0, abs=1e-9)
    assert out.max() == pytest.approx(1.0948, abs=0.005)
    assert t[np.argmax(out)] - 20.0 == pytest.approx(2.81, abs=0.3)
    assert out[-1] == pytest.approx(1.0, abs=1e-3)
    sink = lagged_sink(t, np.where(t >= 20.0, 1.0, 0.0), P)
    assert np.interp(20.0 + 0.8, t, sink) == pytest.approx(1.0 - np.exp(-1.0), abs=0.06)


def test_brakes_are_seen_through_the_noise_of_the_heights() -> None:
    """The filter's estimate of a stepwise brake is nearer the truth than a running mean, by the error it states."""
    t = np.arange(0.5, 300.0)
    rng = np.random.default_rng(3)
    fine = np.arange(0.0, 300.0, 0.05)
    steady = np.repeat(np.where(rng.random(30) < 0.4, -0.9, 0.0), 200)[: fine.size]
    air, sink, rise = np.zeros_like(fine), np.zeros_like(fine), 0.0
    w0 = 2.0 * np.pi / 4.5
    for i in range(1, fine.size):
        rise += (w0**2 * (steady[i] - air[i - 1]) - 1.2 * w0 * rise) * 0.05
        air[i] = air[i - 1] + rise * 0.05
        sink[i] = sink[i - 1] + (steady[i] - sink[i - 1]) / 0.8 * 0.05
    nodes = 0.3 * rng.standard_normal(t.size + 1)
    seen = np.interp(t, fine, sink) - np.diff(nodes)
    noise = 2 * 0.3**2 * np.eye(t.size) - 0.3**2 * (np.eye(t.size, k=1) + np.eye(t.size, k=-1))
    brakes = brake_filter(t, noise, P)
    truth = np.interp(t, fine, air)
    error = brakes.gain @ (seen - np.median(seen)) - (truth - np.median(truth))
    running = np.convolve(seen - np.median(seen), np.ones(7) / 7, mode="same") - (truth - np.median(truth))
    assert np.std(error) < 0.8 * np.std(running)
    assert np.std(error) == pytest.approx(np.sqrt(np.mean(np.diagonal(brakes.left))), rel=0.4)


def on_and_off(
    rng: np.random.Generator, n: int, share: float, noise_m: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Steady departures of the sink, off or on for ten seconds each, as noisy heights show them, and the noise's covariance."""
    steady = np.repeat(np.where(rng.random(n // 10) < share, rng.uniform(-1.1, -0.6, n // 10), 0.0), 10)
    seen = steady - np.diff(noise_m * rng.standard_normal(n + 1))
    noise = noise_m**2 * (2 * np.eye(n) - np.eye(n, k=1) - np.eye(n, k=-1))
    return steady, seen, noise


def test_brakes_are_off_or_on() -> None:
    """Brakes that truly are off or on: the mixture is nearer the truth than the linear filter, most of all where they are off, and owns up to its error."""
    t, rng = np.arange(0.5, 200.0), np.random.default_rng(8)
    linear_off, mixed_off, linear, mixed, stated = [], [], [], [], []
    for _ in range(6):
        steady, seen, noise = on_and_off(rng, t.size, 0.25, 0.6)
        brakes = brake_filter(t, noise, P)
        truth = responded(t, steady, P)
        guess = brakes.gain @ seen
        x, missed = off_or_on(guess, brakes, P)
        off = np.abs(truth) < 0.03
        linear_off.append(np.mean((guess - truth)[off] ** 2))
        mixed_off.append(np.mean((x - truth)[off] ** 2))
        linear.append(np.mean((guess - truth) ** 2))
        mixed.append(np.mean((x - truth) ** 2))
        stated.append(np.mean(missed**2 * np.diagonal(brakes.left)))
    assert np.mean(mixed) < 0.9 * np.mean(linear)
    assert np.mean(mixed_off) < 0.5 * np.mean(linear_off)
    assert 1.0 < np.mean(stated) / np.mean(mixed) < 4.0


def test_full_flight_is_the_sink_flown_most_from_above() -> None:
    rng = np.random.default_rng(4)
    sink = np.where(np.arange(300) < 140, 3.1, 4.2) + 0.05 * rng.standard_normal(300)
    value, count = full_flight(sink, 60.0)
    assert value == pytest.approx(4.2, abs=0.05)
    assert count == 160


def test_samples_are_exact_means_and_thin_exactly() -> None:
    t, east, north, height = flight()
    samples = from_positions(t, east, north, height)
    assert len(samples) == t.size - 1
    assert samples.v_east == pytest.approx(np.diff(east))
    assert samples.sink_mps == pytest.approx(4.0)
    assert not samples.linked[0]
    assert samples.linked[1:].all()
    thin = samples.thinned()
    assert thin.dt_s[:-1] == pytest.approx(2.0)
    assert np.sum(thin.v_east * thin.dt_s) == pytest.approx(east[-1] - east[0])


def test_gaps_are_neither_bridged_nor_linked() -> None:
    t, east, north, height = flight()
    keep = (t < 80.0) | (t > 95.0)
    samples = from_positions(t[keep], east[keep], north[keep], height[keep])
    assert samples.dt_s.max() <= 1.0 + 1e-9
    assert np.count_nonzero(~samples.linked) == 2
    assert np.array_equal(
        samples.thinned().v_east[:40],
        from_positions(t[:80], east[:80], north[:80], height[:80]).thinned().v_east,
    )


@pytest.mark.parametrize("rate_hz", [1.0, 2.0, 5.0, 10.0])
def test_ten_fixes_a_second_make_one_sample_a_second(rate_hz: float) -> None:
    samples = from_positions(*flight(120.0, rate_hz))
    assert len(samples) == pytest.approx(119, abs=1)
    assert samples.dt_s == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize("rate_hz", [1.0, 5.0])
def test_noise_is_read_from_the_fixes(rate_hz: float) -> None:
    """Within 25 % for straight flight (a turn bends the third differences too)."""
    t, east, north, height = flight(300.0, rate_hz, turn=0.0, noise=0.25)
    assert position_noise(t, east, north) == pytest.approx(0.25, rel=0.25)
    noisy = height + 0.4 * np.random.default_rng(2).standard_normal(t.size)
    assert height_noise(t, noisy) == pytest.approx(0.4, rel=0.25)


def test_noise_of_differences_is_that_of_their_nodes() -> None:
    samples = from_positions(*flight(60.0))
    n = len(samples)
    differences = np.eye(n, n + 1, k=1) - np.eye(n, n + 1)
    assert node_noise(samples, 0.3, np.ones(n - 1)) == pytest.approx(0.09 * differences @ differences.T)


def test_gusts_are_shared_as_far_as_headings_agree() -> None:
    """Same heading: the gust's own covariance; opposite: its negative; square: none. IEC-like length scales only set how fast it fades."""
    samples = from_positions(*flight(60.0))
    n = len(samples)
    angle = np.where(np.arange(n) % 3 == 0, 0.0, np.where(np.arange(n) % 3 == 1, np.pi, np.pi / 2))
    heading = np.stack([np.sin(angle), np.cos(angle)])
    gust = error_parts(samples, heading, 10.0, 5.0, P).gust(0)
    sd = gust_sd(samples.agl_m, 5.0, P)
    assert np.diagonal(gust) == pytest.approx(sd**2)
    assert -0.95 * sd[0] * sd[1] < gust[0, 1] < -0.6 * sd[0] * sd[1]
    assert gust[0, 2] == pytest.approx(0.0, abs=1e-12)
    assert gust[0, 3] > 0.0
    assert np.linalg.eigvalsh(gust).min() > -1e-9


def test_whitening_against_numpy() -> None:
    rng = np.random.default_rng(5)
    t = np.arange(170.0)
    c = 0.5 * wandering(t, 4.0) + 0.1 * np.eye(t.size)
    x = rng.standard_normal((t.size, 4))
    lower = np.linalg.cholesky(c)
    y, logdet = whiten(c.copy(), x)
    assert y == pytest.approx(np.linalg.solve(lower, x), abs=1e-9)
    assert logdet == pytest.approx(np.linalg.slogdet(c)[1])


def test_long_flights_are_cut_into_blocks() -> None:
    cuts = blocks(1700)
    assert [c.start for c in cuts][1:] == [c.stop for c in cuts][:-1]
    assert cuts[-1].stop == 1700
    assert max(c.stop - c.start for c in cuts) <= 200


def test_prior_follows_the_power_law() -> None:
    """The level's share of the prior between 300 m and 10 m is (10/300)^0.15; IEC 61400-1 has 0.2, the classical value is 1/7."""
    knots = np.array([10.0, 300.0, 600.0])
    level = Priors(level=100.0, exponent_sd=0.0, turn=0.0)
    cov = prior_covariance(knots, 5.0, 0.01, level)
    assert cov[0, 1] / cov[1, 1] == pytest.approx((10.0 / 300.0) ** 0.15, rel=1e-4)
    assert np.linalg.eigvalsh(prior_covariance(knot_heights(0.0, 1500.0), 8.0, 0.45, P)).min() > 0.0


def test_hat_functions_interpolate() -> None:
    knots = knot_heights(0.0, 930.0)
    heights = np.array([-5.0, 0.0, 12.0, 437.0, 930.0, 2000.0])
    assert hat_functions(knots, heights) @ (2.0 * knots) == pytest.approx(
        2.0 * np.clip(heights, knots[0], knots[-1])
    )


def test_every_prior_has_a_source() -> None:
    fields = set(Priors.__dataclass_fields__)
    assert fields == set(SOURCES)
    assert all(unit and source for unit, source in SOURCES.values())


def model_of(samples: Samples, airspeed: np.ndarray | None = None):
    return build_model(
        samples,
        elevation_m=300.0,
        airspeed_prior=(10.0, 3.0),
        airspeed=airspeed,
        knots=knot_heights(0.0, float(samples.agl_m.max())),
        priors=P,
    )


def test_jacobian_against_differences() -> None:
    """In straight flight neither turn nor brakes move with the wind, so the analytic Jacobian is exact."""
    samples = from_positions(*flight(120.0, turn=0.0))
    model = model_of(samples)
    k = model.size
    rng = np.random.default_rng(4)
    theta = np.concatenate(
        [
            np.full(k, 2.0),
            np.full(k, -1.0),
            [9.0, 2.0, 1.0, 0.1, 0.1, 0.5],
            np.zeros(TURN_ECHOES),
            np.full(ECHOES - TURN_ECHOES, 0.05),
        ]
    )
    theta[: 2 * k] += 0.1 * rng.standard_normal(2 * k)
    point = linearise(model, theta)
    for i in (3, k + 4, 2 * k, 2 * k + 1, 2 * k + 4, theta.size - 1):
        moved = theta.copy()
        moved[i] += 1e-4
        change = (linearise(model, moved).residual - point.residual) / 1e-4
        assert change == pytest.approx(point.jacobian[:, i], abs=2e-2 if i < 2 * k else 1e-6)


def test_circles_in_a_steady_wind_are_solved() -> None:
    """No gusts, no noise: the wind to 0.15 m/s above 150 m (below, the prior expects it to fall toward the ground), the airspeed to 2 %."""
    samples = from_positions(*flight(turn=0.25))
    fit = fit_wind(samples, elevation_m=0.0)
    speed = 10.0 / float(np.mean(linear_rho(samples)))
    within = (fit.knots >= 150.0) & (fit.knots <= 800.0)
    assert fit.wind[0][within] == pytest.approx(4.0, abs=0.15)
    assert fit.wind[1][within] == pytest.approx(-2.0, abs=0.15)
    turning = fit.canopy[0] * (
        1.0 + fit.canopy[2] * float(turn_factors(np.array([10.0 * 0.25 / 9.80665]), 2.5)[0][0] - 1.0)
    )
    assert turning == pytest.approx(speed, rel=0.02)
    assert fit.mirror is None


def linear_rho(samples: Samples) -> np.ndarray:
    """1/√σ without elevation, from the closed form (1 − 2.25577e-5 H)^−2.12794 of the standard atmosphere."""
    return np.asarray((1.0 - 2.25577e-5 * samples.agl_m) ** -2.12794)


def test_known_airspeed_is_used() -> None:
    """A quarter circle only: with the airspeed known the wind along it comes out, without it the error stated is larger."""
    samples = from_positions(*flight(26.0, turn=0.06, noise=0.05))
    known = fit_wind(samples, airspeed=np.full(len(samples), 10.0))
    free = fit_wind(samples)
    at = int(np.argmin(np.abs(known.knots - 100.0)))
    k = known.knots.size
    sds = [
        float(np.sqrt(np.linalg.eigvalsh(f.covariance[np.ix_([at, k + at], [at, k + at])])[-1]))
        for f in (known, free)
    ]
    error = float(np.hypot(known.wind[0][at] - 4.0, known.wind[1][at] + 2.0))
    assert error < 3.0 * sds[0]
    assert sds[0] < 0.8 * sds[1]


def test_average_lies_among_the_choices() -> None:
    samples = from_positions(*flight(noise=0.1))
    model = model_of(samples)
    state = descend(
        model, State(np.concatenate([np.full(model.size, 4.0), np.full(model.size, -2.0), model.prior_mean]))
    )
    found = average(model, state)
    assert min(g for g, _ in P.gusts) <= found.gustiness <= max(g for g, _ in P.gusts)
    assert found.shear in P.wiggles
    assert (found.scales.gustiness, found.scales.length) in P.gusts
    assert min(P.wiggles) <= found.wiggle <= max(P.wiggles)
    assert np.linalg.eigvalsh(found.covariance).min() > 0.0


def test_spread_of_headings() -> None:
    """One line: 0; all round: 0.5; an arc A: 0.5 − sin(A)/2A (closed form)."""
    assert spread_of(np.array([[1.0, -1.0, 1.0], [0.0, 0.0, 0.0]])) == pytest.approx(0.0)
    for arc in (np.pi / 4, np.pi / 2, 2 * np.pi):
        angle = np.linspace(0.0, arc, 20001)
        assert spread_of(np.stack([np.sin(angle), np.cos(angle)])) == pytest.approx(
            0.5 - abs(np.sin(arc)) / (2 * arc), abs=1e-3
        )
    samples = from_positions(*flight(120.0))
    heading = np.stack([np.sin(0.25 * samples.t_s), np.cos(0.25 * samples.t_s)])
    assert heading_spread(samples, heading)[60] == pytest.approx(spread_of(heading[:, 35:86]), abs=0.02)


def test_too_short_or_broken_input_is_refused() -> None:
    with pytest.raises(EstimateError, match="steps of one to four seconds"):
        fit_wind(from_positions(*flight(6.0)))
    with pytest.raises(EstimateError, match="three velocities"):
        fit_circle([1.0, 2.0], [0.0, 1.0])
    with pytest.raises(EstimateError, match="differ"):
        fit_circle([1.0, 1.0, 1.0], [2.0, 2.0, 2.0])


def test_the_method_page_lists_every_prior_as_it_is() -> None:
    page = (Path(__file__).resolve().parents[2] / "docs" / "method.md").read_text(encoding="utf-8")
    rows = {line.split("`")[1]: line for line in page.splitlines() if line.startswith("| `")}
    for name, (unit, source) in SOURCES.items():
        value = getattr(P, name)
        assert f"| {unit} | {source} |" in rows[name], name
        if isinstance(value, float):
            assert f"| {value:g} |" in rows[name], name


def test_one_round_changes_no_wind_by_more_than_the_longest_step() -> None:
    """From 25 m/s beside the wind that was flown in, descend goes there in several steps."""
    model = model_of(from_positions(*flight()))
    start = np.concatenate([np.full(model.size, 29.0), np.full(model.size, -2.0), model.prior_mean])
    moved = descend(model, State(start), rounds=1).theta - start
    east, north = moved[: model.size], moved[model.size : 2 * model.size]
    longest = max(float(np.max(np.hypot(east, north))), abs(float(moved[2 * model.size])))
    assert longest == pytest.approx(LONGEST_STEP)


def test_sink_says_nothing_about_brakes_in_a_banked_turn() -> None:
    """The same dip of the sink is read as brakes in straight flight and not at all in steady circles of 27° bank."""

    def read(turn: float) -> float:
        t, east, north, h = flight(120.0, turn=turn)
        samples = from_positions(t, east, north, h - 6.0 * np.exp(-0.5 * ((t - 60.0) / 6.0) ** 2))
        model = model_of(samples)
        theta = np.zeros(2 * model.size + 6 + ECHOES)
        theta[2 * model.size] = 10.0
        return float(np.abs(linearise(model, theta).effect).max())

    assert read(0.5) == 0.0
    assert read(0.0) > 0.2


@pytest.mark.parametrize("ground", [(7.0, 0.0), (-3.0, 12.0), (4.0, -4.0)])
def test_each_wind_of_the_ring_makes_the_mean_ground_velocity_out_of_the_usual_airspeed(
    ground: tuple[float, float],
) -> None:
    """What is left of the mean ground velocity without the wind is 10.5 m/s long, on four headings a quarter circle apart (_ring)."""
    s, v = SimpleNamespace(v_east=ground[0] + np.array([-1.0, 1.0]), v_north=np.full(2, ground[1])), 10.5
    model: Any = SimpleNamespace(samples=s, size=3, prior_mean=np.array([v, 1.0, 2.0]))
    starts = np.array(_ring(model))
    assert np.ptp(starts[:, :3], axis=1) == pytest.approx(0.0)
    assert np.ptp(starts[:, 3:6], axis=1) == pytest.approx(0.0)
    assert starts[:, 6:] == pytest.approx(np.tile(model.prior_mean, (4, 1)))
    air = (ground[0] - starts[:, 0]) + 1j * (ground[1] - starts[:, 3])
    assert np.abs(air) == pytest.approx(v)
    assert air[1:] / air[:-1] == pytest.approx(np.full(3, -1j))  # clockwise


def test_heights_about_the_line_through_their_neighbours_against_numpy() -> None:
    """Neighbours are the fixes within 15 s, those 15 s away among them (height_swing)."""
    rng = np.random.default_rng(9)
    for t in (np.arange(0.0, 60.0), np.cumsum(rng.uniform(0.4, 2.5, 60))):
        h = 500.0 - 4.0 * t + 8.0 * rng.standard_normal(t.size)
        expected = []
        for at, height in zip(t, h, strict=True):
            near = np.abs(t - at) <= 15.0
            expected.append(height - np.polyval(np.polyfit(t[near] - at, h[near], 1), 0.0))
        assert height_swing(t, h) == pytest.approx(np.array(expected), abs=1e-6)


@pytest.mark.parametrize("level", [0.0, -3000.0, 3000.0])
def test_choices_weigh_by_their_evidence_however_large_or_small_it_is(
    level: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One choice is three times as likely as another, a third not at all: mean 3 of 0 and 4, variance 1 within and ¼·¾·4² between."""
    three = [
        SimpleNamespace(
            log_evidence=level + log_weight,
            theta=np.array([value, 1.0 - 0.5 * value]),
            covariance=np.eye(2),
            scales=SimpleNamespace(gustiness=value, wander=0.5 * value),
            shear=0.25 * value,
        )
        for value, log_weight in ((0.0, 0.0), (4.0, np.log(3.0)), (50.0, -2000.0))
    ]
    monkeypatch.setattr(average_module, "_choices", lambda *_: three)
    anything: Any = None
    found = average(anything, anything)
    assert found.theta == pytest.approx([3.0, -0.5])
    assert found.covariance == pytest.approx(np.array([[1.0 + 3.0, -1.5], [-1.5, 1.0 + 0.75]]))
    assert (found.gustiness, found.wander, found.wiggle) == pytest.approx((3.0, 1.5, 0.75))
    assert (found.scales, found.shear) == (three[1].scales, 1.0)
