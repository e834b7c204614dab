"""A white stork circling in a thermal, 120 fixes at 1 Hz, against what is published of it.

The track (Movebank study LifeTrack White Stork, as shipped with the R package moveWindSpeed) may not stand in this project, for its licence; it is read
from shared/real beside the project, and tests/conftest.py leaves this file out where it is not there.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from analyser.angles import to_vector
from analyser.api import estimate_wind
from analyser.frame import LocalFrame
from analyser.track.velocity import local_velocity
from analyser.wind.circle import Circle, fit_circle

STORK = Path(__file__).resolve().parents[3] / "shared" / "real" / "stork_circling_1hz.csv"


def table() -> dict[str, np.ndarray]:
    data = np.genfromtxt(STORK, delimiter=",", names=True)
    return {column: data[column] for column in data.dtype.names}


def apart(t: np.ndarray, lat: np.ndarray, lon: np.ndarray, v: np.ndarray, late_s: float) -> np.ndarray:
    """Vector difference (n,) of the velocity from positions and a recorded one that trails by ``late_s``."""
    place = np.stack(LocalFrame(float(lat[0]), float(lon[0])).to_local(lat, lon), axis=1)
    theirs = np.stack([np.interp(t + late_s, t, column) for column in v.T], axis=1)
    return np.hypot(*(local_velocity(t, place).velocity - theirs).T)


def stork() -> tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    columns = table()
    frame = LocalFrame(47.16786075, 8.03556635)
    east, north = frame.to_local(columns["lat_deg"], columns["lon_deg"])
    return east, north, columns


def turning_windows(east: np.ndarray, north: np.ndarray, window: int = 29) -> list[Circle]:
    """Rules of Weinzierl et al. 2016: stretches of ``window`` velocities that turn once round in the air, airspeed over 4 m/s."""
    found = []
    for i in range(east.size - window + 1):
        e, n = east[i : i + window], north[i : i + window]
        circle = fit_circle(e, n)
        heading = np.unwrap(np.arctan2(e - circle.east, n - circle.north))
        if np.degrees(abs(heading[-1] - heading[0])) >= 360.0 and circle.radius > 4.0:
            found.append(circle)
    return found


def test_storks_circling_as_published() -> None:
    """Vignette of the R package moveWindSpeed 0.2.4 (Weinzierl et al. 2016): stork 3666, 120 s, windows of 29 fixes, φ = 0.

    Printed: windX 4.8963…6.1462, windY −0.0294…0.6297, residual variance 0.0849553…0.3480665, extent of the track.
    """
    east, north, columns = stork()
    lines = [
        Geodesic.WGS84.Inverse(*pair)
        for pair in zip(
            columns["lat_deg"], columns["lon_deg"], columns["lat_deg"][1:], columns["lon_deg"][1:]
        )
    ]
    speed = np.array([line["s12"] for line in lines]) / np.diff(columns["unix_utc_s"])
    circles = turning_windows(*to_vector(speed, [line["azi1"] for line in lines]))
    assert len(circles) == 91
    x, y, v = (np.array([getattr(c, key) for c in circles]) for key in ("east", "north", "variance"))
    assert (x.min(), x.max()) == pytest.approx((4.8963265, 6.1462303), abs=5e-4)
    assert (y.min(), y.max()) == pytest.approx((-0.0294281, 0.6297041), abs=5e-4)
    assert (v.min(), v.max()) == pytest.approx((0.0849553441, 0.3480664926), abs=5e-6)
    assert (east.min(), east.max()) == pytest.approx((-246.2953, 313.526), abs=2e-3)
    assert (north.min(), north.max()) == pytest.approx((-55.89234, 45.84754), abs=2e-3)


def test_stork_through_the_public_door() -> None:
    """The joint fit lies where the published windows lie (their windY and windX are east and north)."""
    east, north, columns = stork()
    height = columns["height_above_ellipsoid_m"]
    profile = estimate_wind(columns["unix_utc_s"], east, north, height - 790.0, elevation_m=790.0)
    at = profile.at(float(np.mean(height)) - 790.0)
    assert at.status == "measured"
    assert 4.5 < at.east < 6.5
    assert -0.5 < at.north < 1.1
    assert at.worst_sd < 0.7


def test_positions_of_a_circling_stork_against_its_doppler_velocity() -> None:
    """120 fixes at 1 Hz, turning at about 20°/s (Movebank study LifeTrack White Stork, as shipped with moveWindSpeed).

    The recorded velocity trails the positions by 0.2 s; then the two agree to the stated speed accuracy of 0.13 m/s.
    """
    d = table()
    heading = np.radians(d["heading_deg"])
    v = d["ground_speed_mps"][:, None] * np.stack([np.sin(heading), np.cos(heading)], axis=1)
    late = {s: np.median(apart(d["unix_utc_s"], d["lat_deg"], d["lon_deg"], v, s)) for s in (0.0, 0.2, 0.4)}
    assert min(late, key=late.get) == 0.2
    assert late[0.2] < 0.2
    place = np.stack(LocalFrame(47.0, 8.0).to_local(d["lat_deg"], d["lon_deg"]), axis=1)
    speed = np.hypot(*local_velocity(d["unix_utc_s"], place).velocity.T)
    assert abs(np.median(speed - d["ground_speed_mps"])) < 0.1
