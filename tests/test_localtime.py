"""Local time: held against the places and clocks that the tz database itself gives."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from importlib import resources
from zoneinfo import ZoneInfo

import pytest

from analyser.localtime import local_iso, time_zone, zone_at
from analyser.report.plain import two_clocks

SUMMER = datetime(2026, 7, 1, 12, 0, tzinfo=UTC).timestamp()


def degrees(text: str) -> float:
    """ISO 6709 as ``zone1970.tab`` writes it: ±DDMM, ±DDDMM, ±DDMMSS or ±DDDMMSS."""
    sign, digits = -1.0 if text[0] == "-" else 1.0, text[1:]
    whole = 2 + len(digits) % 2
    minutes, seconds = digits[whole : whole + 2], digits[whole + 2 :] or "0"
    return sign * (int(digits[:whole]) + int(minutes) / 60.0 + int(seconds) / 3600.0)


def places() -> list[tuple[float, float, str]]:
    """The principal place of every zone of the tz database (IANA, ``zone1970.tab`` as the package tzdata brings it)."""
    text = resources.files("tzdata").joinpath("zoneinfo/zone1970.tab").read_text(encoding="utf-8")
    rows = [line.split("\t") for line in text.splitlines() if not line.startswith("#")]
    found = []
    for row in rows:
        both = re.fullmatch(r"([+-]\d+)([+-]\d+)", row[1])
        assert both is not None
        found.append((degrees(both[1]), degrees(both[2]), row[2]))
    return found


def clock(zone: str) -> list[object]:
    return [datetime(2026, month, 1, tzinfo=ZoneInfo(zone)).utcoffset() for month in (1, 7)]


def test_the_principal_places_of_all_zones_have_their_clock() -> None:
    """All but Urumqi, where two clocks are in use."""
    rows = places()
    assert len(rows) > 300
    wrong = [name for lat, lon, name in rows if clock(time_zone(lat, lon) or "UTC") != clock(name)]
    assert set(wrong) <= {"Asia/Urumqi"}


@pytest.mark.parametrize(
    ("lat", "lon", "text"),
    [
        (51.5, -0.12, "2026-07-01 12:00 UTC (13:00 local time)"),  # London, summer time
        (64.15, -21.94, "2026-07-01 12:00 UTC"),  # Reykjavik keeps UTC
        (22.57, 88.36, "2026-07-01 12:00 UTC (17:30 local time)"),  # Kolkata, half an hour
        (1.87, -157.43, "2026-07-01 12:00 UTC (2026-07-02 02:00 local time)"),  # Kiritimati, the next day
    ],
)
def test_both_clocks(lat: float, lon: float, text: str) -> None:
    assert two_clocks(SUMMER + 42.0, lat, lon) == text


def test_edges_of_the_world_have_a_clock_or_none() -> None:
    for lat, lon in ((90.0, 0.0), (-90.0, 180.0), (0.0, 180.0), (0.0, -180.0), (-17.0, 181.0)):
        zone = zone_at(lat, lon)
        assert zone is None or local_iso(SUMMER, zone) is not None
    assert local_iso(SUMMER, "No/Such_Zone") is None
    assert local_iso(SUMMER, None) is None
    assert local_iso(None, "Europe/London") is None
    assert local_iso(SUMMER, "Europe/London") == "2026-07-01T13:00:00+01:00"
