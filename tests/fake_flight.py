"""A flight by plain kinematics with its track, phases and winds, for debriefs that are put together by hand."""

from __future__ import annotations

import numpy as np

from analyser.frame import LocalFrame
from analyser.importers.recording import Note
from analyser.phases import Phase, Phases
from analyser.track import Gap, Quality, Track
from analyser.wind.estimate import CanopyEstimate, WindEstimate
from analyser.wind.profile import WindProfile

TARGET = (47.3, 11.9)
START_S = 1_781_430_000.0
SINK, AIRSPEED, DT = 4.2, 10.5, 0.5
CANOPY_HEADINGS = (
    (900.0, 200.0),
    (760.0, 320.0),
    (640.0, 110.0),
    (480.0, 330.0),
    (330.0, 60.0),
    (165.0, 330.0),
    (79.0, 240.0),
)


def true_wind(agl: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A veering, growing wind from about west-south-west."""
    speed = 3.5 + 4.5 * np.clip(agl, 0, 900) / 900
    toward = np.radians(60.0 + 25.0 * np.clip(agl, 0, 900) / 900)
    return speed * np.sin(toward), speed * np.cos(toward)


def canopy_flight() -> dict[str, np.ndarray]:
    """Kinematic canopy flight that ends near the target (time from opening, metres, m/s)."""
    agl = np.arange(900.0, 0.0, -SINK * DT)
    t = np.arange(agl.size) * DT
    wanted = np.array([next(h for top, h in reversed(CANOPY_HEADINGS) if a <= top) for a in agl])
    heading = np.empty_like(agl)
    heading[0] = wanted[0]
    for i in range(1, agl.size):
        turn = (wanted[i] - heading[i - 1] + 180) % 360 - 180
        heading[i] = heading[i - 1] + np.clip(turn, -18 * DT, 18 * DT)
    we, wn = true_wind(agl)
    air_e, air_n = AIRSPEED * np.sin(np.radians(heading)), AIRSPEED * np.cos(np.radians(heading))
    ve, vn = air_e + we, air_n + wn
    east, north = np.cumsum(ve) * DT, np.cumsum(vn) * DT
    return {
        "t": t,
        "agl": agl,
        "e": east - east[-1] + 14.0,
        "n": north - north[-1] - 21.0,
        "ve": ve,
        "vn": vn,
    }


def fake_track() -> tuple[Track, Phases]:
    """Climb, free fall, canopy, rest; two gaps."""
    fly = canopy_flight()
    climb_t = np.arange(0.0, 600.0, 5.0)
    climb_agl = np.linspace(0.0, 3000.0, climb_t.size)
    fall_t = 600.0 + np.arange(0.0, 42.0, 0.5)
    fall_agl = np.linspace(3000.0, 902.0, fall_t.size)
    can_t = 642.0 + fly["t"]
    rest_t = can_t[-1] + 0.5 + np.arange(0.0, 60.0, 1.0)
    t = np.concatenate([climb_t, fall_t, can_t, rest_t])
    agl = np.concatenate([climb_agl, fall_agl, fly["agl"], np.zeros(rest_t.size)])
    lead = climb_t.size + fall_t.size

    def column(name: str, still: float) -> np.ndarray:
        before = np.linspace(still, fly[name][0], lead)
        return np.concatenate([before, fly[name], np.full(rest_t.size, fly[name][-1])])

    ve = np.concatenate([np.full(lead, 30.0), fly["ve"], np.zeros(rest_t.size)])
    vn = np.concatenate([np.full(lead, 10.0), fly["vn"], np.zeros(rest_t.size)])
    quality = Quality(
        "good",
        "barometric",
        (Gap(START_S + 200.0, 12.0), Gap(START_S + 640.0, 3.5)),
        (Note("gap", "two gaps in the recording, none under canopy", 2),),
        2.0,
    )
    track = Track(
        t,
        column("e", -1500.0),
        column("n", -900.0),
        agl,
        ve,
        vn,
        np.gradient(agl, t),
        START_S,
        LocalFrame(*TARGET),
        612.0,
        1.4,
        2.1,
        2.5,
        0.15,
        "doppler",
        quality,
    )
    return track, fake_phases(track, climb_t.size, lead, lead + fly["t"].size)


def fake_phases(track: Track, climb: int, lead: int, land: int) -> Phases:
    """Intervals for the fake track."""
    cuts = [
        ("climb", 0, climb),
        ("free fall", climb, lead),
        ("canopy", lead, land),
        ("ground after", land, len(track)),
    ]
    rows = []
    for name, a, b in cuts:
        end = min(b, len(track) - 1)
        rows.append(
            Phase(name, a, b, track.t_s[a], track.t_s[end], track.agl_m[a], track.agl_m[end])  # type: ignore[arg-type]
        )
    return Phases(tuple(rows), "jump", "", float(track.t_s[land - 1]), land - 1, True, ())


def fake_wind() -> WindEstimate:
    """The true wind with made-up errors; the topmost heights undetermined, one bridged."""
    agl = np.arange(0.0, 901.0, 50.0)
    e, n = true_wind(agl)
    sd = 0.45 + 0.5 * agl / 900
    k = agl.size
    status = ["measured"] * k
    reason = [""] * k
    for i in (16, 17, 18):
        status[i], reason[i] = "undetermined", "headings within 40° of one line above 800 m"
    status[9], reason[9] = "bridged", "fewer than 5 fixes within 50 m"
    corr = np.exp(-np.abs(agl[:, None] - agl[None, :]) / 150.0) * sd[:, None] * sd[None, :]
    cov = np.zeros((2 * k, 2 * k))
    cov[:k, :k], cov[k:, k:] = corr, corr
    profile = WindProfile(agl, e, n, cov, tuple(status), tuple(reason))  # type: ignore[arg-type]
    t = canopy_flight()["t"]
    return WindEstimate(profile, CanopyEstimate(10.1, 0.25, 4.05, 0.1), t, np.zeros(t.size), "", {})
