"""parse_position: a place as people copy it from a map, a web page or a message -> latitude and longitude."""

from __future__ import annotations

import re
from typing import Final

from analyser.errors import SettingsError

__all__ = ["check_position", "other_way_round", "parse_position"]

_NUMBER: Final = r"[+-]?(?:\d+\.?\d*|\.\d+)"
_DECIMAL: Final = re.compile(rf"\s*({_NUMBER})\s*[,;\s]\s*({_NUMBER})\s*", re.ASCII)
_GEO: Final = re.compile(rf"geo:({_NUMBER}),({_NUMBER})(?:,{_NUMBER})?(?:[;?].*)?", re.ASCII | re.I)
_HALF: Final = rf"({_NUMBER})(?:\s*[°d:\s]\s*({_NUMBER})(?:\s*['′m:\s]\s*({_NUMBER}))?)?\s*[°'′\"″ms]*\s*"
_AFTER: Final = re.compile(rf"\s*{_HALF}([NSEW])[\s,;]*{_HALF}([NSEW])\s*", re.I)
_BEFORE: Final = re.compile(rf"\s*([NSEW])\s*{_HALF}[\s,;]*([NSEW])\s*{_HALF}\s*", re.I)
_BRACKETS: Final = re.compile(r"\s*(?:\((.*)\)|\[(.*)\])\s*")
_HINT: Final = "write decimal degrees, latitude first: 52.1234,-1.5678"


def parse_position(text: str) -> tuple[float, float]:
    """(lat, lon) in degrees, north and east positive, from decimal degrees (latitude first), degrees with letters in either order, degrees
    and minutes (and seconds), any of them in brackets, or a ``geo:`` URI (RFC 5870). Raises SettingsError; one that offers the right way round where the two were swapped.
    """
    inside = _BRACKETS.fullmatch(text)
    text = inside[1] or inside[2] or "" if inside is not None else text
    plain = _DECIMAL.fullmatch(text) or _GEO.fullmatch(text.strip())
    if plain is not None:
        lat, lon = float(plain[1]), float(plain[2])
    else:
        lat, lon = _lettered(text)
    if what := check_position(lat, lon):
        turned = other_way_round(lat, lon)
        hint = f"did you mean {turned}?" if turned else "write latitude first, in decimal degrees"
        raise SettingsError(f"target {text[:40]!r}: {what}", hint)
    return lat, lon


def _lettered(text: str) -> tuple[float, float]:
    """Degrees with the letters of the hemispheres, which say which is which."""
    after, before = _AFTER.fullmatch(text), _BEFORE.fullmatch(text)
    if after is not None:
        parts = after.groups()
        halves = [(parts[3], parts[0:3]), (parts[7], parts[4:7])]
    elif before is not None:
        parts = before.groups()
        halves = [(parts[0], parts[1:4]), (parts[4], parts[5:8])]
    else:
        raise SettingsError(f"target {text[:40]!r} is not LAT,LON", _HINT)
    values = {letter.upper(): _degrees(text, rest) for letter, rest in halves}
    lat = values.get("N", -values["S"] if "S" in values else None)
    lon = values.get("E", -values["W"] if "W" in values else None)
    if lat is None or lon is None:
        raise SettingsError(f"target {text[:40]!r} needs one of N and S, and one of E and W", _HINT)
    return lat, lon


def other_way_round(lat: float, lon: float) -> str:
    """A position whose numbers were swapped, as it should be written; empty where the other way round is no place either."""
    swapped = abs(lat) > 90.0 and not check_position(lon, lat)
    return f"{_written(lon)},{_written(lat)}" if swapped else ""


def _written(degrees: float) -> str:
    """A centimetre of the earth is a unit of the seventh decimal."""
    return f"{degrees:.7f}".rstrip("0").rstrip(".")


def _degrees(text: str, parts: tuple[str | None, ...]) -> float:
    whole, minutes, seconds = (float(part) if part else 0.0 for part in parts)
    fraction = parts[1] is not None and "." in str(parts[0])
    if min(whole, minutes, seconds) < 0.0 or max(minutes, seconds) >= 60.0 or fraction:
        raise SettingsError(f"target {text[:40]!r}: degrees, minutes and seconds do not fit together", _HINT)
    return whole + minutes / 60.0 + seconds / 3600.0


def check_position(lat: float, lon: float) -> str:
    """What is wrong with a position in degrees; empty where nothing is."""
    if not abs(lat) <= 90.0:
        swapped = abs(lon) <= 90.0 and abs(lat) <= 180.0
        return f"latitude {lat:g} is beyond ±90" + (
            ", are latitude and longitude swapped?" if swapped else ""
        )
    if not abs(lon) <= 180.0:
        return f"longitude {lon:g} is beyond ±180"
    return ""
