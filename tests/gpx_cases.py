"""GPX documents and how the tests hand them to the reader."""

from __future__ import annotations

import numpy as np

from analyser.importers.gpx import read_gpx
from analyser.importers.raw import RawFixes

HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
NS11 = 'xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="http://example.org/x"'
BLOCK = 1 << 16


def parse(data: bytes | str, block: int = BLOCK) -> RawFixes:
    raw = data.encode() if isinstance(data, str) else data
    return read_gpx(lambda: (raw[i : i + block] for i in range(0, len(raw), block)))


def codes(raw: RawFixes) -> set[str]:
    return {n.code for n in raw.notes}


def point(i: int, inside: str = "", lat: str | None = None) -> str:
    lat = f"{47 + i * 1e-4:.6f}" if lat is None else lat
    return (
        f'<trkpt lat="{lat}" lon="8.5"><ele>{400 + i}</ele>'
        f"<time>2026-05-01T10:{i // 60 % 60:02d}:{i % 60:02d}Z</time>{inside}</trkpt>"
    )


def document(points: str, *, version: str = "1.1", namespace: str = NS11, head: str = HEAD) -> str:
    return f'{head}<gpx version="{version}" creator="test" {namespace}><trk><name>a</name><trkseg>{points}</trkseg></trk></gpx>'


PLAIN = "".join(point(i) for i in range(30))


def ours(raw: RawFixes) -> np.ndarray:
    return np.stack(
        [raw.time_s, raw.lat_deg, raw.lon_deg, raw.altitude_m, raw.speed_mps, raw.course_deg], axis=1
    )
