"""A point-mass glider: lift and drag as functions of brakes and risers, enclosed and added mass, roll lag.

Equations: Newton's law for the mass with the air forces of the velocity through the air, Etkin, Dynamics of Flight; added mass of a
ram-air wing, Lissaman and Brown (1993, AIAA 93-1236): 0.848 π/4 ρ t² b along the chord, plus the air enclosed. What the brakes do to
the coefficients follows the trends of Lingard (1995, Ram-air parachute design, 13th AIAA Decelerator Seminar): both grow, the drag
faster, so that the sink has a flat minimum (all from memory). The phugoid is not put in: constant coefficients make it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .craft import RHO0, Craft, G
from .sky import Sky

__all__ = ["Glider", "Wing", "draw_wing"]

BODY_M2 = 0.45
POUNDS_PER_FT2 = 4.882


@dataclass(frozen=True, slots=True)
class Wing:
    """``mass_kg`` without the air inside; ``area_m2``; hands-up ``lift`` and ``drag`` coefficients (drag with lines and wearer);
    growth with brakes: lift·(1 + c1 δ − c2 δ²), drag·(1 + d1 δ + d2 δ²)."""

    mass_kg: float = 95.0
    area_m2: float = 16.0
    lift: float = 0.55
    drag: float = 0.2
    c1: float = 2.0
    c2: float = 0.6
    d1: float = 0.8
    d2: float = 3.4
    front_lift: float = 0.28
    rear_lift: float = 0.2
    rear_drag: float = 0.4
    toggle_drag: float = 0.5
    roll_lag_s: float = 0.7
    steepest_rad: float = 1.0
    opening_s: float = 4.0
    snivel: float = 0.3
    span_chord: float = 2.6

    def coefficients(self, brake: float, riser: float) -> tuple[float, float]:
        """Lift and drag coefficient with that much brake and riser (front positive)."""
        lift = self.lift * (1.0 + self.c1 * brake - self.c2 * brake * brake)
        drag = self.drag * (1.0 + self.d1 * brake + self.d2 * brake * brake)
        if riser > 0.0:
            return lift * (1.0 - self.front_lift * riser), drag * (1.0 - 0.05 * riser)
        return lift * (1.0 - self.rear_lift * riser), drag * (1.0 - self.rear_drag * riser)

    def air_kg(self, rho: float) -> float:
        """Air that goes with the wing: enclosed, and the added mass along the chord."""
        chord = math.sqrt(self.area_m2 / self.span_chord)
        thick = 0.13 * chord
        return rho * (0.7 * thick * self.area_m2 + 0.848 * math.pi / 4.0 * thick**2 * chord * self.span_chord)

    def steady(self, brake: float = 0.0, riser: float = 0.0, rho: float = RHO0) -> tuple[float, float]:
        """Horizontal airspeed and sink of the straight glide: V² = 2mg/(ρS√(CL² + CD²)), tan γ = CD/CL."""
        cl, cd = self.coefficients(brake, riser)
        resultant = math.hypot(cl, cd)
        v = math.sqrt(2.0 * self.mass_kg * G / (rho * self.area_m2 * resultant))
        return v * cl / resultant, v * cd / resultant


class Glider(Craft):
    """The wing in the air; starts at line stretch, falling with ``fall_mps``."""

    def __init__(self, wing: Wing, sky: Sky, agl: float, heading: float, fall_mps: float = 50.0) -> None:
        super().__init__(sky, agl, heading)
        self.wing = wing
        self.a_e, self.a_n, self.a_u = 0.0, 0.0, -fall_mps
        sky.step(0.0, 0.0, agl, 0.0, 1.0, fall_mps)
        self._air = (sky.mean_e + sky.gust_e, sky.mean_n + sky.gust_n, sky.up)

    def fly_now(self, brake: float = 0.0) -> None:
        """Put the wing into steady flight at once (for checks)."""
        v, s = self.wing.steady(brake, 0.0, self.sky.rho)
        self.a_e, self.a_n, self.a_u = v * math.sin(self.heading), v * math.cos(self.heading), -s
        self.t, self.inflated_s, self.brake, self.hands.brake = 1e3, 0.0, brake, brake

    def brake_for(self, share: float) -> float:
        grid = np.linspace(0.0, 1.0, 101)
        speeds = np.array([self.wing.steady(float(b))[0] for b in grid]) / self.wing.steady()[0]
        return float(np.interp(-share, -speeds, grid))

    def trim(self) -> tuple[float, float]:
        return self.wing.steady()

    def _inflation(self) -> float:
        """Share of the full area 0…1: a snivel of little area, then growth with the square of time (Knacke's form)."""
        if self.inflated_s is not None:
            return 1.0
        wing = self.wing
        x = self.t / wing.opening_s
        if x >= 1.0:
            self.inflated_s = self.t
            return 1.0
        slow = 0.04 * min(x / wing.snivel, 1.0)
        y = max(x - wing.snivel, 0.0) / (1.0 - wing.snivel)
        return slow + (1.0 - slow) * y * y

    def _acceleration(
        self, e: float, n: float, u: float, lift: float, drag: float, mass: float
    ) -> tuple[float, float, float]:
        v = math.sqrt(e * e + n * n + u * u)
        level = math.hypot(e, n)
        if level > 1.0:
            de, dn = e / level, n / level
        else:
            de, dn = math.sin(self.heading), math.cos(self.heading)
        s, c = math.sin(self.bank), math.cos(self.bank)
        tu = u / v
        q = 0.5 * self.sky.rho * v
        ql, qd = q * v * lift / mass, q * drag / mass
        weight = self.wing.mass_kg * G / mass
        return (
            ql * (-tu * de * c + dn * s) - qd * e,
            ql * (-tu * dn * c - de * s) - qd * n,
            ql * level / v * c - qd * u - weight,
        )

    def move(self, dt: float) -> None:
        self.follow_hands(dt)
        wing, sky = self.wing, self.sky
        part = self._inflation()
        rate = self.hands.rate + self.hands.spin
        goal = math.atan(max(self.speed, 3.0) * rate / G) if part > 0.6 else 0.0
        goal = min(max(goal, -wing.steepest_rad), wing.steepest_rad)
        self.bank += (goal - self.bank) * min(dt / wing.roll_lag_s, 1.0)
        cl, cd = wing.coefficients(self.brake, self.riser)
        cd *= 1.0 + wing.toggle_drag * abs(goal) / wing.steepest_rad
        lift, drag = wing.area_m2 * cl * part * part, wing.area_m2 * cd * part + BODY_M2 * (1.0 - part)
        mass = wing.mass_kg + part * wing.air_kg(sky.rho)
        e, n, u = self.a_e, self.a_n, self.a_u
        k = self._acceleration(e, n, u, lift, drag, mass)
        h = 0.5 * dt
        k = self._acceleration(e + h * k[0], n + h * k[1], u + h * k[2], lift, drag, mass)
        e, n, u = e + dt * k[0], n + dt * k[1], u + dt * k[2]
        self._through(e, n, u, dt, wing.mass_kg / mass)

    def _through(self, e: float, n: float, u: float, dt: float, share: float) -> None:
        """The air changes about the wing: what it gains is lost from the velocity through it, but for the air carried along."""
        sky = self.sky
        sky.step(dt, self.t, self.agl, e, n, math.sqrt(e * e + n * n + u * u))
        air = (sky.mean_e + sky.gust_e, sky.mean_n + sky.gust_n, sky.up)
        old, self._air = self._air, air
        self.a_e, self.a_n, self.a_u = e, n, u = (
            e - share * (air[0] - old[0]),
            n - share * (air[1] - old[1]),
            u - share * (air[2] - old[2]),
        )
        self.ve, self.vn, self.vu = e + air[0], n + air[1], u + air[2]
        self.east += self.ve * dt
        self.north += self.vn * dt
        self.agl += self.vu * dt
        self.speed = math.hypot(e, n)
        if self.speed > 1.0:
            self.heading = math.atan2(e, n)
        self.t += dt
        self.step_no += 1


def draw_wing(rng: np.random.Generator) -> Wing:
    """Wings between 0.8 and 1.6 lb/ft², glide 2.3 to 3.2 hands up, openings of 2.5 to 9 s."""
    mass = float(rng.uniform(68.0, 120.0))
    lift, glide = float(rng.uniform(0.48, 0.66)), float(rng.uniform(2.3, 3.2))
    return Wing(
        mass_kg=mass,
        area_m2=mass / (float(rng.uniform(0.8, 1.6)) * POUNDS_PER_FT2),
        lift=lift,
        drag=lift / glide,
        c1=float(rng.uniform(1.8, 2.2)),
        c2=float(rng.uniform(0.5, 0.7)),
        d1=float(rng.uniform(0.6, 1.2)),
        d2=float(rng.uniform(2.6, 3.8)),
        front_lift=float(rng.uniform(0.2, 0.35)),
        rear_lift=float(rng.uniform(0.15, 0.25)),
        rear_drag=float(rng.uniform(0.3, 0.6)),
        toggle_drag=float(rng.uniform(0.3, 0.8)),
        roll_lag_s=float(rng.uniform(0.4, 1.0)),
        steepest_rad=float(rng.uniform(0.7, 1.05)),
        opening_s=float(rng.uniform(2.5, 9.0)),
        snivel=float(rng.uniform(0.1, 0.5)),
    )
