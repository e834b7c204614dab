"""Six degrees of freedom: wing and wearer as one body that swings about its centre of mass.

Equations of motion with apparent mass at the wing: Slegers and Costello (2003, J. Guidance 26(6), Aspects of control for a parafoil and
payload system); apparent mass and inertia: Lissaman and Brown (1993, AIAA 93-1236). Coefficients of a vehicle of 21 m² and 148 kg as a simulator
of the Politecnico di Milano lists them (Farì, Grande and Giurato 2016, after Toglia and Vendittelli, Modeling and motion analysis of
autonomous paragliders, 2010): CL = 0.4 + 2 α + 0.21 δs, CD = 0.15 + α² + 0.3 δs, Cm = 0.018 − 0.2 α − 2 qc/2V,
Cl = −0.05 β − 0.1 pb/2V + 0.0021 δa, Cn = −0.07 rb/2V + 0.004 δa. From memory: CYβ = −0.23 (Slegers and Costello), and that the drag
goes with α². Two things are not the vehicle's: full toggles of a jumper pull the tail much farther than its servos did (``toggle`` times
δa, ``travel`` times δs), and wings are scaled to jumpers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import fsolve

from .craft import RHO0, Craft, G
from .glider import Glider, Wing
from .sky import Sky

__all__ = ["Parafoil", "Ram", "draw_ram"]

State = tuple[float, ...]

POUNDS_PER_FT2 = 4.882
# pilots ease a turn that gets steeper than they like
STEEPEST_RAD = 1.0
LEAST_ALPHA, MOST_ALPHA = -0.15, 0.5


@dataclass(frozen=True)
class Ram:
    """A ram-air wing on ``lines_m`` of lines above a wearer; ``incidence_rad`` of the wing to the level of the body (nose up positive)."""

    mass_kg: float = 100.0
    fabric_kg: float = 6.0
    area_m2: float = 18.0
    aspect: float = 7.0 / 3.0
    lines_m: float = 7.0
    incidence_rad: float = -0.22
    line_drag: float = 0.03
    wearer_m2: float = 0.35
    toggle: float = 3.0
    travel: float = 1.25
    riser_rad: float = 0.06
    opening_s: float = 4.0
    snivel: float = 0.3

    @cached_property
    def span(self) -> float:
        return math.sqrt(self.area_m2 * self.aspect)

    @cached_property
    def chord(self) -> float:
        return self.area_m2 / self.span

    @cached_property
    def above(self) -> float:
        """Height of the wing over the centre of mass [m]; the wearer hangs ``lines_m`` below the wing."""
        return self.lines_m * (1.0 - self.fabric_kg / self.mass_kg)

    def matrix(self, rho: float = 1.12) -> NDArray[np.float64]:
        """Mass matrix (6, 6) for (u, v, w, p, q, r) with real, enclosed and apparent mass."""
        b, c, t = self.span, self.chord, 0.12 * self.chord
        ar = self.aspect
        inside = 0.7 * rho * t * self.area_m2
        apparent = (
            rho * math.pi / 4.0 * np.diag([0.848 * t * t * b, 0.339 * t * t * c, ar / (1.0 + ar) * c * c * b])
        )
        turning = rho * np.diag(
            [
                0.055 * ar / (1.0 + ar) * c * c * b**3,
                0.0308 * ar / (1.0 + ar) * c**4 * b,
                0.0555 * t * t * b**3,
            ]
        )
        s, k = math.sin(self.incidence_rad), math.cos(self.incidence_rad)
        tilt = np.array([[k, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, k]])
        added = tilt @ (apparent + inside * np.eye(3)) @ tilt.T
        arm = np.array([[0.0, self.above, 0.0], [-self.above, 0.0, 0.0], [0.0, 0.0, 0.0]])
        below, wing = self.lines_m - self.above, self.fabric_kg
        swing = wing * self.above**2 + (self.mass_kg - wing) * below**2
        own = np.diag([swing + wing * b * b / 12.0 + 3.0, swing + 3.0, wing * b * b / 12.0 + 1.5])
        top = np.hstack([self.mass_kg * np.eye(3) + added, -added @ arm])
        bottom = np.hstack([arm @ added, own + turning - arm @ added @ arm])
        return np.vstack([top, bottom])

    def coefficients(self, alpha: float, brake: float) -> tuple[float, float]:
        """Lift and drag of the wing with its lines; beyond its range the angle of attack does no more."""
        a = min(max(alpha, LEAST_ALPHA), MOST_ALPHA)
        pull = self.travel * brake
        return 0.4 + 2.0 * a + 0.21 * pull, 0.15 + a * a + 0.3 * pull + self.line_drag

    def steady(
        self, brake: float = 0.0, riser: float = 0.0, rho: float = RHO0
    ) -> tuple[float, float, float, float]:
        """Straight glide: horizontal airspeed, sink, pitch angle and speed along the body's axis (u, found with w)."""
        shape = _Forces(self)

        def residual(x: NDArray[np.float64]) -> list[float]:
            u, w, theta = x
            f = shape.of((u, 0.0, w, 0.0, 0.0, 0.0), rho, brake, riser, 0.0)
            weight = self.mass_kg * G
            return [
                (f[0] - weight * math.sin(theta)) / weight,
                (f[2] + weight * math.cos(theta)) / weight,
                f[4] / weight,
            ]

        u, w, theta = fsolve(residual, [11.0, 4.0, 0.0])
        return (
            u * math.cos(theta) + w * math.sin(theta),
            w * math.cos(theta) - u * math.sin(theta),
            float(theta),
            float(u),
        )


class _Forces:
    """Air forces and moments about the centre of mass, body axes (forward, right, down)."""

    __slots__ = ("above", "b", "below", "c", "ram", "s")

    def __init__(self, ram: Ram) -> None:
        self.ram, self.above, self.below = ram, ram.above, ram.lines_m - ram.above
        self.s, self.b, self.c = ram.area_m2, ram.span, ram.chord

    def of(self, x: State, rho: float, brake: float, riser: float, toggle: float) -> State:
        """For velocities (u, v, w, p, q, r) through the air: force (3), moment (3)."""
        u, v, w, p, q, r = x
        ram, h = self.ram, self.above
        uc, vc = u - q * h, v + p * h
        flat = math.hypot(uc, w)
        speed = math.hypot(flat, vc)
        alpha = math.atan2(w, uc) + ram.incidence_rad - ram.riser_rad * riser
        both = min(brake + 0.5 * abs(toggle) * (1.0 - brake), 1.0)
        cl, cd = ram.coefficients(alpha, both)
        press = 0.5 * rho * speed * self.s
        beta = math.asin(max(min(vc / speed, 1.0), -1.0))
        lift, drag = press * speed * cl / flat, press * cd
        fx, fz = lift * w - drag * uc, -lift * uc - drag * w
        fy = -0.23 * press * speed * beta - drag * vc
        k = press * speed
        turn = ram.toggle * toggle
        mx = k * self.b * (-0.05 * beta - 0.1 * p * self.b / (2.0 * speed) + 0.0021 * turn)
        my = k * self.c * (0.018 - 0.2 * alpha - 2.0 * q * self.c / (2.0 * speed))
        mz = k * self.b * (-0.07 * r * self.b / (2.0 * speed) + 0.004 * turn)
        hang = 0.5 * rho * ram.wearer_m2 * math.sqrt(u * u + v * v + w * w)
        gx, gy, gz = -hang * u, -hang * v, -hang * w
        return (
            fx + gx,
            fy + gy,
            fz + gz,
            mx + h * fy - self.below * gy,
            my - h * fx + self.below * gx,
            mz,
        )


class Parafoil(Craft):
    """Falls and inflates as a point mass, then flies as a body from a first swing of ``swing_rad`` (roll, pitch)."""

    def __init__(
        self,
        ram: Ram,
        sky: Sky,
        agl: float,
        heading: float,
        swing_rad: tuple[float, float] = (0.0, 0.0),
        fall_mps: float = 50.0,
    ) -> None:
        super().__init__(sky, agl, heading)
        self.ram, self.swing = ram, swing_rad
        self.forces = _Forces(ram)
        matrix = ram.matrix()
        self._added = matrix[:3, :3] - ram.mass_kg * np.eye(3)
        self._ma = [float(self._added[i, j]) for i, j in ((0, 0), (0, 2), (2, 2), (1, 1))]
        inertia = matrix[3:, 3:]
        self._inertia = [float(inertia[0, 0]), float(inertia[1, 1]), float(inertia[2, 2])]
        inverse = np.linalg.inv(matrix)
        self._long = [[float(inverse[i, j]) for j in (0, 2, 4)] for i in (0, 2, 4)]
        self._side = [[float(inverse[i, j]) for j in (1, 3, 5)] for i in (1, 3, 5)]
        self.body: State = ()
        self.pitch = 0.0
        self._air = (0.0, 0.0, 0.0)
        v, s = ram.steady()[:2]
        cr = 2.0 * ram.mass_kg * G / (RHO0 * ram.area_m2 * (v * v + s * s))
        wing = Wing(
            ram.mass_kg,
            ram.area_m2,
            cr * v / math.hypot(v, s),
            cr * s / math.hypot(v, s),
            opening_s=ram.opening_s,
            snivel=ram.snivel,
        )
        self._fall: Glider | None = Glider(wing, sky, agl, heading, fall_mps)

    def brake_for(self, share: float) -> float:
        grid = np.linspace(0.0, 1.0, 6)
        speeds = np.array([self.ram.steady(float(b))[0] for b in grid])
        return float(np.interp(-share, -speeds / speeds[0], grid))

    def trim(self) -> tuple[float, float]:
        return self.ram.steady()[:2]

    def fly_now(self, brake: float = 0.0) -> None:
        """Put the wing into steady flight at once, with its first swing."""
        rho = self.sky.rho
        v, s, theta, u = self.ram.steady(brake, 0.0, rho)
        self.bank, self.pitch = self.swing[0], theta + self.swing[1]
        self.body = (u, 0.0, math.sqrt(max(v * v + s * s - u * u, 0.0)), 0.0, 0.0, 0.0)
        self.brake = self.hands.brake = brake
        self.inflated_s, self._fall = self.t, None
        sky = self.sky
        self._air = (sky.mean_n + sky.gust_n, sky.mean_e + sky.gust_e, sky.up)

    def move(self, dt: float) -> None:
        if self._fall is not None:
            self._falling(self._fall, dt)
            return
        self.follow_hands(dt)
        toggle = self._steer()
        for _ in range(2):
            self._body_step(0.5 * dt, toggle)
        self._gust(dt)
        self._carry(dt)

    def _falling(self, fall: Glider, dt: float) -> None:
        fall.hands.brake = fall.brake = self.brake
        fall.hands.spin = self.hands.spin
        fall.move(dt)
        self.t, self.east, self.north, self.agl, self.step_no = (
            fall.t,
            fall.east,
            fall.north,
            fall.agl,
            fall.step_no,
        )
        self.ve, self.vn, self.vu, self.speed, self.heading = (
            fall.ve,
            fall.vn,
            fall.vu,
            fall.speed,
            fall.heading,
        )
        if fall.inflated_s is not None and fall.t > fall.wing.opening_s + 1.0:
            self.fly_now(self.brake)

    def _steer(self) -> float:
        """How far one toggle is pulled (right positive): what the turn needs in steady flight, and more as long as it is not there."""
        want = self.hands.rate + self.hands.spin
        if want * self.bank > 0.0:
            want *= min(max((STEEPEST_RAD - abs(self.bank)) / 0.3, 0.0), 1.0)
        steady = 0.07 * self.forces.b / (2.0 * max(self.speed, 5.0)) / (0.004 * self.ram.toggle)
        return min(max(steady * want + 0.6 * (want - self.body[5]), -1.0), 1.0)

    def _rates(self, x: State, phi: float, theta: float, toggle: float) -> tuple[State, float, float, float]:
        u, v, w, p, q, r = x
        f = self.forces.of(x, self.sky.rho, self.brake, self.riser, toggle)
        m, weight = self.ram.mass_kg, self.ram.mass_kg * G
        ax, axz, az, ay = self._ma
        h = self.forces.above
        uc, vc = u - q * h, v + p * h
        px, py, pz = ax * uc + axz * w, ay * vc, axz * uc + az * w
        # momentum of the air that goes along turns with the body
        cx, cy, cz = q * pz - r * py, r * px - p * pz, p * py - q * px
        st, ct, sp, cp = math.sin(theta), math.cos(theta), math.sin(phi), math.cos(phi)
        fx = f[0] - weight * st - m * (q * w - r * v) - cx
        fy = f[1] + weight * ct * sp - m * (r * u - p * w) - cy
        fz = f[2] + weight * ct * cp - m * (p * v - q * u) - cz
        ix, iy, iz = self._inertia
        mx = f[3] - (iz - iy) * q * r - h * cy
        my = f[4] - (ix - iz) * p * r + h * cx
        mz = f[5] - (iy - ix) * p * q
        a, b = self._long, self._side
        rate = (
            a[0][0] * fx + a[0][1] * fz + a[0][2] * my,
            b[0][0] * fy + b[0][1] * mx + b[0][2] * mz,
            a[1][0] * fx + a[1][1] * fz + a[1][2] * my,
            b[1][0] * fy + b[1][1] * mx + b[1][2] * mz,
            a[2][0] * fx + a[2][1] * fz + a[2][2] * my,
            b[2][0] * fy + b[2][1] * mx + b[2][2] * mz,
        )
        spin = q * sp + r * cp
        return rate, p + st / ct * spin, q * cp - r * sp, spin / ct

    def _body_step(self, dt: float, toggle: float) -> None:
        x, phi, theta = self.body, self.bank, self.pitch
        k, dp, dt_, _ = self._rates(x, phi, theta, toggle)
        h = 0.5 * dt
        half = tuple(a + h * b for a, b in zip(x, k))
        k, dp, dt_, dpsi = self._rates(half, phi + h * dp, theta + h * dt_, toggle)
        self.body = tuple(a + dt * b for a, b in zip(x, k))
        self.bank, self.pitch = phi + dt * dp, min(max(theta + dt * dt_, -1.3), 1.3)
        self.heading += dt * dpsi

    def _axes(self) -> tuple[State, State, State]:
        """Rows: north, east, down of a body vector."""
        sp, cp = math.sin(self.bank), math.cos(self.bank)
        st, ct = math.sin(self.pitch), math.cos(self.pitch)
        ss, cs = math.sin(self.heading), math.cos(self.heading)
        return (
            (ct * cs, sp * st * cs - cp * ss, cp * st * cs + sp * ss),
            (ct * ss, sp * st * ss + cp * cs, cp * st * ss - sp * cs),
            (-st, sp * ct, cp * ct),
        )

    def _gust(self, dt: float) -> None:
        """The air changes about the wing: an impulse on the real mass, through the mass matrix."""
        sky, m = self.sky, self.ram.mass_kg
        n, e, d = self._axes()
        u, v, w = self.body[:3]
        ve, vn = e[0] * u + e[1] * v + e[2] * w, n[0] * u + n[1] * v + n[2] * w
        sky.step(dt, self.t, self.agl + self.ram.lines_m, ve, vn, math.sqrt(u * u + v * v + w * w))
        air = (sky.mean_n + sky.gust_n, sky.mean_e + sky.gust_e, sky.up)
        dn, de, dd = air[0] - self._air[0], air[1] - self._air[1], self._air[2] - air[2]
        self._air = air
        fx, fy, fz = (-m * (n[i] * dn + e[i] * de + d[i] * dd) for i in range(3))
        a, b, x = self._long, self._side, self.body
        self.body = (
            x[0] + a[0][0] * fx + a[0][1] * fz,
            x[1] + b[0][0] * fy,
            x[2] + a[1][0] * fx + a[1][1] * fz,
            x[3] + b[1][0] * fy,
            x[4] + a[2][0] * fx + a[2][1] * fz,
            x[5] + b[2][0] * fy,
        )

    def _carry(self, dt: float) -> None:
        """The wearer's velocity over the ground (who hangs below the centre of mass) and place."""
        n, e, d = self._axes()
        u, v, w, p, q, _ = self.body
        below = self.forces.below
        u, v = u + q * below, v - p * below
        air = self._air
        self.ve, self.vn = e[0] * u + e[1] * v + e[2] * w + air[1], n[0] * u + n[1] * v + n[2] * w + air[0]
        self.vu = air[2] - (d[0] * u + d[1] * v + d[2] * w)
        self.speed = math.hypot(self.ve - air[1], self.vn - air[0])
        self.east += self.ve * dt
        self.north += self.vn * dt
        self.agl += self.vu * dt
        self.t += dt
        self.step_no += 1


def draw_ram(rng: np.random.Generator) -> tuple[Ram, tuple[float, float]]:
    """The vehicle scaled to jumpers: 14 to 24 m², 0.8 to 1.3 lb/ft²; and how it swings when it is open (roll, pitch)."""
    area = float(rng.uniform(14.0, 24.0))
    ram = Ram(
        mass_kg=area * float(rng.uniform(0.8, 1.3)) * POUNDS_PER_FT2,
        fabric_kg=0.33 * area,
        area_m2=area,
        aspect=float(rng.uniform(2.25, 2.7)),
        lines_m=7.5 * math.sqrt(area / 21.0) * float(rng.uniform(0.8, 1.0)),
        incidence_rad=float(rng.uniform(-0.27, -0.17)),
        line_drag=float(rng.uniform(0.0, 0.05)),
        wearer_m2=float(rng.uniform(0.25, 0.5)),
        toggle=float(rng.uniform(2.5, 4.0)),
        travel=float(rng.uniform(1.0, 1.6)),
        riser_rad=float(rng.uniform(0.04, 0.08)),
        opening_s=float(rng.uniform(2.5, 7.0)),
        snivel=float(rng.uniform(0.1, 0.5)),
    )
    return ram, (float(rng.normal(0.0, 0.15)), float(rng.normal(0.0, 0.1)))
