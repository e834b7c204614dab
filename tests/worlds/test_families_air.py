"""The air of the families against closed forms and printed numbers."""

from __future__ import annotations

import csv
import math

import numpy as np
import pytest

from worlds.families.day import Day
from worlds.families.mean_winds import (
    GRID_M,
    SOUNDINGS,
    ekman,
    log_law,
    low_level_jet,
    power_law,
    shear_layer,
    sounding,
)
from worlds.families.sky import Change, Sky
from worlds.families.turbulence import Dryden, Thermals, dryden_scales, thermal_profile

FT, KT = 0.3048, 1852.0 / 3600.0


def test_power_and_log_law_at_two_heights() -> None:
    """u(100)/u(10) = 10^p; the log law over z0 = 0.03 m: ln(50/0.03)/ln(10/0.03) = 1.277 (wind energy texts)."""
    h = np.array([10.0, 50.0, 100.0])
    assert power_law(5.0, 0.143, h)[0][2] / 5.0 == pytest.approx(10.0**0.143)
    assert log_law(4.0, 0.03, h)[0][:2] / 4.0 == pytest.approx([1.0, 1.277], abs=1e-3)


def test_classic_spiral_exceeds_the_geostrophic_wind_by_four_percent() -> None:
    """Holton, An Introduction to Dynamic Meteorology: at γz = π the wind is along the geostrophic one and 1 + e^−π times as strong."""
    u, v = ekman(10.0, 1000.0, 45.0, np.array([1000.0]), surface_m=1e-9)
    assert float(u[0]) == pytest.approx(10.0 * (1.0 + math.exp(-math.pi)), rel=1e-6)
    assert float(v[0]) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("angle", [15.0, 30.0])
def test_spiral_above_a_surface_layer(angle: float) -> None:
    """At its foot the wind stands at the angle α left of the geostrophic wind with G(cos α − sin α); far aloft it is G."""
    u, v = ekman(8.0, 600.0, angle, np.array([40.0, 5000.0]))
    a = math.radians(angle)
    assert math.degrees(math.atan2(v[0], u[0])) == pytest.approx(angle)
    assert math.hypot(u[0], v[0]) == pytest.approx(8.0 * (math.cos(a) - math.sin(a)))
    assert (u[1], v[1]) == (pytest.approx(8.0, rel=1e-6), pytest.approx(0.0, abs=1e-6))
    assert ekman(8.0, 600.0, angle, np.array([40.0]), south=True)[1][0] == -v[0]


def test_jet_and_shear_layer() -> None:
    background = low_level_jet(3.0, 0.0, 300.0)[0]
    jet = low_level_jet(3.0, 6.0, 300.0)[0] - background
    assert GRID_M[np.argmax(jet)] == pytest.approx(300.0, abs=2.0)
    assert jet.max() == pytest.approx(6.0, abs=1e-3)
    u, v = shear_layer(3.0, (2.0, -4.0), 500.0, 50.0, np.array([300.0, 500.0, 700.0]))
    assert u[2] - u[0] == pytest.approx(2.0, rel=1e-3)
    assert v.tolist() == pytest.approx([0.0, -2.0, -4.0], abs=3e-3)


def test_soundings_keep_their_directions() -> None:
    if not SOUNDINGS.is_file():
        pytest.skip("the real soundings are not beside the repository")
    with SOUNDINGS.open(newline="") as file:
        rows = [r for r in csv.DictReader(file) if r["sounding"] == "nov11"]
    ground = min(float(r["hght_m_msl"]) for r in rows)
    found = sounding("nov11", 6.0)
    assert found is not None
    for row in rows[2:-1]:
        h = float(row["hght_m_msl"]) - ground
        if h < 150.0:
            continue
        e, n = (float(np.interp(h, GRID_M, c)) for c in found)
        assert math.remainder(
            math.degrees(math.atan2(-e, -n)) - float(row["dir_from_deg"]), 360.0
        ) == pytest.approx(0.0, abs=2.0)
    low = GRID_M <= 1500.0
    assert np.mean(np.hypot(found[0][low], found[1][low])) == pytest.approx(6.0, rel=1e-6)


def test_scales_of_the_turbulence_standard() -> None:
    """MIL-F-8785C by hand: at 1,000 ft the bracket is 1, so all σ and L are alike; at 200 ft with 30 kt at 20 ft: σw 3 kt, σu 4.61 kt,
    Lu 726 ft, Lw 200 ft; at 2,000 ft and above 1,750 ft."""
    assert dryden_scales(1000.0 * FT, 10.0, 1.0) == pytest.approx((1.0, 1.0, 1000.0 * FT, 1000.0 * FT))
    su, sw, lu, lw = dryden_scales(200.0 * FT, 30.0 * KT, 1.0)
    assert (su / KT, sw / KT, lu / FT, lw / FT) == (
        pytest.approx(4.61, abs=0.01), pytest.approx(3.0), pytest.approx(726.0, abs=1.0), pytest.approx(200.0)
    )  # fmt: skip
    su, sw, lu, lw = dryden_scales(3750.0 * FT, 30.0 * KT, 1.0)
    assert (su, sw, lu, lw) == pytest.approx((1.5 * FT, 1.5 * FT, 533.4, 533.4))


def test_gusts_have_the_spectra_of_dryden() -> None:
    """Correlation over a way x: exp(−x/L) along, exp(−x/L)(1 − x/2L) across and up (the transforms of the spectra), variance σ²."""
    gusts = Dryden(np.random.default_rng(5), 10.0, 1.0)
    h, step = 1000.0 * FT, 15.0
    values = np.array([gusts.step(step, h) for _ in range(120_000)])
    assert values.std(axis=0) == pytest.approx([1.0, 1.0, 1.0], rel=0.05)
    length = 1000.0 * FT
    for lag in (10, 20, 40):
        x = lag * step / length
        want = np.array([math.exp(-x), *2 * [math.exp(-x) * (1.0 - 0.5 * x)]])
        got = [np.mean(v[lag:] * v[:-lag]) / np.var(v) for v in values.T]
        assert got == pytest.approx(want.tolist(), abs=0.06)
    assert abs(np.corrcoef(values.T)[np.triu_indices(3, 1)]).max() < 0.06


def test_thermals_rise_inside_sink_around_and_cancel() -> None:
    """Gedeon's profile: 1 in the middle, 0 at the core's edge, least −e⁻² where (r/R)² = 2."""
    r = np.array([0.0, 100.0, 100.0 * math.sqrt(2.0)])
    assert thermal_profile(r, 100.0) == pytest.approx([1.0, 0.0, -math.exp(-2.0)])
    field = Thermals(np.random.default_rng(2), 1.5, 1200.0)
    axis = np.arange(0.0, 3000.0, 30.0)
    rise = np.array([[field.up(x, y, 300.0) for x in axis] for y in axis])
    assert abs(rise.mean()) < 0.02
    assert rise.max() > 0.5
    assert field.up(500.0, 500.0, 1200.0) == 0.0


def test_density_of_standard_and_hot_days() -> None:
    """ISO 2533:1975 density ratios; dry air at 30 °C and 1013.25 hPa is 1.1644 kg/m³ (any table)."""
    standard = Day(0.0)
    assert standard.density([0.0, 1000.0, 2000.0]) / 1.225 == pytest.approx(
        [1.0, 0.907463, 0.821624], rel=1e-4
    )
    assert float(Day(0.0, warmer_k=15.0).density(0.0)) == pytest.approx(1.1644, rel=1e-4)
    assert float(Day(0.0, pressure_pa=101325.0 * 1.02).density(0.0)) == pytest.approx(1.225 * 1.02, rel=1e-4)


def test_barometers_read_low_in_warm_air() -> None:
    """Pilots' rule: 4 ft per 1,000 ft and degree, that is 4 per mille a kelvin (from memory); exactly the ratio of temperatures."""
    assert Day(500.0).told_by_barometer([0.0, 1000.0]) == pytest.approx([0.0, 1000.0], abs=1e-6)
    told = float(Day(0.0, warmer_k=20.0).told_by_barometer([1000.0])[0])
    assert told == pytest.approx(1000.0 * 288.15 / 308.15, rel=0.003)


def test_mean_wind_of_the_steps_is_that_of_the_profile() -> None:
    sky = Sky("log", log_law(5.0, 0.1), Day(200.0), Change((0.3, -0.2), (0.5, 0.1), 300.0, 1.0), None, None)
    for agl, t in ((800.0, 30.0), (55.0, 200.5), (4.0, 260.25)):
        sky.step(0.05, t, agl, 0.0, 10.0, 10.0)
        east, north = sky.mean(agl, t)
        assert (sky.mean_e, sky.mean_n) == (
            pytest.approx(float(east), abs=2e-3),
            pytest.approx(float(north), abs=2e-3),
        )
        assert sky.rho == pytest.approx(float(sky.day.density(agl)), rel=1e-3)
