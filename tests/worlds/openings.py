"""Descents whose opening is of any length and whose brakes stay stowed: kinematic, from free fall to the ground, with the true release.

Shares no equation with ``analyser.synthetic``: the airspeed answers as a second-order lag, heading and brakes follow a script drawn by chance.
Stowed brakes give 55 to 65 % of the trim airspeed (common practice, no source).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.importers.recording import Recording

Vector = NDArray[np.float64]
DT = 0.05
EPOCH_S = 1.75e9


@dataclass(frozen=True, slots=True, eq=False)
class Opened:
    """A recording, and the truth: seconds of the opening's end, the release, and from when on the airspeed is within 8 % of what is flown."""

    recording: Recording
    opened_s: float
    released_s: float
    recovered_s: float
    styles: tuple[str, ...]


def opened_jump(
    seed: int, *, stowed_s: float | None = None, straight: bool = False, top_m: float | None = None
) -> Opened:
    """One descent; ``stowed_s`` the time in stowed brakes (drawn: 3 to 30 s), ``straight``: one heading to the ground."""
    rng = np.random.default_rng([seed, 4021])
    stow = float(rng.uniform(3.0, 30.0)) if stowed_s is None else stowed_s
    top = float(rng.uniform(800.0, 1600.0)) if top_m is None else top_m
    script = _Script(rng, stow, straight)
    path = _descend(rng, script, top)
    return Opened(
        _received(rng, path),
        EPOCH_S + script.opened,
        EPOCH_S + script.released,
        EPOCH_S + script.recovered,
        script.styles,
    )


class _Script:
    """What happens, in seconds from the start of the file: fall, opening, hanging in stowed brakes, release, flight."""

    def __init__(self, rng: np.random.Generator, stow: float, straight: bool) -> None:
        self.opens = float(rng.uniform(15.0, 40.0))
        self.opened = self.opens + float(rng.uniform(2.5, 9.0))
        self.released = self.opened + stow
        self.recovered = self.released + 3.5
        self.share = float(rng.uniform(0.55, 0.65))
        self.slow_turn = float(rng.choice([0.0, 0.0, 0.0, 1.0])) * float(rng.uniform(-15.0, 15.0))
        self.twists = float(rng.choice([0.0, 0.0, 0.0, 1.0])) * min(float(rng.uniform(3.0, 12.0)), stow)
        self.stow_sink = float(rng.uniform(0.75, 1.1))
        self.airspeed = float(rng.uniform(8.5, 14.0))
        self.sink = self.airspeed / float(rng.uniform(2.3, 3.1))
        self.heading = float(rng.uniform(0.0, 360.0))
        self.legs = [] if straight else self._legs(rng)
        self.styles = tuple(n for n, on in (("turn", self.slow_turn), ("twists", self.twists)) if on)

    def _legs(self, rng: np.random.Generator) -> list[tuple[float, float, float]]:
        """(from [s], heading [deg], brakes 0…1), the first one right after the release."""
        t, heading, legs = self.released + float(rng.uniform(0.0, 8.0)), self.heading, []
        while t < self.opens + 800.0:
            heading += float(rng.choice([-1.0, 1.0])) * float(rng.uniform(30.0, 200.0))
            brakes = float(rng.choice([0.0, 0.0, 0.0, 1.0])) * float(rng.uniform(0.2, 0.7))
            legs.append((t, heading, brakes))
            t += float(rng.uniform(8.0, 40.0))
        return legs


def _descend(rng: np.random.Generator, script: _Script, top: float) -> tuple[Vector, Vector, Vector, Vector]:
    """Time [s], east, north, height [m] every ``DT``, until a minute after landing."""
    direction, speed = float(rng.uniform(0.0, 2.0 * math.pi)), float(rng.uniform(0.5, 7.0))
    veer, power = float(rng.uniform(-0.2, 0.6)) / 1500.0, float(rng.uniform(0.1, 0.25))
    gust_sd, gust = float(rng.uniform(0.2, 0.8)), np.zeros(2)
    fall, t, east, north = 54.0, 0.0, 0.0, 0.0
    h = top + fall * script.opens + 0.5 * fall * (script.opened - script.opens)
    heading, v, dv, sink, own = math.radians(script.heading), 0.0, 0.0, fall, 20.0
    out = []
    rest = math.inf
    while t < rest:
        out.append((t, east, north, max(h, 0.0)))
        wind = speed * (max(h, 2.0) / 10.0) ** power
        gust = gust * (1.0 - DT / 8.0) + gust_sd * math.sqrt(2.0 * DT / 8.0) * rng.standard_normal(2)
        angle = direction + veer * h
        if h > 0.0:
            if t < script.opens:
                v = own
            else:
                v, dv, sink, heading = _canopy(script, t, h, v, dv, sink, heading)
            east += (v * math.sin(heading) + wind * math.sin(angle) + gust[0]) * DT
            north += (v * math.cos(heading) + wind * math.cos(angle) + gust[1]) * DT
            h -= sink * DT
        elif math.isinf(rest):
            rest = t + 60.0
        t += DT
    return tuple(np.array(out).T)  # type: ignore[return-value]


def _canopy(
    script: _Script, t: float, h: float, v: float, dv: float, sink: float, heading: float
) -> tuple[float, float, float, float]:
    thin = 1.0 / math.sqrt((1.0 - 2.25577e-5 * h) ** 4.256)
    share, want_sink, rate = 1.0, 1.0, 0.0
    if t < script.opened:
        share, want_sink = (
            0.3,
            54.0 / script.sink * max(0.0, (script.opened - 0.7 - t) / (script.opened - script.opens)) + 0.9,
        )
    elif t < script.opened + script.twists:
        share, want_sink, rate = 0.35, 1.25, 90.0
    elif t < script.released:
        share, want_sink, rate = script.share, script.stow_sink, script.slow_turn
    else:
        now = [leg for leg in script.legs if leg[0] <= t]
        if now:
            _, target, brakes = now[-1]
            error = (target - math.degrees(heading) + 180.0) % 360.0 - 180.0
            rate = max(-35.0, min(35.0, 1.2 * error))
            share, want_sink = 1.0 - 0.5 * brakes, 1.0 - 0.25 * math.sin(math.pi * brakes)
        load = 1.0 + 0.25 * (rate / 35.0) ** 2
        share, want_sink = share * math.sqrt(load), want_sink * load**2
        want_sink *= 1.0 + 0.8 * math.exp(-(((t - script.released - 1.5) / 1.0) ** 2))
    want = script.airspeed * thin * share
    w, zeta = 2.0 * math.pi / 4.5, 0.65
    dv += (w * w * (want - v) - 2.0 * zeta * w * dv) * DT
    v += dv * DT
    sink += (script.sink * thin * want_sink - sink) * DT / 0.7
    return v, dv, sink, heading + math.radians(rate) * DT


def _received(rng: np.random.Generator, path: tuple[Vector, Vector, Vector, Vector]) -> Recording:
    t, east, north, h = path
    rate = float(rng.choice([1.0, 1.0, 2.0, 5.0, 10.0]))
    clock = np.arange(0.0, t[-1], 1.0 / rate)
    e, n, z = (np.interp(clock, t, a) for a in (east, north, h))

    def slow(sd: float, tau: float) -> Vector:
        keep = math.exp(-1.0 / rate / tau)
        x, out = sd * rng.standard_normal(), np.empty(clock.size)
        for i in range(clock.size):
            out[i] = x
            x = keep * x + sd * math.sqrt(1.0 - keep * keep) * rng.standard_normal()
        return out

    white = float(rng.uniform(0.05, 0.35))
    e, n = (a + slow(1.5, 60.0) + white * rng.standard_normal(clock.size) for a in (e, n))
    z = z + slow(2.0, 90.0) + 0.5 * rng.standard_normal(clock.size)
    nan = np.full(clock.size, np.nan)
    return Recording(
        EPOCH_S + clock,
        47.0 + n / 111180.0,
        9.0 + e / (111320.0 * math.cos(math.radians(47.0))),
        z + 400.0,
        nan,
        nan.copy(),
    )
