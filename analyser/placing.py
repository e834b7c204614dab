"""Where the metres of a debrief count from: the target where it belongs to the track's field, else the touchdown."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyser.frame import LocalFrame, great_circle_m
from analyser.importers.recording import Recording
from analyser.phases import Phases
from analyser.settings import Settings
from analyser.track import Track, build_track

__all__ = ["NO_TARGET", "about_landing", "place"]

NO_TARGET = "no target given: without one, how far from it you landed is not known"

FIELD_RADIUS_M = 50e3  # no canopy glides as far: 3 km of height, glide 3 and a wind of 25 m/s make some 30 km


def place(recording: Recording, settings: Settings) -> tuple[Settings, Track, str | None]:
    """Settings, track and why there is no target (None where there is one).

    A target that no fix comes within 50 km of belongs to another field, or has lost a sign: it is taken out of the settings,
    for no direction would hold in a plane so far away.

    Parameters
    ----------
    recording : Recording
        Of one jump.
    settings : Settings
        What the user set.

    Returns
    -------
    settings : Settings
        Without the target where it belongs to another field.
    track : Track
        Metres east and north of the target, or of the first place without one.
    reason : str or None
        Why there is no target.

    Raises
    ------
    AnalyserError
        As :func:`build_track`.
    """
    target, elevation = settings.site.target, settings.site.elevation_m
    if target is None:
        return settings, build_track(recording, elevation_m=elevation), NO_TARGET
    away = _nearest_m(recording, target)
    if away <= FIELD_RADIUS_M:
        return settings, build_track(recording, origin=target, elevation_m=elevation), None
    why = (
        "the target lies far from the track and was left out: "
        "check the signs and the order of latitude and longitude"
    )
    bare = replace(settings, site=replace(settings.site, target=None))
    return bare, build_track(recording, elevation_m=elevation), why


def about_landing(track: Track, phases: Phases) -> Track:
    """The same track with the touchdown as the origin of its frame; as it was where there is no touchdown.

    Parameters
    ----------
    track : Track
        Places [m], velocities [m/s] and heights above the landing area [m].
    phases : Phases
        Where climb, fall, canopy flight and landing are.

    Returns
    -------
    Track
    """
    if phases.landing_s is None:
        return track
    east = float(np.interp(phases.landing_s, track.t_s, track.east_m))
    north = float(np.interp(phases.landing_s, track.t_s, track.north_m))
    lat, lon = track.frame.to_geodetic(east, north)
    return replace(
        track,
        frame=LocalFrame(float(lat), float(lon)),
        east_m=track.east_m - east,
        north_m=track.north_m - north,
    )


def _nearest_m(recording: Recording, target: tuple[float, float]) -> float:
    """Least distance of the fixes from a place; 0 where no fix has a place."""
    away = great_circle_m(recording.lat_deg, recording.lon_deg, *target)
    known = away[np.isfinite(away)]
    return float(known.min()) if known.size else 0.0
