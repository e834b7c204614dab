"""A METAR or SPECI: the wind at 10 m with its gusts apart, temperature and pressure; decoded by the library ``metar``."""

from __future__ import annotations

import re
import warnings
from dataclasses import dataclass
from typing import Any, Final

from analyser.errors import SettingsError

__all__ = ["ANEMOMETER_M", "Metar", "is_metar", "read_metar"]

ANEMOMETER_M: Final = 10.0  # WMO-No. 8: the height above the ground at which surface wind is measured
_METAR: Final = re.compile(
    r"^[ \t]*(?:METAR[ \t]+|SPECI[ \t]+)?(?:COR[ \t]+)?[A-Z][A-Z0-9]{3}[ \t]+\d{6}Z\s", re.M
)
_NO_UNIT: Final = re.compile(r"\s(?:\d{3}|VRB)\d{2,3}(?:G\d{2,3})?(?=\s|$)")


@dataclass(frozen=True, slots=True)
class Metar:
    """What a report says of the air at the ground; None where it says nothing.

    ``speed_mps`` is the mean, ``gust_mps`` the greatest wind of the last minutes; ``from_deg`` is None where the wind is calm or variable,
    ``range_deg`` the limits between which the direction varies. ``qnh_hpa`` is the pressure brought to sea level in the standard atmosphere.
    """

    station: str
    when: str
    speed_mps: float
    gust_mps: float | None
    from_deg: float | None
    range_deg: tuple[float, float] | None
    temperature_c: float | None
    qnh_hpa: float | None


def is_metar(text: str) -> bool:
    """Whether a text begins a line like a METAR does: station and time."""
    return _METAR.search(text[:10_000]) is not None


def read_metar(text: str, file: str | None = None) -> Metar:
    """The first report of a text. Raises SettingsError where it can not be decoded or tells no wind."""
    from metar.Metar import Metar as Decoder
    from metar.Metar import ParserError

    start = _METAR.search(text)
    if start is None:
        raise SettingsError("no METAR", "it begins with a station and a time, KXYZ 141755Z", file)
    code = re.sub(r"\n\s+", " ", text[start.start() :].strip()).split("\n")[0].partition("=")[0].strip()
    if _NO_UNIT.search(code.partition(" RMK")[0]):
        raise SettingsError("the wind of the METAR has no unit", "KT or MPS belongs behind it", file)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            found = Decoder(code[:2000], strict=False)
    except (ParserError, ValueError, TypeError, KeyError, IndexError, AttributeError) as error:
        reason = str(error).split("\n")[0][:120]
        raise SettingsError(
            f"the METAR can not be read ({reason})", "copy it as it was issued", file
        ) from None
    speed = _value(found.wind_speed, "MPS")
    if speed is None:
        raise SettingsError("the METAR tells no wind", "take another report", file)
    when = re.search(r"\b\d{6}Z\b", code)
    varies = _value(found.wind_dir_from), _value(found.wind_dir_to)
    return Metar(
        station=str(found.station_id or ""),
        when=when[0] if when else "",
        speed_mps=speed,
        gust_mps=_value(found.wind_gust, "MPS"),
        from_deg=None if speed == 0.0 else _value(found.wind_dir),
        range_deg=None if varies[0] is None or varies[1] is None else (varies[0], varies[1]),
        temperature_c=_value(found.temp, "C"),
        qnh_hpa=_value(found.press, "HPA"),
    )


def _value(quantity: Any, unit: str | None = None) -> float | None:
    if quantity is None:
        return None
    return float(quantity.value() if unit is None else quantity.value(unit))
