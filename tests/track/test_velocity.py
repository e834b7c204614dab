"""Velocity and noise against closed forms and an independent filter."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import savgol_coeffs
from track_cases import turn

from analyser.frame import LocalFrame
from analyser.track.velocity import half_width_s, local_velocity, noise_sd

REAL = Path(__file__).resolve().parents[2] / "shared" / "real"


# ---- velocity ----------------------------------------------------------------------------------------------------------


def test_kernel_constants_from_the_moments_of_the_weights() -> None:
    """Slope of a local cubic under (1 - u²)² weights: variance and fifth moment in closed form, and by summation."""
    u = (np.arange(200_000) + 0.5) / 100_000 - 1.0
    du, w = 1e-5, (1.0 - u * u) ** 2
    mu = [float(np.sum(w * u**k) * du) for k in range(9)]
    a, b = np.linalg.solve([[mu[2], mu[4]], [mu[4], mu[6]]], [1.0, 0.0])
    kernel = (a * u + b * u**3) * w
    from analyser.track import velocity

    assert velocity._KERNEL_VARIANCE == pytest.approx(np.sum(kernel**2) * du, rel=1e-6)
    assert pytest.approx(abs(np.sum(kernel * u**5) * du) / 120, rel=1e-6) == velocity._KERNEL_BIAS


def test_a_cubic_path_is_followed_exactly_on_uneven_times() -> None:
    rng = np.random.default_rng(3)
    t = np.cumsum(rng.uniform(0.7, 1.3, 80))
    x = 3.0 + 2.0 * t - 0.3 * (t - 40) ** 2 + 0.004 * (t - 40) ** 3
    v = 2.0 - 0.6 * (t - 40) + 0.012 * (t - 40) ** 2
    found = local_velocity(t, x, noise=0.02, acceleration_sd=1e6, jerk_sd=1e6)
    np.testing.assert_allclose(found.velocity[3:-3], v[3:-3], atol=1e-6)
    np.testing.assert_allclose(found.position[3:-3], x[3:-3], atol=1e-6)
    np.testing.assert_allclose(found.acceleration[3:-3], (-0.6 + 0.024 * (t - 40))[3:-3], atol=1e-6)


def test_against_savitzky_and_golay() -> None:
    """On even times the slope of the local cubic is a convolution; scipy's coefficients, with the same weights, agree."""
    rng = np.random.default_rng(4)
    x = rng.normal(0, 1, 200).cumsum()
    offsets = np.arange(-3, 4)
    weights = (1 - (offsets / 3.6) ** 2) ** 2
    design = np.vander(offsets, 4, increasing=True)
    slope = np.linalg.solve(design.T @ (weights[:, None] * design), design.T * weights)[1]
    np.testing.assert_allclose(
        np.linalg.pinv(design)[1], savgol_coeffs(7, 3, deriv=1, use="dot"), atol=1e-12
    )  # the design is theirs
    expected = np.correlate(x, slope, mode="valid")
    found = local_velocity(
        np.arange(200.0), x, noise=0.02, half_width=3.6, acceleration_sd=1e6, jerk_sd=1e6
    ).velocity[3:-3]
    np.testing.assert_allclose(found, expected, atol=1e-6)


@pytest.mark.parametrize("hz", [1.0, 2.0, 5.0, 10.0])
@pytest.mark.parametrize("noise", [0.1, 0.3, 1.0])
def test_a_turn_of_twenty_degrees_a_second_is_not_flattened(hz: float, noise: float) -> None:
    """The bias of the speed stays below half the noise of a velocity component; the naive 5 s line at 1 Hz loses 0.7 m/s."""
    rng = np.random.default_rng(7)
    t = np.arange(0, 90, 1 / hz)
    place, true = turn(t, 20.0)
    runs = np.array(
        [local_velocity(t, place + rng.normal(0, noise, place.shape)).velocity for _ in range(40)]
    )
    inside = slice(int(6 * hz), -int(6 * hz))
    mean = runs.mean(axis=0)[inside]
    bias = np.abs(np.mean(np.sum(mean * true[inside], axis=1)) / 10.0 - 10.0)
    scatter = float(np.std(runs[:, inside] - mean))
    said = float(np.median(local_velocity(t, place, noise=noise).velocity_sd[inside]))
    assert bias < 0.5 * scatter
    assert bias < 0.15
    assert said == pytest.approx(scatter, rel=0.15)


def test_the_window_follows_rate_and_noise() -> None:
    assert half_width_s(0.3, 0.1) < half_width_s(0.3, 0.5) < half_width_s(1.0, 0.5)
    assert half_width_s(0.1, 1.0) >= 2.6
    assert half_width_s(50.0, 0.1) <= 5.0
    assert half_width_s(0.3, 7.0) == pytest.approx(18.2)


@pytest.mark.parametrize("noise", [0.05, 0.3, 2.0])
@pytest.mark.parametrize("hz", [1.0, 10.0])
def test_noise_is_measured_in_the_midst_of_turns(noise: float, hz: float) -> None:
    rng = np.random.default_rng(11)
    t = np.sort(np.arange(0, 400, 1 / hz) + rng.uniform(-0.2, 0.2, int(400 * hz)) / hz)
    place, _ = turn(t, 20.0)
    found = noise_sd(t, place[:, 0] + rng.normal(0, noise, t.size))
    assert noise * 0.85 < found < noise * 1.15 + 0.06


def test_no_difference_over_a_gap() -> None:
    """Two straight flights with a leap of a kilometre in the ten seconds between: nobody sees 100 m/s."""
    t = np.concatenate([np.arange(30.0), np.arange(40.0, 70.0)])
    x = np.where(t < 35, 10.0 * t, 1000.0 - 8.0 * t)
    found = local_velocity(t, x).velocity
    np.testing.assert_allclose(found[:30], 10.0, atol=1e-6)
    np.testing.assert_allclose(found[30:], -8.0, atol=1e-6)


def test_long_recordings_are_fitted_in_blocks_without_seams(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(6)
    t = np.cumsum(rng.choice([0.05, 0.1, 0.1, 0.2, 5.0], 1200, p=[0.2, 0.3, 0.3, 0.19, 0.01]))
    x = rng.normal(0, 1, (1200, 2)).cumsum(axis=0)
    x[rng.random(1200) < 0.05] = np.nan
    whole = local_velocity(t, x, noise=0.3)
    monkeypatch.setattr("analyser.track.velocity._BLOCK", 70)
    for one, other in zip(whole, local_velocity(t, x, noise=0.3)):
        np.testing.assert_allclose(other, one, rtol=1e-9, atol=1e-9)


def test_lonely_and_unknown_fixes() -> None:
    t = np.array([0.0, 1.0, 2.0, 50.0, 100.0, 101.0, 102.0])
    x = np.array([0.0, 5.0, 10.0, 3.0, 0.0, math.nan, 4.0])
    found = local_velocity(t, x, noise=0.1, gap_s=3.0)
    np.testing.assert_allclose(found.velocity, [5, 5, 5, np.nan, 2, 2, 2], atol=0.2)
    assert found.position[3] == 3.0
    assert np.isfinite(found.position[5])
    assert local_velocity([], []).velocity.shape == (0,)
    assert np.isnan(local_velocity([0.0], [1.0]).velocity).all()


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(0.01, 9), st.floats(-1e4, 1e4) | st.just(math.nan)), min_size=1, max_size=40
    ),
    st.floats(-100, 100),
    st.floats(-50, 50),
)
def test_velocity_moves_with_the_world(rows: list[tuple[float, float]], shift: float, drift: float) -> None:
    """Adding a place and a steady wind adds exactly that wind; time reversed reverses the sign."""
    t = np.cumsum([r[0] for r in rows])
    x = np.array([r[1] for r in rows])
    one = local_velocity(t, x, noise=0.3).velocity
    two = local_velocity(t, x + shift + drift * t, noise=0.3).velocity
    np.testing.assert_allclose(
        two - one,
        np.where(np.isnan(one), np.nan, drift),
        atol=1e-4 * (1 + np.nanmax(np.abs(np.append(x, 0)))),
    )
    back = local_velocity(-t[::-1], x[::-1], noise=0.3).velocity[::-1]
    np.testing.assert_allclose(-back, one, atol=1e-5 * (1 + np.nanmax(np.abs(np.append(x, 0)))))


# ---- against receivers' own velocities -----------------------------------------------------------------------------------


def table(name: str) -> dict[str, np.ndarray]:
    data = np.genfromtxt(REAL / name, delimiter=",", names=True)
    return {column: data[column] for column in data.dtype.names}


def apart(t: np.ndarray, lat: np.ndarray, lon: np.ndarray, v: np.ndarray, late_s: float = 0.0) -> np.ndarray:
    """Vector difference (n,) of the velocity from positions and a recorded one that trails by ``late_s``."""
    place = np.stack(LocalFrame(float(lat[0]), float(lon[0])).to_local(lat, lon), axis=1)
    theirs = np.stack([np.interp(t + late_s, t, column) for column in v.T], axis=1)
    return np.hypot(*(local_velocity(t, place).velocity - theirs).T)


def test_positions_of_an_aircraft_against_its_own_velocity() -> None:
    """Circuits and loiters at 5 Hz (NorthStarUAS/insgnss_tools, Proto_FLT09, MIT): half the time in turns of over 12°/s."""
    d = table("uav_loiter_5hz.csv")
    new = np.concatenate([[True], np.diff(d["t_s"]) > 0])
    v = np.stack([d["ground_east_mps"], d["ground_north_mps"]], axis=1)[new]
    off = apart(d["t_s"][new], d["latitude"][new], d["longitude"][new], v)
    assert np.median(off) < 0.3
    assert np.sqrt(np.mean(off**2)) < 0.5


def test_the_priors_of_acceleration_and_jerk_are_those_of_a_ridge() -> None:
    """The cubic about a fix by its normal equations, written out: c2 = a s²/2 and c3 = j s³/6 with the standard deviations of a and j (_block)."""
    x = np.random.default_rng(5).normal(0.0, 2.0, 21).cumsum()
    spread, noise, a_sd, j_sd = 3.6, 0.5, 2.0, 0.6
    found = local_velocity(
        np.arange(21.0), x, noise=noise, half_width=spread, acceleration_sd=a_sd, jerk_sd=j_sd
    )
    u = np.arange(-3, 4) / spread
    design, weight = np.vander(u, 4, increasing=True), (1.0 - u * u) ** 2
    ridge = np.diag(
        [0.0, 0.0, (noise / (a_sd * spread**2 / 2.0)) ** 2, (noise / (j_sd * spread**3 / 6.0)) ** 2]
    )
    kernel = np.linalg.solve(design.T @ (weight[:, None] * design) + ridge, design.T * weight)
    c = kernel @ x[7:14]
    assert found.position[10] == pytest.approx(c[0], abs=1e-9)
    assert found.velocity[10] == pytest.approx(c[1] / spread, abs=1e-9)
    assert found.velocity_sd[10] == pytest.approx(noise * math.sqrt(np.sum(kernel[1] ** 2)) / spread)
    assert found.acceleration[10] == pytest.approx(2.0 * c[2] / spread**2, abs=1e-9)
