"""One track in every format that is read: each writer takes times [s since 1970], degrees and metres, and gives the file's bytes.

Written after the published formats; they share nothing with the readers.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from datetime import UTC, datetime

import numpy as np
from fitfile import GPS, FitFile

Vector = np.ndarray


def moments(t: Vector) -> list[datetime]:
    return [datetime.fromtimestamp(round(float(x), 3), UTC) for x in t]


def iso(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%dT%H:%M:%S.") + f"{moment.microsecond // 1000:03d}Z"


def gpx(t: Vector, lat: Vector, lon: Vector, alt: Vector) -> bytes:
    rows = "".join(
        f'<trkpt lat="{a:.7f}" lon="{o:.7f}"><ele>{z:.1f}</ele><time>{iso(m)}</time></trkpt>'
        for m, a, o, z in zip(moments(t), lat, lon, alt)
    )
    return f'<?xml version="1.0"?><gpx version="1.1"><trk><trkseg>{rows}</trkseg></trk></gpx>'.encode()


def tcx(t: Vector, lat: Vector, lon: Vector, alt: Vector) -> bytes:
    rows = "".join(
        f"<Trackpoint><Time>{iso(m)}</Time><Position><LatitudeDegrees>{a:.7f}</LatitudeDegrees><LongitudeDegrees>{o:.7f}</LongitudeDegrees></Position>"
        f"<AltitudeMeters>{z:.1f}</AltitudeMeters></Trackpoint>"
        for m, a, o, z in zip(moments(t), lat, lon, alt)
    )
    return (
        '<?xml version="1.0"?><TrainingCenterDatabase xmlns="http://www.garmin.com/xmlschemas/TrainingCenterDatabase/v2"><Activities>'
        f'<Activity Sport="Other"><Id>a</Id><Lap><Track>{rows}</Track></Lap><Creator><Name>a watch</Name></Creator></Activity>'
        "</Activities></TrainingCenterDatabase>"
    ).encode()


def sexagesimal(value: float, letters: str, width: int, digits: int) -> tuple[str, str]:
    """``ddmm.mmm…`` and its letter."""
    minutes = round(abs(float(value)) * 60.0 * 10**digits)
    whole, part = divmod(minutes, 60 * 10**digits)
    text = f"{part:0{2 + digits}d}"
    return f"{whole:0{width}d}{text[:2]}.{text[2:]}", letters[int(value < 0)]


def igc(t: Vector, lat: Vector, lon: Vector, alt: Vector, pressure: Vector | None = None) -> bytes:
    """With two further digits of the minutes and the tenths of the second."""
    first = moments(t)[0]
    lines = [
        "AXXX001",
        f"HFDTEDATE:{first:%d%m%y},01",
        "HFFTYFRTYPE:TEST,RECORDER",
        "I033637LAD3839LOD4042TDS",
    ]
    below = np.zeros(t.size) if pressure is None else pressure
    for m, a, o, z, p in zip(moments(t), lat, lon, alt, below):
        (la, ns), (lo, ew) = sexagesimal(a, "NS", 2, 5), sexagesimal(o, "EW", 3, 5)
        la, lo = la.replace(".", ""), lo.replace(".", "")
        height = f"{round(float(z)):05d}{la[7:]}{lo[8:]}{m.microsecond // 1000:03d}"
        lines.append(f"B{m:%H%M%S}{la[:7]}{ns}{lo[:8]}{ew}A{round(float(p)):05d}{height}")
    return "\r\n".join([*lines, "GABC", ""]).encode()


def sentence(text: str) -> str:
    total = 0
    for byte in text.encode():
        total ^= byte
    return f"${text}*{total:02X}"


def nmea(t: Vector, lat: Vector, lon: Vector, alt: Vector) -> bytes:
    lines = []
    for m, a, o, z in zip(moments(t), lat, lon, alt):
        (la, ns), (lo, ew) = sexagesimal(a, "NS", 2, 6), sexagesimal(o, "EW", 3, 6)
        clock = f"{m:%H%M%S}.{m.microsecond // 10000:02d}"
        lines.append(sentence(f"GNGGA,{clock},{la},{ns},{lo},{ew},1,12,0.8,{z:.1f},M,47.0,M,,"))
        lines.append(sentence(f"GNRMC,{clock},A,{la},{ns},{lo},{ew},,,{m:%d%m%y},,,A"))
    return "\r\n".join([*lines, ""]).encode()


def table(t: Vector, lat: Vector, lon: Vector, alt: Vector, titles: str = "time,lat,lon,altitude_m") -> bytes:
    rows = (f"{iso(m)},{a:.7f},{o:.7f},{z:.1f}" for m, a, o, z in zip(moments(t), lat, lon, alt))
    return "\n".join([titles, *rows, ""]).encode()


def fit(t: Vector, lat: Vector, lon: Vector, alt: Vector) -> bytes:
    rows = [
        {
            "timestamp": math.floor(s + 5e-4),
            "timestamp_ms": round(s * 1000) % 1000,
            "position_lat": a,
            "position_long": o,
            "enhanced_altitude": z,
        }
        for s, a, o, z in zip(t.tolist(), lat.tolist(), lon.tolist(), alt.tolist())
    ]
    names = ["timestamp", "timestamp_ms", "position_lat", "position_long", "enhanced_altitude"]
    return FitFile().table(rows, names, message=160, known=GPS).build()


WRITERS: dict[str, Callable[..., bytes]] = {
    "gpx": gpx,
    "fit": fit,
    "igc": igc,
    "nmea": nmea,
    "tcx": tcx,
    "csv": table,
}


def chunks(data: bytes, block: int = 1 << 16) -> Callable[[], Iterable[bytes]]:
    """``data`` as the readers take it."""
    return lambda: (data[i : i + block] for i in range(0, len(data), block))
