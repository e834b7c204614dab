"""Winds and temperatures aloft as the United States weather service writes them (FB, formerly FD; NWS Instruction 10-812).

A line ``FT`` names heights in feet above mean sea level, then each station has a group ``DDff±TT`` per height: direction in tens of
degrees true, speed in knots, temperature in °C. From 100 kt on, 50 is added to the direction and 100 taken from the speed; 9900 is light
(below 5 kt) and variable; above 24,000 ft temperatures are negative and carry no sign. Near the ground of a station groups are left out.
"""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass
from typing import Final

from analyser.errors import SettingsError
from analyser.units import FOOT_M, KNOT_MPS

__all__ = ["AloftRow", "is_aloft", "read_aloft", "read_group"]

NEGATIVE_ABOVE_FT: Final = 24_000
MAX_LINES: Final = 5_000
_HEIGHTS: Final = re.compile(r"^[ \t]*FT(?:[ \t]+\d{3,5})+[ \t\r]*$", re.M)
_GROUP: Final = re.compile(r"(\d\d)(\d\d)(?:([+-]?)(\d\d))?")
_STATION: Final = re.compile(r"[A-Z0-9]{3,4}")
_VALID: Final = re.compile(r"VALID\s+(\d{6}Z)(?:\s+FOR USE\s+(\d{4}-\d{4}Z?))?")


@dataclass(frozen=True, slots=True)
class AloftRow:
    """The wind at one height: metres above mean sea level, m/s, degrees true it comes from, °C.

    ``from_deg`` is None where the wind is light and variable; ``temperature_c`` where none is given.
    """

    msl_m: float
    speed_mps: float
    from_deg: float | None
    temperature_c: float | None


def is_aloft(text: str) -> bool:
    """Whether a text is a bulletin of winds aloft: it has a line of heights."""
    return _HEIGHTS.search(text[:100_000]) is not None


def read_group(text: str, height_ft: int) -> AloftRow | None:
    """One group at a height [ft above mean sea level]; None where it is no such group."""
    found = _GROUP.fullmatch(text)
    if found is None:
        return None
    tens, knots, sign, digits = int(found[1]), float(found[2]), found[3], found[4]
    temperature = None
    if digits is not None:
        if not sign and height_ft <= NEGATIVE_ABOVE_FT:
            return None
        temperature = float(digits) * (1.0 if sign == "+" else -1.0)
    height = height_ft * FOOT_M
    if tens == 99 and knots == 0.0:
        return AloftRow(height, 0.0, None, temperature)
    if tens > 50:
        tens, knots = tens - 50, knots + 100.0
    if not 1 <= tens <= 36:
        return None
    return AloftRow(height, knots * KNOT_MPS, tens * 10.0 % 360.0, temperature)


def read_aloft(
    text: str, station: str | None = None, file: str | None = None
) -> tuple[str, str, tuple[AloftRow, ...]]:
    """Station, time of validity and winds of one station of a bulletin, upwards; ``station`` picks where there are several.

    Raises SettingsError where the bulletin has no such station, or several and none was picked, or a group is none.
    """
    lines = text.splitlines()[:MAX_LINES]
    rows: dict[str, tuple[AloftRow, ...]] = {}
    heights: list[int] = []
    for number, line in enumerate(lines, 1):
        words = line.split()
        if _HEIGHTS.match(line):
            heights = [int(word) for word in words[1:]]
            if any(low >= high for low, high in itertools.pairwise(heights)):
                raise SettingsError(
                    f"line {number}: the heights of the bulletin do not rise", "copy the bulletin again", file
                )
        elif heights and len(words) > 1 and _STATION.fullmatch(words[0]):
            rows.setdefault(words[0], _row(words[1:], heights, number, file))
    valid = _VALID.search(" ".join(lines))
    when = "" if valid is None else f"valid {valid[1]}" + (f" for use {valid[2]}" if valid[2] else "")
    name = _picked(rows, station, file)
    return name, when, rows[name]


def _row(groups: list[str], heights: list[int], line: int, file: str | None) -> tuple[AloftRow, ...]:
    """The groups of a station; those left out are the lowest ones."""
    if len(groups) > len(heights):
        raise SettingsError(f"line {line}: {len(groups)} groups under {len(heights)} heights", "", file)
    found = []
    for group, height in zip(groups, heights[len(heights) - len(groups) :]):
        row = read_group(group, height)
        if row is None:
            raise SettingsError(
                f"line {line}: {group[:20]!r} is no group of winds aloft at {height} ft",
                "a group is DDff, DDff+TT or DDff-TT",
                file,
            )
        found.append(row)
    return tuple(found)


def _picked(rows: dict[str, tuple[AloftRow, ...]], station: str | None, file: str | None) -> str:
    if not rows:
        raise SettingsError("the bulletin of winds aloft holds no station", "", file)
    listed = ", ".join(list(rows)[:30])
    if station is None:
        if len(rows) > 1:
            raise SettingsError(f"the bulletin holds {len(rows)} stations", f"name one of {listed}", file)
        return next(iter(rows))
    name = station.strip().upper()
    if name not in rows:
        raise SettingsError(f"the bulletin has no station {name[:20]}", f"it has {listed}", file)
    return name
