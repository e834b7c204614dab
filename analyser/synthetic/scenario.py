"""Whole made-up jumps: climb, exit, fall, opening, holding, pattern, landing, walk; and the ensemble of record."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.importers.recording import Recording
from analyser.synthetic import pilot as fly
from analyser.synthetic.aeroplane import Fall, climb, fall
from analyser.synthetic.air import Air, power_law_air
from analyser.synthetic.canopy import CanopyModel, CanopyPath, Flight, Pilot, integrate
from analyser.synthetic.earth import to_geodetic
from analyser.synthetic.pilot import HOLDING_STYLES, Habits, LegPlan
from analyser.synthetic.receiver import Receiver, sample
from analyser.synthetic.truth import Gate, PhaseSpan, PlanGate, SyntheticJump, Truth
from analyser.units import FOOT_M

__all__ = ["LEGS", "Setup", "build", "draw_setup", "legs_for", "record_jump"]

Vector = NDArray[np.float64]

LEGS = ("crosswind", "downwind", "base", "final")
NOMINAL_FT = (1150.0, 900.0, 600.0, 320.0)
AROUND_M = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """Everything that makes one jump; drawn by :func:`draw_setup`, any field may be replaced.

    ``landing_deg`` direction of the last leg; ``side`` +1 right-hand, −1 left-hand pattern; ``planned_m`` and ``flown_m`` heights of the
    gates in the order of ``legs``; ``heading_errors_deg`` per leg; ``assumed`` the air the pilot plans with;
    ``entry_error_m`` (east, north) at the first gate; ``start_utc_s`` the beginning of the recording.
    """

    seed: int
    lat_deg: float
    lon_deg: float
    elevation_m: float
    start_utc_s: float
    air: Air
    assumed: Air
    canopy: CanopyModel
    habits: Habits
    style: str
    open_agl_m: float
    exit_agl_m: float
    landing_deg: float
    side: int
    legs: tuple[str, ...]
    planned_m: tuple[float, ...]
    flown_m: tuple[float, ...]
    heading_errors_deg: tuple[float, ...]
    turn_bank_deg: float
    entry_error_m: tuple[float, float]
    receiver: Receiver
    climb_s: float = 780.0
    wait_s: float = 90.0
    after_s: float = 120.0
    errors: tuple[str, ...] = ()


def draw_setup(seed: int) -> Setup:
    """One jump of the ensemble of record; every group of draws has its own stream, so replacing one leaves the others."""
    streams = [np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(4)]
    place, wind, who, device = streams
    air = _draw_air(wind)
    canopy = _draw_canopy(who)
    ground_e, ground_n = air.mean(30.0)
    into = math.degrees(math.atan2(-float(ground_e), -float(ground_n)))
    landing = (into + who.normal(0.0, 12.0)) % 360.0
    spread = who.uniform(35.0, 70.0)
    planned = tuple(ft * FOOT_M for ft in NOMINAL_FT)
    flown = _ordered([ft + spread * who.standard_normal() for ft in NOMINAL_FT])
    misread = who.normal(0.0, 1.0, 2)
    assumed = Air(air.agl_m, air.east + misread[0], air.north + misread[1], 0.0, 0.0)
    open_agl = float(place.uniform(900.0, 1500.0))
    return Setup(
        seed=seed,
        lat_deg=float(place.uniform(-60.0, 60.0)),
        lon_deg=float(place.uniform(-179.0, 179.0)),
        elevation_m=float(place.uniform(0.0, 1400.0)),
        start_utc_s=1_767_225_600.0 + 86400.0 * int(place.integers(60, 300)) + float(int(place.integers(28800, 64800))),
        air=air,
        assumed=assumed,
        canopy=canopy,
        habits=Habits(),
        style=HOLDING_STYLES[int(who.integers(len(HOLDING_STYLES)))],
        open_agl_m=open_agl,
        exit_agl_m=float(place.uniform(3600.0, 4200.0)),
        landing_deg=landing,
        side=1 if who.random() < 0.35 else -1,
        legs=LEGS,
        planned_m=planned,
        flown_m=flown,
        heading_errors_deg=tuple(who.normal(0.0, 4.0, 4).tolist()),
        turn_bank_deg=canopy.bank_deg * float(who.uniform(0.7, 1.0)),
        entry_error_m=(float(who.normal(0.0, 30.0)), float(who.normal(0.0, 30.0))),
        receiver=_draw_receiver(device),
    )  # fmt: skip


def _draw_air(rng: np.random.Generator) -> Air:
    return power_law_air(
        rng,
        u10_mps=float(rng.uniform(0.5, 8.0)),
        factor=float(rng.uniform(1.1, 2.2)),
        extra_mps=float(rng.uniform(0.0, 2.0)),
        from_deg=float(rng.uniform(0.0, 360.0)),
        veer_deg=float(rng.uniform(-10.0, 35.0)),
        wiggle_mps=float(rng.uniform(0.3, 0.4)),
        gust_intensity=float(rng.uniform(0.05, 0.18)),
    )


def _draw_canopy(rng: np.random.Generator) -> CanopyModel:
    speed, glide = float(rng.uniform(8.5, 14.0)), float(rng.uniform(2.3, 3.1))
    return CanopyModel(
        airspeed_mps=speed,
        sink_mps=speed / glide,
        brake_loss=float(rng.uniform(0.35, 0.5)),
        half_brake_sink=float(rng.uniform(0.22, 0.28)),
        bank_deg=float(rng.uniform(22.0, 45.0)),
        period_s=float(rng.normal(4.5, 0.3)),
        damping=float(rng.normal(0.6, 0.05)),
    )


def _draw_receiver(rng: np.random.Generator) -> Receiver:
    rate = float(rng.choice([1.0, 2.0, 5.0, 10.0], p=[0.4, 0.2, 0.2, 0.2]))
    drift = float(rng.uniform(0.5, 2.5))
    return Receiver(
        rate_hz=rate,
        white_m=float(rng.uniform(0.05, 0.35)),
        drift_m=drift,
        height_white_m=float(rng.uniform(0.2, 0.8)),
        height_drift_m=1.5 * drift,
        height_offset_m=float(rng.normal(0.0, 4.0)),
        smooth_s=0.6 if rng.random() < 1.0 / 3.0 else 0.0,
        lost=0.02 if rng.random() < 1.0 / 3.0 else 0.0,
        height_digits=int(rng.integers(1, 3)),
    )


def _ordered(feet: list[float]) -> tuple[float, ...]:
    """Gate heights [m] from feet, at least 130 ft apart so that every leg is flown, the last at 150 ft or more."""
    heights = [max(feet[-1], 150.0)]
    for value in reversed(feet[:-1]):
        heights.append(max(value, heights[-1] + 130.0))
    return tuple(h * FOOT_M for h in reversed(heights))


def record_jump(seed: int, **overrides: Any) -> SyntheticJump:
    """One jump of the ensemble of record; ``overrides`` replace fields of :class:`Setup` after the draw."""
    return build(replace(draw_setup(seed), **overrides))


def leg_track_deg(name: str, landing_deg: float, side: int) -> float:
    """Track of a leg of a box flown with ``side`` (+1 right-hand): the turns all go to that side."""
    return (landing_deg - side * 90.0 * (len(LEGS) - 1 - LEGS.index(name))) % 360.0


def crab_heading_deg(track_deg: float, wind_east: float, wind_north: float, airspeed: float) -> float:
    """Heading that keeps ``track_deg`` in a wind (wind triangle); at most 70° of crab where the wind is too strong."""
    a = math.radians(track_deg)
    across = wind_east * math.cos(a) - wind_north * math.sin(a)
    sine = min(max(-across / airspeed, -math.sin(math.radians(70.0))), math.sin(math.radians(70.0)))
    return (track_deg + math.degrees(math.asin(sine))) % 360.0


def legs_for(setup: Setup) -> tuple[LegPlan, ...]:
    """The legs as planned: tracks square to the landing direction in the assumed wind, heights as planned."""
    rows = []
    heights = (*setup.planned_m, 0.0)
    for i, name in enumerate(setup.legs):
        middle = 0.5 * (heights[i] + heights[i + 1])
        east, north = setup.assumed.mean(middle)
        track = leg_track_deg(name, setup.landing_deg, setup.side)
        heading = crab_heading_deg(track, float(east), float(north), setup.canopy.airspeed_mps)
        rows.append(LegPlan(name, heights[i], heading, setup.side if i > 0 else 0, setup.turn_bank_deg))
    return tuple(rows)


def _approach_deg(setup: Setup, rng: np.random.Generator) -> float:
    first = leg_track_deg(setup.legs[0], setup.landing_deg, setup.side)
    return (first - setup.side * rng.uniform(45.0, 110.0)) % 360.0


def _planned_flight(setup: Setup, legs: tuple[LegPlan, ...], approach_deg: float) -> CanopyPath:
    """The plan flown in the assumed, smooth air by a pilot who errs in nothing."""
    rng = np.random.default_rng(0)
    calm = Habits(wander_deg=0.0, brake_share=0.0, final_brake_share=0.0)
    flight = Flight(setup.canopy, legs[0].agl_m + 20.0, math.radians(approach_deg))
    pilot = fly.pattern(flight, legs, rng, calm)
    return integrate(flight, setup.assumed.still(), pilot, None, elevation_m=setup.elevation_m)


def _whole_flight(
    setup: Setup, legs: tuple[LegPlan, ...], approach_deg: float, rng: np.random.Generator
) -> CanopyPath:
    flight = Flight(setup.canopy, setup.open_agl_m, rng.uniform(0.0, 2.0 * math.pi))
    flight.air_speed, flight.sink, flight.brake = (
        0.6 * setup.canopy.airspeed_mps,
        setup.canopy.sink_mps + 1.0,
        0.5,
    )
    return integrate(
        flight, setup.air, _pilot(flight, setup, legs, approach_deg, rng), rng, elevation_m=setup.elevation_m
    )


def _pilot(
    flight: Flight, setup: Setup, legs: tuple[LegPlan, ...], approach_deg: float, rng: np.random.Generator
) -> Pilot:
    floor = legs[0].agl_m + float(rng.uniform(45.0, 90.0))
    east, north = setup.assumed.mean(600.0)
    upwind = math.degrees(math.atan2(-float(east), -float(north)))
    yield from fly.control_check(flight, rng, setup.habits, floor)
    yield from fly.hold(flight, setup.style, upwind, floor, rng, setup.habits)
    flight.brake = 0.0
    flight.mark("approach")
    yield from fly.turn(flight, math.radians(approach_deg), 0, setup.turn_bank_deg, floor=legs[0].agl_m)
    yield from fly.pattern(flight, legs, rng, setup.habits)


def build(setup: Setup) -> SyntheticJump:
    """The jump of a setup: plan, flight, the way up and down, the receiver's recording, and the truth."""
    rng, device = (np.random.default_rng(s) for s in np.random.SeedSequence([setup.seed, 77]).spawn(2))
    legs = legs_for(setup)
    approach = _approach_deg(setup, rng)
    planned = _planned_flight(setup, legs, approach)
    plan = _plan_gates(setup, legs, planned)
    flown_legs = tuple(
        replace(leg, agl_m=h, heading_deg=leg.heading_deg + d)
        for leg, h, d in zip(legs, setup.flown_m, setup.heading_errors_deg)
    )
    path = _whole_flight(setup, flown_legs, approach, rng)
    first = path.mark(setup.legs[0])
    if first is None:
        raise ValueError(f"seed {setup.seed}: the pattern was never entered")
    shift = (
        plan[0].east_m + setup.entry_error_m[0] - first[3],
        plan[0].north_m + setup.entry_error_m[1] - first[4],
    )
    return assemble(setup, path, shift, plan, flown_legs, rng, device)


def _plan_gates(setup: Setup, legs: tuple[LegPlan, ...], flown: CanopyPath) -> tuple[PlanGate, ...]:
    end_e, end_n = float(flown.east_m[-1]), float(flown.north_m[-1])
    rows = []
    for leg in legs:
        mark = flown.mark(leg.name)
        assert mark is not None
        track = leg_track_deg(leg.name, setup.landing_deg, setup.side)
        rows.append(
            PlanGate(leg.name, mark[2], mark[3] - end_e, mark[4] - end_n, leg.heading_deg % 360.0, track)
        )
    return tuple(rows)


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    name: str
    t_s: Vector
    east_m: Vector
    north_m: Vector
    agl_m: Vector


def assemble(
    setup: Setup,
    path: CanopyPath,
    shift: tuple[float, float],
    plan: tuple[PlanGate, ...],
    legs: tuple[LegPlan, ...],
    rng: np.random.Generator,
    device: np.random.Generator,
) -> SyntheticJump:
    """Put the way up and the fall before the canopy flight and the walk behind it, record it, and write down the truth."""
    canopy = _Piece("canopy", path.t_s, path.east_m + shift[0], path.north_m + shift[1], path.agl_m)
    run_in = math.degrees(math.atan2(*(-float(w) for w in setup.air.mean(2500.0)))) + rng.normal(0.0, 10.0)
    drop = fall(
        setup.air,
        exit_agl_m=setup.exit_agl_m,
        open_agl_m=setup.open_agl_m,
        exit_speed_mps=45.0,
        run_in_deg=run_in,
        terminal_mps=float(rng.normal(53.0, 2.0)),
        forward_mps=float(rng.uniform(0.0, 5.0)),
        forward_deg=float(rng.uniform(0.0, 360.0)),
        opening_s=float(rng.uniform(3.0, 5.0)),
        open_sink_mps=setup.canopy.sink_mps + 1.0,
    )
    pieces = [*_before(setup, drop, canopy, run_in, rng), canopy, _after(setup, canopy, rng)]
    return finish(setup, pieces, path, shift, plan, legs, device)


def _before(
    setup: Setup, drop: Fall, canopy: _Piece, run_in: float, rng: np.random.Generator
) -> list[_Piece]:
    exit_e = float(canopy.east_m[0] - drop.east_m[-1])
    exit_n = float(canopy.north_m[0] - drop.north_m[-1])
    spot = (float(rng.uniform(60.0, 200.0)), float(rng.uniform(-150.0, 150.0)))
    runway_deg = float(rng.uniform(0.0, 360.0))
    ground = _ground(setup, spot, runway_deg)
    up = climb(
        start_east_m=float(ground.east_m[-1]),
        start_north_m=float(ground.north_m[-1]),
        start_deg=runway_deg,
        exit_east_m=exit_e,
        exit_north_m=exit_n,
        exit_agl_m=setup.exit_agl_m,
        run_in_deg=run_in,
        seconds=setup.climb_s,
        side=1 if rng.random() < 0.5 else -1,
    )
    at = int(round(drop.deploy_s / 0.1))
    return [
        ground,
        _Piece("climb", *up),
        _Piece("free fall", drop.t_s[: at + 1], exit_e + drop.east_m[: at + 1], exit_n + drop.north_m[: at + 1], drop.agl_m[: at + 1]),
        _Piece("opening", drop.t_s[at:] - drop.t_s[at], exit_e + drop.east_m[at:], exit_n + drop.north_m[at:], drop.agl_m[at:]),
    ]  # fmt: skip


def _ground(setup: Setup, spot: tuple[float, float], runway_deg: float) -> _Piece:
    """Waiting, then taxi and take-off roll along the runway."""
    roll_s, speed = 18.0, 40.0
    clock = np.arange(0.0, setup.wait_s + roll_s + 1e-9, 0.1)
    moving = np.maximum(clock - setup.wait_s, 0.0)
    along = 0.5 * speed / roll_s * moving**2
    a = math.radians(runway_deg)
    return _Piece(
        "ground before",
        clock,
        spot[0] + along * math.sin(a),
        spot[1] + along * math.cos(a),
        np.full(clock.shape, AROUND_M),
    )


def _after(setup: Setup, canopy: _Piece, rng: np.random.Generator) -> _Piece:
    """Sliding to a stop, gathering the canopy, a walk towards the place where it began, standing."""
    clock = np.arange(0.0, setup.after_s + 1e-9, 0.1)
    v_e = float(canopy.east_m[-1] - canopy.east_m[-6]) / 0.5
    v_n = float(canopy.north_m[-1] - canopy.north_m[-6]) / 0.5
    fast = math.hypot(v_e, v_n)
    scale = min(1.0, 4.0 / max(fast, 1e-6))
    slide = 0.7 * (1.0 - np.exp(-clock / 0.7))
    stay = float(rng.uniform(15.0, 35.0))
    away = float(rng.uniform(0.0, 2.0 * math.pi))
    walked = 1.3 * np.clip(clock - stay, 0.0, max(setup.after_s - stay - 30.0, 0.0))
    return _Piece(
        "ground after",
        clock,
        float(canopy.east_m[-1]) + scale * v_e * slide + walked * math.sin(away),
        float(canopy.north_m[-1]) + scale * v_n * slide + walked * math.cos(away),
        np.full(clock.shape, AROUND_M) * (1.0 - np.exp(-clock)),
    )


def finish(
    setup: Setup,
    pieces: list[_Piece],
    path: CanopyPath,
    shift: tuple[float, float],
    plan: tuple[PlanGate, ...],
    legs: tuple[LegPlan, ...],
    device: np.random.Generator,
) -> SyntheticJump:
    """Join the pieces on one clock, record them, and write down the truth."""
    spans: list[PhaseSpan] = []
    t_all, e_all, n_all, h_all = [], [], [], []
    clock = 0.0
    for piece in pieces:
        last = piece is pieces[-1]
        cut = slice(None) if last else slice(0, -1)
        t_all.append(clock + piece.t_s[cut])
        e_all.append(piece.east_m[cut])
        n_all.append(piece.north_m[cut])
        h_all.append(piece.agl_m[cut])
        end = clock + float(piece.t_s[-1])
        spans.append(PhaseSpan(piece.name, setup.start_utc_s + clock, setup.start_utc_s + end))
        clock = end
    joined = [np.concatenate(x) for x in (t_all, e_all, n_all, h_all)]
    t = np.arange(0.0, joined[0][-1], 0.1)
    east, north, agl = (np.interp(t, joined[0], v) for v in joined[1:])
    recording = record(setup, t, east, north, agl, device)
    return SyntheticJump(
        recording, _truth(setup, path, shift, plan, legs, tuple(spans)), f"record-{setup.seed}"
    )


def record(
    setup: Setup, t: Vector, east: Vector, north: Vector, agl: Vector, rng: np.random.Generator
) -> Recording:
    """The recording the setup's receiver makes of a path in metres from the target."""
    fixes = sample(rng, setup.receiver, t, east, north, agl)
    lat, lon = to_geodetic(setup.lat_deg, setup.lon_deg, fixes.east_m, fixes.north_m)
    digits, height_digits = setup.receiver.digits, setup.receiver.height_digits
    nothing = np.full(fixes.t_s.shape, np.nan)
    return Recording(
        time_s=np.round(setup.start_utc_s + fixes.t_s, 3),
        lat_deg=np.round(lat, digits),
        lon_deg=np.round(lon, digits),
        altitude_m=np.round(fixes.agl_m + setup.elevation_m, height_digits),
        speed_mps=nothing if fixes.speed_mps is None else np.round(fixes.speed_mps, 3),
        course_deg=nothing.copy() if fixes.course_deg is None else np.round(fixes.course_deg, 1),
        format="gpx",
        device="synthetic",
        name=f"record {setup.seed}",
        file=f"record-{setup.seed}",
    )


def _truth(
    setup: Setup,
    path: CanopyPath,
    shift: tuple[float, float],
    plan: tuple[PlanGate, ...],
    legs: tuple[LegPlan, ...],
    spans: tuple[PhaseSpan, ...],
) -> Truth:
    start = next(s.start_utc_s for s in spans if s.name == "canopy")
    end = next(s.end_utc_s for s in spans if s.name == "canopy")
    east, north = path.east_m + shift[0], path.north_m + shift[1]
    lat, lon = to_geodetic(setup.lat_deg, setup.lon_deg, east[-1], north[-1])
    heights = np.arange(0.0, 6001.0, 10.0)
    when = np.interp(heights, path.agl_m[::-1], path.t_s[::-1])
    wind_e, wind_n = setup.air.mean(heights, when)
    grid = (0.0, 150.0, 300.0, 600.0, 1000.0)
    assumed = tuple((h, float(e), float(n)) for h, e, n in zip(grid, *setup.assumed.mean(np.array(grid))))
    gates = _gates(path, legs, shift, start)
    return Truth(
        seed=setup.seed,
        style=setup.style,
        kind={4: "box", 3: "three-leg", 1: "straight in"}.get(len(legs), "other"),
        hand=("right" if setup.side > 0 else "left") if len(legs) > 1 else None,
        landing_deg=gates[-1].track_deg if gates else None,
        target_lat=setup.lat_deg,
        target_lon=setup.lon_deg,
        ground_elevation_m=setup.elevation_m,
        airspeed_mps=setup.canopy.airspeed_mps,
        sink_mps=setup.canopy.sink_mps,
        wind_agl_m=heights,
        wind_east=wind_e,
        wind_north=wind_n,
        t_utc_s=start + path.t_s,
        east_m=east,
        north_m=north,
        agl_m=path.agl_m,
        air_east=path.air_east,
        air_north=path.air_north,
        gust_east=path.gust_east,
        gust_north=path.gust_north,
        heading_deg=path.heading_deg,
        bank_deg=path.bank_deg,
        brake=path.brake,
        phases=spans,
        gates=gates,
        plan=plan,
        plan_landing_deg=setup.landing_deg,
        plan_wind=assumed,
        opening_utc_s=start,
        landing_utc_s=end,
        landing_lat=float(lat),
        landing_lon=float(lon),
        landing_east_m=float(east[-1]),
        landing_north_m=float(north[-1]),
        errors=setup.errors,
    )


def _gates(
    path: CanopyPath, legs: tuple[LegPlan, ...], shift: tuple[float, float], start: float
) -> tuple[Gate, ...]:
    rows = []
    marks = [m for leg in legs for m in (path.mark(leg.name), path.mark(f"{leg.name} end")) if m is not None]
    for begin, done in zip(marks[::2], marks[1::2]):
        later = next((m for m in path.marks if m[1] > done[1]), None)
        i = int(np.searchsorted(path.t_s, done[1] + 1.0))
        j = int(np.searchsorted(path.t_s, later[1] if later else path.t_s[-1]))
        j = max(min(j, path.t_s.shape[0] - 1), i + 1)
        de, dn = float(path.east_m[j] - path.east_m[i]), float(path.north_m[j] - path.north_m[i])
        heading = (
            math.degrees(math.atan2(float(np.sum(path.air_east[i:j])), float(np.sum(path.air_north[i:j]))))
            % 360.0
        )
        rows.append(
            Gate(begin[0], begin[2], start + begin[1], begin[3] + shift[0], begin[4] + shift[1], done[2], heading, math.degrees(math.atan2(de, dn)) % 360.0)
        )  # fmt: skip
    return tuple(rows)
