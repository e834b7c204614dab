"""A TAF: the wind at 10 m that is forecast for an aerodrome at a time (WMO-No. 306, FM 51; ICAO Annex 3, appendix 5).

The wind that prevails is that of the first line until a group FM begins, or a group BECMG has ended, that tells another. What TEMPO, INTER
and PROB groups tell for that time is no mean wind: the strongest of it is kept beside as a gust. Nothing but the winds is read.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, NamedTuple

from analyser.errors import SettingsError
from analyser.units import KMH_MPS, KNOT_MPS

__all__ = ["Taf", "is_taf", "read_taf"]

_TAF: Final = re.compile(r"^[ \t]*TAF(?:[ \t]+(?:AMD|COR))*\s+[A-Z][A-Z0-9]{3}\s", re.M)
_BARE: Final = re.compile(r"^[ \t]*[A-Z][A-Z0-9]{3}[ \t]+\d{6}Z[ \t]+\d{4}/\d{4}\s", re.M)
_HEAD: Final = re.compile(
    r"(?:TAF )?(?:(?:AMD|COR) )*(?P<station>[A-Z][A-Z0-9]{3}) (?:\d{6}Z )?(?P<from>\d{4})/(?P<to>\d{4})(?P<rest> .*)?"
)
_WIND: Final = re.compile(
    r"(?P<from>\d{3}|VRB)P?(?P<speed>\d{2,3})(?:GP?(?P<gust>\d{2,3}))?(?P<unit>KT|MPS|KMH|KM/H)?"
)
_FROM: Final = re.compile(r"FM(\d\d)(\d\d)(\d\d)Z?")
_PERIOD: Final = re.compile(r"(\d{4})/(\d{4})")
_AT: Final = re.compile(r"(\d\d)(\d\d)(\d\d)Z?", re.ASCII)
_UNITS: Final = {"KT": KNOT_MPS, "MPS": 1.0, "KMH": KMH_MPS, "KM/H": KMH_MPS}
MAX_CHARACTERS: Final = 5_000
_DAY: Final = 1440
_MONTH: Final = 31 * _DAY


@dataclass(frozen=True, slots=True)
class Taf:
    """The wind forecast for a time: ``from_deg`` is None where it is calm or variable; speeds [m/s]; ``when`` says which line it is of."""

    station: str
    when: str
    speed_mps: float
    gust_mps: float | None
    from_deg: float | None


class _Wind(NamedTuple):
    speed_mps: float
    gust_mps: float | None
    from_deg: float | None


class _Group(NamedTuple):
    """A line of a TAF: what kind of change, when [minutes], and its wind where it tells one."""

    kind: str
    begin: int
    end: int
    wind: _Wind | None


def is_taf(text: str) -> bool:
    """Whether a text is a TAF: it says so, or has station, time and a period of validity."""
    head = text[:10_000]
    return _TAF.search(head) is not None or _BARE.search(head) is not None


def read_taf(text: str, at: str | None = None, file: str | None = None) -> Taf:
    """The wind at ``at`` (day, hour and minute in UTC, ``141500Z``; None: when the TAF begins).

    Raises SettingsError where it can not be read, tells no wind, or does not reach that time.
    """
    station, (first, *changes) = _groups(text, file)
    if first.wind is None:
        raise SettingsError("the TAF tells no wind", "take another forecast", file)
    moment = first.begin if at is None else _moment(at, first, file)
    wind, since = first.wind, f"from {_told(first.begin)}"
    passing: list[float] = []
    for group in changes:
        if group.wind is None:
            continue
        if group.kind in ("FM", "BECMG"):
            if moment >= (group.begin if group.kind == "FM" else group.end):
                wind, since = group.wind, f"{group.kind} {_told(group.begin)}"
        elif group.begin <= moment < group.end:
            passing += [group.wind.speed_mps, group.wind.gust_mps or 0.0]
    strongest = max([wind.gust_mps or 0.0, *passing])
    return Taf(
        station=station,
        when=f"for {_told(moment)}, {since}",
        speed_mps=wind.speed_mps,
        gust_mps=strongest if strongest > wind.speed_mps else None,
        from_deg=wind.from_deg,
    )


def _groups(text: str, file: str | None) -> tuple[str, list[_Group]]:
    start = _TAF.search(text) or _BARE.search(text)
    if start is None:
        raise SettingsError("no TAF", "it begins with TAF, a station and a time", file)
    code = " ".join(text[start.start() : start.start() + MAX_CHARACTERS].partition("=")[0].split())
    head = _HEAD.fullmatch(code)
    if head is None:
        raise SettingsError(
            "the TAF can not be read: it names no period such as 1412/1518", "copy it as it was issued", file
        )
    begin = _hour(head["from"])
    found = [_Group("", begin, _after(_hour(head["to"]), begin), None)]
    kind = ""
    for word in (head["rest"] or "").split():
        since, period = _FROM.fullmatch(word), _PERIOD.fullmatch(word)
        if since is not None:
            at = _after(_minutes(*since.groups()), begin)
            found.append(_Group("FM", at, at, None))
        elif word in ("BECMG", "TEMPO", "INTER") or re.fullmatch(r"PROB\d\d", word):
            kind = word
        elif period is not None and kind:
            found.append(_Group(kind, _after(_hour(period[1]), begin), _after(_hour(period[2]), begin), None))
            kind = ""
        elif found[-1].wind is None:
            found[-1] = found[-1]._replace(wind=_wind(word, file))
    return str(head["station"]), found


def _wind(word: str, file: str | None) -> _Wind | None:
    found = _WIND.fullmatch(word)
    if found is None:
        return None
    if found["unit"] is None:
        raise SettingsError(f"the wind {word} of the TAF has no unit", "KT or MPS belongs behind it", file)
    factor = _UNITS[found["unit"]]
    speed = float(found["speed"]) * factor
    open_direction = found["from"] == "VRB" or speed == 0.0
    if not open_direction and int(found["from"]) > 360:
        raise SettingsError(f"the TAF has a wind from {found['from']} degrees", "", file)
    gust = None if found["gust"] is None else float(found["gust"]) * factor
    return _Wind(speed, gust, None if open_direction else float(found["from"]))


def _minutes(day: str, hour: str, minute: str) -> int:
    """Minutes since the begin of a month: a TAF knows days of the month only."""
    return (int(day) - 1) * _DAY + int(hour) * 60 + int(minute)


def _hour(text: str) -> int:
    return _minutes(text[:2], text[2:], "0")


def _after(minutes: int, origin: int) -> int:
    """A time within half a month of ``origin``: the day after the last of a month is the first."""
    return minutes + _MONTH if minutes < origin - _MONTH // 2 else minutes


def _told(minutes: int) -> str:
    """Day, hour and minute as a TAF writes them."""
    day, rest = divmod(minutes % _MONTH, _DAY)
    return f"{day + 1:02d}{rest // 60:02d}{rest % 60:02d}Z"


def _moment(at: str, first: _Group, file: str | None) -> int:
    found = _AT.fullmatch(at.strip().upper())
    if found is None or not (1 <= int(found[1]) <= 31 and int(found[2]) <= 24 and int(found[3]) < 60):
        raise SettingsError(
            f"{at[:20]!r} is no time of a TAF", "write day, hour, minute in UTC: 141500Z", file
        )
    moment = _after(_minutes(*found.groups()), first.begin)
    if not first.begin <= moment <= first.end:
        raise SettingsError(
            f"the TAF holds from {_told(first.begin)} to {_told(first.end)}, not at {at[:20]}", "", file
        )
    return moment
