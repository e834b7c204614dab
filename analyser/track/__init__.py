"""build_track: Recording -> Track (local metres, height above the landing area, velocity, quality)."""

from analyser.track.build import (
    Gap,
    Quality,
    Track,
    build_track,
    grade_of,
    local_velocity,
)

__all__ = [
    "Gap",
    "Quality",
    "Track",
    "build_track",
    "grade_of",
    "local_velocity",
]
