"""The wings of the families against closed forms of flight mechanics."""

from __future__ import annotations

import math

import numpy as np
import pytest

from worlds.families.craft import DT_S, RHO0, Craft, G
from worlds.families.glider import Glider, Wing, draw_wing
from worlds.families.kinematic import Kinematic, Tables, draw_tables
from worlds.families.parafoil import Parafoil, Ram, draw_ram
from worlds.families.sky import still_sky

HIGH_M = 1500.0


def flown(craft: Craft, seconds: float) -> np.ndarray:
    """Rows t, agl, speed, sink, heading, bank."""
    rows = []
    for _ in range(round(seconds / DT_S)):
        craft.move(DT_S)
        rows.append((craft.t, craft.agl, craft.speed, craft.sink, craft.heading, craft.bank))
    return np.array(rows)


def glider(wing: Wing, agl: float = 0.0, brake: float = 0.0) -> Glider:
    made = Glider(wing, still_sky(), agl, 0.0)
    made.fly_now(brake)
    return made


@pytest.mark.parametrize("brake", [0.0, 0.5, 1.0])
def test_glider_settles_on_its_polar(brake: float) -> None:
    """V² = 2mg/(ρS√(CL² + CD²)), glide CL/CD, at a density of a field at 1,500 m."""
    wing = Wing()
    craft = glider(wing, HIGH_M, brake)
    craft.a_u -= 2.0
    craft.sky.rho = 1.0
    rows = flown(craft, 40.0)
    cl, cd = wing.coefficients(brake, 0.0)
    v = math.sqrt(2.0 * wing.mass_kg * G / (craft.sky.rho * wing.area_m2 * math.hypot(cl, cd)))
    assert math.hypot(rows[-1, 2], rows[-1, 3]) == pytest.approx(v, rel=0.003)
    assert rows[-1, 2] / rows[-1, 3] == pytest.approx(cl / cd, rel=0.01)


def test_phugoid_of_lanchester() -> None:
    """Period π√2·V/g of a wing with little drag; the air that goes along makes it slower by its share of the mass. The damping of a
    glide is 3/(2√2)·D/L: Lanchester's 1/√2 of level flight, and as much as the weight along the path adds."""
    wing = Wing(lift=0.5, drag=0.01, d1=0.0, d2=0.0)
    craft = glider(wing, HIGH_M)
    v = math.hypot(*wing.steady(rho=craft.sky.rho))
    craft.a_n *= 1.02
    rows = flown(craft, 40.0)
    speed = rows[:, 2] - np.mean(rows[:, 2])
    tops = [i for i in range(1, speed.size - 1) if speed[i - 1] < speed[i] >= speed[i + 1]]
    heavier = 1.0 + wing.air_kg(craft.sky.rho) / wing.mass_kg
    assert np.mean(np.diff(rows[tops, 0])) == pytest.approx(
        math.pi * math.sqrt(2.0) * v / G * heavier, rel=0.03
    )
    fall = math.log(speed[tops[1]] / speed[tops[3]]) / 2.0
    assert fall / (2.0 * math.pi) == pytest.approx(1.5 / math.sqrt(2.0) * 0.01 / 0.5, rel=0.15)


def test_glider_turns_as_a_banked_wing() -> None:
    """ψ̇ = g tan φ/V with the weight's share of the moving mass; V² ∝ cos γ/cos φ."""
    wing = Wing(toggle_drag=0.0)
    craft = glider(wing, HIGH_M)
    craft.hands.rate = 0.5
    rows = flown(craft, 30.0)
    rate = (rows[-1, 4] - rows[-2, 4]) % (2.0 * math.pi) / DT_S
    v = math.hypot(rows[-1, 2], rows[-1, 3])
    share = wing.mass_kg / (wing.mass_kg + wing.air_kg(craft.sky.rho))
    assert rate == pytest.approx(share * G * math.tan(rows[-1, 5]) / v, rel=0.02)
    straight = math.hypot(*wing.steady(rho=craft.sky.rho))
    level, cl, cd = math.cos(rows[-1, 5]), *wing.coefficients(0.0, 0.0)
    cos_turn, cos_straight = math.cos(math.atan(cd / cl / level)), math.cos(math.atan(cd / cl))
    assert v / straight == pytest.approx(math.sqrt(cos_turn / level / cos_straight), rel=0.01)


def test_letting_up_the_brakes_surges() -> None:
    """From slow flight the speed overshoots trim, and the sink is deeper than either steady one, as damping 1/(√2·2.75) = 0.26 makes it."""
    craft = glider(Wing(), HIGH_M, 0.7)
    flown(craft, 5.0)
    craft.hands.brake = 0.0
    rows = flown(craft, 20.0)
    trim = craft.wing.steady(rho=craft.sky.rho)
    assert 1.05 < rows[:, 2].max() / trim[0] < 1.5
    assert rows[:, 3].max() > 1.3 * trim[1]


def test_brakes_have_a_flat_least_sink() -> None:
    """Common practice: sink is least somewhere in the middle of the brakes and changes little there; stowed brakes leave 55 to 65 % of the airspeed."""
    rng = np.random.default_rng(8)
    grid = np.linspace(0.0, 1.0, 21)
    for steady in [draw_wing(rng).steady for _ in range(30)] + [draw_tables(rng).steady for _ in range(30)]:
        speed, sink = np.array([steady(float(b)) for b in grid]).T
        assert np.all(np.diff(speed) < 0.0)
        assert 0.15 <= grid[np.argmin(sink)] <= 0.75
        assert np.ptp(sink[(grid >= 0.25) & (grid <= 0.5)]) < 0.16 * sink[0]
    for craft in (
        Glider(draw_wing(rng), still_sky(), 0.0, 0.0),
        Kinematic(Tables(), still_sky(), 0.0, 0.0, rng),
    ):
        for share in (0.55, 0.65):
            assert 0.4 < craft.brake_for(share) <= 1.0


def test_mass_matrix_of_the_parafoil() -> None:
    """Symmetric, positive; the apparent mass across the wing as Lissaman and Brown give it for 7 × 3 m: AR/(1 + AR)·π/4·ρc²b = 42.4 kg at 1.225."""
    ram = Ram(area_m2=21.0, incidence_rad=0.0)
    matrix = ram.matrix(RHO0)
    assert matrix == pytest.approx(matrix.T)
    assert np.linalg.eigvalsh(matrix).min() > 0.0
    inside = 0.7 * RHO0 * 0.12 * 3.0 * 21.0
    assert matrix[2, 2] - ram.mass_kg - inside == pytest.approx(
        0.7 * math.pi / 4.0 * RHO0 * 9.0 * 7.0, rel=1e-6
    )


@pytest.mark.parametrize("brake", [0.0, 0.5])
def test_parafoil_settles_where_forces_and_moments_vanish(brake: float) -> None:
    """The equations stepped for a minute end where a solver says; there lift and drag of the whole hold the weight."""
    ram = Ram()
    craft = Parafoil(ram, still_sky(), 1000.0, 0.5, (0.3, 0.15))
    craft.fly_now(brake)
    rows = flown(craft, 60.0)
    v, s, theta, _ = ram.steady(brake, rho=craft.sky.rho)
    assert rows[-1, 2:4] == pytest.approx([v, s], rel=0.01)
    assert craft.pitch == pytest.approx(theta, abs=0.01)
    assert rows[-1, 4:] == pytest.approx([0.5, 0.0], abs=0.02)


def test_the_wearer_swings_like_a_pendulum() -> None:
    """In roll about the wing: near the period 2π√(l/g) of a weight on lines of that length (5.3 s for 7 m), and it dies away."""
    craft = Parafoil(Ram(), still_sky(), 1000.0, 0.0, (0.2, 0.0))
    craft.fly_now()
    bank = flown(craft, 25.0)[:, 5]
    zero = np.flatnonzero(np.diff(np.sign(bank[:200]))) * DT_S
    assert 2.0 * np.mean(np.diff(zero)) == pytest.approx(2.0 * math.pi * math.sqrt(7.0 / G), rel=0.25)
    assert np.abs(bank[-100:]).max() < 0.2 * np.abs(bank[:100]).max()


def test_parafoil_turns_as_its_yaw_derivatives_say() -> None:
    """Steady: Cnδ·δ = 0.07·rb/2V; to the right with the right toggle, banked so that tan φ = rV/g about."""
    craft = Parafoil(Ram(), still_sky(), HIGH_M, 0.0)
    craft.fly_now()
    craft.hands.rate = 0.25
    rows = flown(craft, 60.0)
    rate = (rows[-1, 4] - rows[-201, 4]) / 10.0
    assert rate == pytest.approx(0.25, rel=0.1)
    v = math.hypot(*rows[-1, 2:4])
    assert math.tan(rows[-200:, 5].mean()) == pytest.approx(rate * v / G, rel=0.3)


def test_the_six_degrees_hold_for_every_wing_that_is_drawn() -> None:
    rng = np.random.default_rng(3)
    for _ in range(12):
        ram, swing = draw_ram(rng)
        craft = Parafoil(ram, still_sky(), HIGH_M, 0.0, swing)
        craft.fly_now(0.4)
        craft.hands.rate = 0.6
        flown(craft, 10.0)
        craft.hands.rate = craft.hands.brake = 0.0
        rows = flown(craft, 40.0)
        v, s = ram.steady(rho=craft.sky.rho)[:2]
        assert rows[-1, 2:4] == pytest.approx([v, s], rel=0.05)
        assert 1.8 < v / s < 4.2
        assert 7.0 < v < 17.0


def test_kinematic_tables_density_and_energy() -> None:
    """Steady values grow with 1/√σ; speed that is lost is height that is kept: ½(v1² − v2²)/g more than the tables alone."""
    tables = Tables(wander=0.0)
    craft = Kinematic(tables, still_sky(1500.0), HIGH_M, 0.0, np.random.default_rng(0))
    craft.fly_now()
    rows = flown(craft, 30.0)
    thin = math.sqrt(RHO0 / craft.sky.rho)
    assert rows[-1, 2:4] == pytest.approx([10.5 * thin, 4.0 * thin], rel=0.01)
    level = Kinematic(tables, still_sky(), HIGH_M, 0.0, np.random.default_rng(0))
    level.fly_now()
    flown(level, 30.0)
    before = level.speed, level.agl
    level.hands.brake = 0.5
    rows = flown(level, 15.0)
    brake = np.minimum(np.arange(1, 301) * DT_S * 1.1, 0.5)
    sinks = (
        np.interp(brake, [0.0, 0.25, 0.5], np.array(tables.sinks[:3]) * tables.sink_mps)
        * rows[-1, 3]
        / (0.8 * tables.sink_mps)
    )
    lagging = tables.sink_lag_s * (sinks[0] - sinks[-1])
    kept = np.sum(sinks) * DT_S + lagging - (before[1] - rows[-1, 1])
    assert kept == pytest.approx(0.5 * (before[0] ** 2 - rows[-1, 2] ** 2) / G, rel=0.1)


@pytest.mark.parametrize("family", ["glider", "parafoil", "kinematic"])
def test_openings_take_their_time_and_end_in_a_glide(family: str) -> None:
    rng = np.random.default_rng(1)
    for seconds in (3.0, 8.0):
        craft: Craft
        if family == "glider":
            craft = Glider(Wing(opening_s=seconds), still_sky(), 1200.0, 1.0)
        elif family == "parafoil":
            craft = Parafoil(Ram(opening_s=seconds), still_sky(), 1200.0, 1.0)
        else:
            craft = Kinematic(Tables(opening_s=seconds, wander=0.0), still_sky(), 1200.0, 1.0, rng)
        craft.brake = craft.hands.brake = 0.6
        rows = flown(craft, seconds + 15.0)
        slow = rows[np.argmax(rows[:, 3] < 12.0), 0]
        assert 0.3 * seconds < slow <= seconds + 1.0
        assert rows[0, 3] > 40.0
        assert craft.inflated_s == pytest.approx(seconds, abs=1.2)
        assert math.sin(rows[-1, 4] - 1.0) == pytest.approx(0.0, abs=0.05)
