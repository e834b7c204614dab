"""What pilots do under a canopy, as generators that set the hands once a step: opening, holding, pattern, flare."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from .craft import DT_S, RHO0, Craft
from .persona import OPEN_STYLES, Persona

__all__ = ["Marks", "fly_jump", "wrap"]

Step = Iterator[None]
Until = Callable[[Craft], bool]

GENTLE_RPS = 0.3
MOST_G = 9.80665 * math.tan(math.radians(50.0))
LEG_TURNS = {"crosswind": 90.0, "downwind": 180.0, "base": -90.0, "final": 0.0}


def wrap(angle: float) -> float:
    """An angle brought into −π…π."""
    return (angle + math.pi) % (2.0 * math.pi) - math.pi


class Marks:
    """Moments the pilot noted: name, step, height, place and heading."""

    def __init__(self) -> None:
        self.rows: list[tuple[str, int, float, float, float, float]] = []

    def note(self, craft: Craft, name: str) -> None:
        self.rows.append((name, craft.step_no, craft.agl, craft.east, craft.north, craft.heading))

    def step_of(self, name: str) -> int | None:
        return next((r[1] for r in self.rows if r[0] == name), None)


class Pilot:
    """Wing, persona and chance, and the manoeuvres that are made of them."""

    def __init__(self, craft: Craft, who: Persona, rng: np.random.Generator) -> None:
        self.craft, self.who, self.rng = craft, who, rng
        self.marks = Marks()
        self.resting_brake = who.cruise_brake

    def between(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def side(self) -> int:
        return 1 if self.rng.random() < 0.5 else -1

    def steer(self, error: float, quick_s: float = 1.5) -> None:
        self.craft.hands.rate = min(max(error / quick_s, -GENTLE_RPS), GENTLE_RPS)

    def hold(self, heading: float, until: Until) -> Step:
        """Keep a heading, with the persona's wander."""
        craft, wander = self.craft, self.who.wander
        while not until(craft):
            self.steer(wrap(heading + wander[craft.step_no % len(wander)] - craft.heading))
            yield
        craft.hands.rate = 0.0

    def hold_track(self, track: float, until: Until) -> Step:
        """Keep a track over the ground (by looking ahead and back along it); where the wind forbids it, the heading."""
        craft, wander = self.craft, self.who.wander
        while not until(craft):
            aim = track + wander[craft.step_no % len(wander)]
            ground = math.hypot(craft.ve, craft.vn)
            if ground > 3.0 and ground > 0.35 * craft.speed:
                self.steer(wrap(aim - craft.track), 2.5)
            else:
                self.steer(wrap(aim - craft.heading))
            yield
        craft.hands.rate = 0.0

    def heading_for(self, track: float) -> float:
        """The heading that makes a track good in the wind of this moment; across it where the wind is too strong."""
        craft = self.craft
        e, n = (
            craft.ve - craft.speed * math.sin(craft.heading),
            craft.vn - craft.speed * math.cos(craft.heading),
        )
        across = e * math.cos(track) - n * math.sin(track)
        return track - math.asin(min(max(across / max(craft.speed, 3.0), -0.9), 0.9))

    def crabbed(self, track: float) -> float:
        """The heading that makes a track good in the mean wind of this height, as one finds it who looks at the ground for a while."""
        craft = self.craft
        across = craft.sky.mean_e * math.cos(track) - craft.sky.mean_n * math.sin(track)
        speed = craft.trim()[0] * math.sqrt(RHO0 / craft.sky.rho)
        return track - math.asin(min(max(across / speed, -0.9), 0.9))

    def hold_crab(self, track: float, until: Until) -> Step:
        """Keep the heading that makes a track good: a wing that swings under its steering stays as steady as on any heading."""
        craft, wander = self.craft, self.who.wander
        while not until(craft):
            self.steer(wrap(self.crabbed(track) + wander[craft.step_no % len(wander)] - craft.heading))
            yield
        craft.hands.rate = 0.0

    def turn(
        self, heading: float, side: int = 0, whole: int = 0, floor: float = -1e9, share: float = 1.0
    ) -> Step:
        """Turn to a heading, over a side, ``whole`` circles more than needed; ends with the wing level."""
        craft = self.craft
        left = wrap(heading - craft.heading)
        side = side or (1 if left >= 0.0 else -1)
        left *= side
        if left < -0.1:
            left += 2.0 * math.pi
        left = max(left, 0.0) + 2.0 * math.pi * whole
        before = craft.heading
        while True:
            rate = min(share * self.who.turn_rps, MOST_G / max(craft.speed, 6.0))
            if craft.agl <= floor or left <= rate * self.who.roll_out_s:
                break
            craft.hands.rate = side * rate
            yield
            left -= side * wrap(craft.heading - before)
            before = craft.heading
        craft.hands.rate = 0.0
        yield from self.wait(self.who.roll_out_s, floor)

    def wait(self, seconds: float, floor: float = -1e9) -> Step:
        craft = self.craft
        end = craft.t + seconds
        while craft.t < end and craft.agl > floor:
            yield

    def lasting(self, seconds: float, floor: float) -> Until:
        end = self.craft.t + seconds
        return lambda c: c.t >= end or c.agl <= floor

    def straight(self, heading: float, low_s: float, high_s: float, floor: float) -> Step:
        yield from self.hold(heading, self.lasting(self.between(low_s, high_s), floor))

    def brakes(self, amount: float) -> None:
        self.craft.hands.brake = max(amount, self.resting_brake)

    def up(self) -> None:
        """Hands up, or as far up as this pilot ever lets them."""
        self.craft.hands.brake = self.resting_brake
        self.craft.hands.front = self.craft.hands.rear = 0.0


def fly_jump(pilot: Pilot, upwind: Callable[[float], float]) -> Step:
    """From line stretch to touchdown; ``upwind`` gives the heading into the wind as this pilot takes it, at a height."""
    floor = pilot.who.gates_m[0] + pilot.between(100.0, 190.0)
    yield from opening(pilot, floor)
    yield from check(pilot, floor)
    while pilot.craft.agl > floor:
        yield from STYLES[pilot.who.style](pilot, upwind(pilot.craft.agl), floor)
        pilot.up()
    landing = upwind(30.0) + math.radians(pilot.who.off_wind_deg)
    yield from pattern(pilot, landing)


def opening(pilot: Pilot, floor: float) -> Step:
    """Brakes stowed until the canopy is open and for some seconds more; at times a slow turn, at times twists; then the release."""
    craft, who = pilot.craft, pilot.who
    craft.brake = craft.hands.brake = craft.brake_for(who.stow_share)
    while craft.inflated_s is None and craft.agl > floor:
        yield
    pilot.marks.note(craft, "inflated")
    craft.hands.spin = math.radians(who.slow_turn_dps)
    yield from pilot.wait(who.stowed_s, floor)
    craft.hands.spin = 0.0
    pilot.up()
    pilot.marks.note(craft, "released")
    yield from pilot.hold(craft.heading, pilot.lasting(pilot.between(1.0, 4.0), floor))


def check(pilot: Pilot, floor: float) -> Step:
    """Control check: most pilots flare once and turn to either side, some do nothing."""
    if pilot.rng.random() < 0.3 or pilot.who.style in OPEN_STYLES:
        return
    craft = pilot.craft
    if pilot.rng.random() < 0.6:
        pilot.brakes(pilot.between(0.7, 1.0))
        yield from pilot.straight(craft.heading, 1.5, 3.5, floor)
        pilot.up()
        yield from pilot.straight(craft.heading, 2.0, 5.0, floor)
    side = pilot.side()
    for s in (side, -side):
        goal = craft.heading + s * math.radians(pilot.between(50.0, 180.0))
        yield from pilot.turn(goal, s, floor=floor)
        yield from pilot.straight(goal, 1.0, 4.0, floor)


def _sometimes_braked(pilot: Pilot) -> None:
    if pilot.rng.random() < pilot.who.brake_share:
        pilot.brakes(pilot.between(0.15, 0.6))
    elif pilot.rng.random() < pilot.who.riser_share:
        pilot.craft.hands.rear = pilot.between(0.4, 1.0)


def _eight(pilot: Pilot, upwind: float, floor: float) -> Step:
    side = pilot.side()
    for s in (side, -side):
        goal = pilot.craft.heading + s * math.radians(pilot.between(240.0, 358.0))
        yield from pilot.turn(goal, s, floor=floor)
        _sometimes_braked(pilot)
        yield from pilot.straight(goal, 3.0, 10.0, floor)
        pilot.up()


def _spiral(pilot: Pilot, upwind: float, floor: float) -> Step:
    goal = upwind + math.radians(pilot.between(-60.0, 60.0))
    yield from pilot.turn(goal, pilot.side(), int(pilot.rng.integers(1, 4)), floor, pilot.between(0.8, 1.4))
    _sometimes_braked(pilot)
    yield from pilot.straight(goal, 5.0, 16.0, floor)


def _wind_check(pilot: Pilot, upwind: float, floor: float) -> Step:
    goal = upwind + math.radians(float(pilot.rng.normal(0.0, 10.0)))
    yield from pilot.turn(goal, 0, floor=floor)
    pilot.brakes(pilot.between(0.4, 0.6) if pilot.rng.random() < 0.5 else pilot.between(0.7, 0.95))
    yield from pilot.straight(goal, 7.0, 20.0, floor)
    pilot.up()
    yield from pilot.straight(goal, 2.0, 6.0, floor)
    away = goal + pilot.side() * math.radians(pilot.between(70.0, 190.0))
    yield from pilot.turn(away, 0, floor=floor)
    yield from pilot.straight(away, 6.0, 20.0, floor)


def _crab(pilot: Pilot, upwind: float, floor: float) -> Step:
    offset = math.radians(pilot.between(60.0, 105.0))
    now = wrap(pilot.craft.heading - upwind)
    goal = upwind + (-offset if now > 0.0 else offset)
    yield from pilot.turn(goal, -1 if now > 0.0 else 1, floor=floor)
    _sometimes_braked(pilot)
    yield from pilot.straight(goal, 10.0, 30.0, floor)


def _into_wind(pilot: Pilot, upwind: float, floor: float) -> Step:
    goal = upwind + math.radians(float(pilot.rng.normal(0.0, 16.0)))
    yield from pilot.turn(goal, 0, floor=floor, share=0.6)
    _sometimes_braked(pilot)
    yield from pilot.straight(goal, 12.0, 40.0, floor)


def _straight_on(pilot: Pilot, upwind: float, floor: float) -> Step:
    _sometimes_braked(pilot)
    yield from pilot.straight(pilot.craft.heading, 20.0, 60.0, floor)


def _there_and_back(pilot: Pilot, upwind: float, floor: float) -> Step:
    goal = pilot.craft.heading
    yield from pilot.straight(goal, 18.0, 40.0, floor)
    yield from pilot.turn(goal + math.pi, pilot.side(), floor=floor, share=1.3)


def _two_headings(pilot: Pilot, upwind: float, floor: float) -> Step:
    goal = pilot.craft.heading
    yield from pilot.straight(goal, 15.0, 35.0, floor)
    swing = pilot.side() * math.radians(pilot.between(12.0, 30.0))
    yield from pilot.straight(goal + swing, 15.0, 35.0, floor)
    yield from pilot.straight(goal, 5.0, 15.0, floor)


STYLES: dict[str, Callable[[Pilot, float, float], Step]] = {
    "figures of eight": _eight,
    "spirals": _spiral,
    "wind checks": _wind_check,
    "crabbing": _crab,
    "into wind": _into_wind,
    "straight on": _straight_on,
    "there and back": _there_and_back,
    "two headings": _two_headings,
}


def pattern(pilot: Pilot, landing: float) -> Step:
    """The legs: each begins with a turn at the height of its gate; then final and flare."""
    craft, who = pilot.craft, pilot.who
    first = landing + who.side * math.radians(LEG_TURNS[who.legs[0]])
    approach = first - who.side * math.radians(who.turned_before_deg)
    yield from pilot.turn(approach, 0, floor=who.gates_m[0])
    goal = approach
    for name, height, off in zip(who.legs, who.gates_m, who.off_deg):
        yield from leg_flown(pilot, goal, lambda c, h=height: c.agl <= h)
        pilot.marks.note(craft, name)
        goal = landing + who.side * math.radians(LEG_TURNS[name]) + math.radians(off)
        hands_for(pilot, name)
        yield from pilot.turn(heading_onto(pilot, goal), who.side, share=who.pattern_share)
        pilot.marks.note(craft, f"{name} end")
    yield from final(pilot, goal)


def leg_flown(pilot: Pilot, goal: float, until: Until) -> Step:
    held = pilot.hold_track if pilot.who.by_track else pilot.hold
    yield from (pilot.hold_crab if pilot.who.crabs else held)(goal, until)


def heading_onto(pilot: Pilot, goal: float) -> float:
    """The heading a leg is begun on."""
    if pilot.who.crabs:
        return pilot.crabbed(goal)
    return pilot.heading_for(goal) if pilot.who.by_track else goal


def hands_for(pilot: Pilot, leg: str) -> None:
    """Brakes and risers that this pilot takes on a leg."""
    who, hands = pilot.who, pilot.craft.hands
    pilot.up()
    if (leg == "base" and who.braking == "base and final") or (
        leg == "final" and who.braking in ("final", "base and final")
    ):
        pilot.brakes(who.brake)
    elif leg == "final" and who.braking == "front risers":
        hands.front = who.brake
    elif leg == "final" and who.braking == "rear risers":
        hands.rear = who.brake


def final(pilot: Pilot, goal: float) -> Step:
    """S-turns or brakes for a part of it, then straight down to the flare."""
    craft, who = pilot.craft, pilot.who
    side = pilot.side()
    for i in range(who.weaves if craft.agl > 60.0 else 0):
        swing = goal + side * math.radians(pilot.between(35.0, 80.0))
        yield from pilot.turn(swing, 0, floor=35.0, share=0.8)
        yield from pilot.straight(swing, 1.0, 3.0, 35.0)
        side = -side
        if i == who.weaves - 1:
            yield from pilot.turn(goal, 0, floor=15.0)
    if who.braking == "part of final":
        top = craft.agl * pilot.between(0.5, 0.95)
        bottom = max(top * pilot.between(0.2, 0.7), 8.0)
        yield from leg_flown(pilot, goal, lambda c: c.agl <= top)
        pilot.brakes(who.brake)
        yield from leg_flown(pilot, goal, lambda c: c.agl <= bottom)
        pilot.up()
    yield from leg_flown(pilot, goal, lambda c: c.agl <= max(who.flare_s * c.sink, 1.5))
    pilot.marks.note(craft, "flare")
    craft.hands.front = craft.hands.rear = 0.0
    before = craft.sink
    while True:
        # toggles down as long as the ground comes up faster than the eye likes it, a moment ahead
        soon = craft.sink + 0.5 * (craft.sink - before) / DT_S
        before = craft.sink
        if soon > craft.agl / 0.9 + 0.3:
            craft.hands.brake = min(craft.brake + 0.1, 1.0)
        pilot.steer(wrap(goal - craft.heading) if not (who.by_track or who.crabs) else 0.0)
        yield
