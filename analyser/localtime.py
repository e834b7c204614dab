"""Local time beside UTC: the zone at a place (offline, from the shapes that ``tzfpy`` brings) and its clock at a moment."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import lru_cache

__all__ = ["local_iso", "time_zone", "zone_at"]


@lru_cache(maxsize=64)
def time_zone(lat_deg: float, lon_deg: float) -> str | None:
    """The IANA name of the time zone at a place (WGS 84), None where none is known; over the open sea one of ``Etc/``."""
    try:
        from tzfpy import get_tz
    except ImportError:  # no wheel for this machine: times stay in UTC
        return None
    east = (lon_deg + 180.0) % 360.0 - 180.0
    return get_tz(east, max(-90.0, min(90.0, lat_deg))) or None


def zone_at(lat_deg: float, lon_deg: float) -> str | None:
    """As :func:`time_zone`, to a hundredth of a degree: neighbouring jumps ask once."""
    return time_zone(round(lat_deg, 2), round(lon_deg, 2))


def local_iso(utc_s: float | None, zone: str | None) -> str | None:
    """Seconds since 1970 as ISO 8601 with the offset of the zone then, to the second; None where either is not known."""
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    if utc_s is None or zone is None:
        return None
    try:
        place = ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):  # newer than the machine's list of zones
        return None
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=round(utc_s))
    return moment.astimezone(place).isoformat(timespec="seconds")
