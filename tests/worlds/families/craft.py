"""What a pilot holds and sees: the hands, and the wing as a thing that is stepped."""

from __future__ import annotations

import math

from .sky import Sky

__all__ = ["DT_S", "RHO0", "Craft", "G", "Hands", "towards"]

DT_S = 0.05
G = 9.80665
RHO0 = 1.225
HAND_PER_S = 1.1


class Hands:
    """Commands: turn rate [rad/s], brakes 0…1, front and rear risers 0…1; ``spin`` what the canopy turns with nobody steering."""

    __slots__ = ("brake", "front", "rate", "rear", "spin")

    def __init__(self) -> None:
        self.rate = self.brake = self.front = self.rear = self.spin = 0.0


def towards(now: float, goal: float, most: float) -> float:
    """``now`` moved to ``goal``, by ``most`` at most."""
    return now + min(max(goal - now, -most), most)


class Craft:
    """State that every wing has; a family fills :meth:`move`. Metres, seconds, radians clockwise from north.

    ``ve``, ``vn``, ``vu`` velocity of the wearer over the ground; ``speed`` horizontal airspeed; ``sink`` downwards over the ground;
    ``brake``, ``riser`` where the hands really are.
    """

    def __init__(self, sky: Sky, agl: float, heading: float) -> None:
        self.sky, self.hands = sky, Hands()
        self.step_no = 0
        self.t = self.east = self.north = 0.0
        self.agl, self.heading, self.bank = agl, heading, 0.0
        self.ve = self.vn = self.vu = 0.0
        self.speed = 0.0
        self.brake = self.riser = 0.0
        self.inflated_s: float | None = None

    @property
    def sink(self) -> float:
        return -self.vu

    @property
    def track(self) -> float:
        return math.atan2(self.ve, self.vn)

    def brake_for(self, share: float) -> float:
        """Brakes at which the steady horizontal airspeed is that share of trim."""
        raise NotImplementedError

    def trim(self) -> tuple[float, float]:
        """Steady horizontal airspeed and sink hands up at sea-level density [m/s]."""
        raise NotImplementedError

    def move(self, dt: float) -> None:
        """One step; leaves velocity, place, heading and ``speed`` up to date."""
        raise NotImplementedError

    def follow_hands(self, dt: float) -> None:
        """Arms take time: brakes and risers move towards what is commanded."""
        self.brake = towards(self.brake, self.hands.brake, HAND_PER_S * dt)
        self.riser = towards(self.riser, self.hands.front - self.hands.rear, HAND_PER_S * dt)
