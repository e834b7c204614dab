"""Files of 20 MB made to be slow or fat: `python tests/fuzz/hostile.py [NAME…]` prints what each comes to, in what time and memory.

Each is written to a temporary folder and debriefed to its JSON in a process of its own with one gigabyte of memory at most. Exit code 1 where one takes longer
than ten seconds, more memory, or ends in anything but a recording or an AnalyserError.
"""

from __future__ import annotations

import gzip
import math
import os
import random
import struct
import subprocess
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from fitfile import EPOCH, FitFile  # noqa: E402

SIZE = 20_000_000
SECONDS = 10.0
CHILD = """
import json, resource, sys, time
resource.setrlimit(resource.RLIMIT_AS, (1 << 30, 1 << 30))
from analyser.errors import AnalyserError
from analyser.debrief import debrief_recording
from analyser.importers.read import read
from analyser.report.documents.debrief import to_document
begun = time.process_time()
try:
    found = read(sys.argv[1])
    what = f"{len(found)} fixes ({', '.join(n.code for n in found.notes) or 'no notes'})"
    whole = debrief_recording(found)
    json.dumps(to_document(whole), allow_nan=False)
    what += f"; {whole.phases.kind}"
except AnalyserError as error:
    what = f"refused: {error.what}"
peak = next(int(row.split()[1]) for row in open("/proc/self/status") if row.startswith("VmHWM"))
print(f"{time.process_time() - begun:.2f}|{peak / 1024:.0f}|{what}")
"""


def filled(piece: str | bytes, size: int = SIZE) -> bytes:
    data = piece.encode() if isinstance(piece, str) else piece
    return data * (size // len(data))


def gpx(inside: bytes | str, head: str = '<?xml version="1.0"?>') -> bytes:
    data = inside.encode() if isinstance(inside, str) else inside
    return head.encode() + b"<gpx><trk><trkseg>" + data + b"</trkseg></trk></gpx>"


def points(
    times: Callable[[int], float], count: int = 180_000, place: Callable[[int], float] = lambda i: i * 1e-7
) -> bytes:
    def row(i: int) -> str:
        when = datetime.fromtimestamp(1_780_000_000 + times(i), UTC).isoformat()
        return f'<trkpt lat="{47 + place(i):.7f}" lon="8.5"><ele>{400 + i % 900}</ele><time>{when}</time></trkpt>'

    return gpx("".join(row(i) for i in range(count)))


def fit(body: bytes) -> bytes:
    return struct.pack("<BBHI4s", 12, 0x20, 2158, len(body), b".FIT") + body + b"\0\0"


def fit_of(
    fields: list[tuple[int, int, int]],
    record: bytes,
    message: int = 20,
    developer: list[tuple[int, int, int]] | None = None,
) -> bytes:
    return fit(bytes(FitFile().define(0, message, fields, developer).body) + filled(b"\0" + record))


def fit_fixes(count: int, step: int, height: Callable[[int], int] = lambda i: 4500 + i % 9000) -> bytes:
    """Fixes a metre apart; ``height`` of each in fifths of a metre above -500 m."""
    layout = bytes(FitFile().define(0, 20, [(253, 4, 0x86), (0, 4, 0x85), (1, 4, 0x85), (78, 4, 0x86)]).body)
    rows = (
        struct.pack(
            "<BIiiI", 0, 1_780_000_000 - EPOCH + i * step, 560_000_000 + i, 95_000_000 + 134 * i, height(i)
        )
        for i in range(count)
    )
    return fit(layout + b"".join(rows))


def definitions() -> bytes:
    one = [bytes(FitFile().define(0, i % 65536, [(i % 251, 1, 2)]).body) for i in range(70_000)]
    return fit(filled(b"".join(one)))


def ten_hours() -> bytes:
    """A canopy that circles down from 29 km at 0.8 m/s, five fixes a second, and rests."""

    def row(i: int) -> str:
        t = min(i, 175_000) / 5.0
        lat, lon = 47.0 + 5e-7 * t + 9e-4 * math.cos(t / 10.0), 8.5 + 1.3e-3 * math.sin(t / 10.0)
        when = datetime.fromtimestamp(1_780_000_000 + i / 5.0, UTC).isoformat()
        return f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><ele>{29_000 - 0.8 * t:.1f}</ele><time>{when}</time></trkpt>'

    return gpx("".join(row(i) for i in range(180_000)))


def shuffled() -> bytes:
    order = list(range(180_000))
    random.Random(1).shuffle(order)
    return points(lambda i: order[i])


PLACE = [(253, 4, 0x86), (0, 4, 0x85), (1, 4, 0x85), (78, 4, 0x86)]
TINY = struct.pack("<BBHI4s", 12, 0x20, 2158, 1, b".FIT") + b"\x40\0\0"
FILES: dict[str, Callable[[], bytes]] = {
    "GPX, empty elements": lambda: gpx(filled("<a/>")),
    "GPX, empty points": lambda: gpx(filled("<trkpt/>")),
    "GPX, elements within a point": lambda: gpx(b'<trkpt lat="1" lon="2">' + filled("<ele/>") + b"</trkpt>"),
    "GPX, open elements": lambda: gpx(filled("<a>")),
    "GPX, one attribute": lambda: gpx(b'<trkpt lat="' + filled("4") + b'"/>'),
    "GPX, many attributes": lambda: gpx(b"<a " + b" ".join(b'a%d=""' % i for i in range(1_500_000)) + b"/>"),
    "GPX, elements of a hundred attributes": lambda: gpx(filled("<a " + " ".join(f'a{i}=""' for i in range(100)) + "/>")),
    "GPX, namespaces": lambda: gpx(filled('<a xmlns="x" xmlns:b="y"/>')),
    "GPX, element names": lambda: gpx(b"".join(b"<a%d/>" % i for i in range(1_800_000))),
    "GPX, comment": lambda: gpx(b"<!--" + filled(" xmlns=") + b"-->"),
    "GPX, processing instruction": lambda: gpx(b"<?a " + filled("b") + b"?>"),
    "GPX, character data": lambda: gpx(b"<name>" + filled("Ton ") + b"</name>"),
    "GPX, character data of a height": lambda: gpx(b'<trkpt lat="1" lon="2"><ele>' + filled("4") + b"</ele></trkpt>"),
    "GPX, character references": lambda: gpx(b'<trkpt lat="1" lon="2"><ele>' + filled("&#52;") + b"</ele></trkpt>"),
    "GPX, blanks": lambda: gpx(filled(" \n")),
    "GPX, one line without markup": lambda: b"<gpx " + filled("a"),
    "GPX, UTF-16 points": lambda: points(float, 80_000).decode().encode("utf-16"),
    "GPX, points in order": lambda: points(float),
    "GPX, points in reverse": lambda: points(lambda i: -i),
    "GPX, points in disorder": shuffled,
    "GPX, points of one time": lambda: points(lambda i: 0),
    "GPX, points in pairs of one time": lambda: points(lambda i: i // 2),
    "GPX, a clock that leaps at each fix": lambda: points(lambda i: i + 50_000 * (i % 2)),
    "GPX, points at thousandths of a second": lambda: points(lambda i: i / 1000),
    "GPX, points that leap": lambda: points(float, place=lambda i: 40 * (i % 2)),
    "GPX, points of one place": lambda: points(float, place=lambda i: 0.0),
    "GPX, ten hours of canopy flight": ten_hours,
    "FIT, empty messages": lambda: fit_of([], b""),
    "FIT, messages without a wanted field": lambda: fit_of([(9, 1, 2)], b"\1"),
    "FIT, definitions": definitions,
    "FIT, 255 fields": lambda: fit_of([(i, 1, 2) for i in range(255)], bytes(255)),
    "FIT, developer fields": lambda: fit_of(PLACE, bytes(16 + 510), developer=[(i, 2, 0) for i in range(255)]),
    "FIT, fixes in order": lambda: fit_fixes(1_150_000, 1),
    "FIT, fixes in reverse": lambda: fit_fixes(1_150_000, -1),
    "FIT, fixes of one time": lambda: fit_fixes(1_150_000, 0),
    "FIT, up and down without end": lambda: fit_fixes(1_150_000, 1, lambda i: 4500 + 1000 * (i // 2 % 2)),
    "FIT, a thousand flights": lambda: fit_fixes(1_150_000, 1, lambda i: 4500 + 5 * abs(i % 1160 - 580)),
    "FIT, falls without end": lambda: fit_fixes(1_150_000, 1, lambda i: 6000 + 100 * max(3 - i % 10, 0)),
    "FIT, two weeks of sinking": lambda: fit_fixes(1_150_000, 1, lambda i: 150_000 - i // 8),
    "FIT, hours of turning at one height": lambda: fit_fixes(1_150_000, 1, lambda i: 3500 + i % 7),
    "FIT, compressed stamps": lambda: fit(bytes(FitFile().define(0, 20, PLACE[1:3]).body) + filled(b"\x81" + bytes(8))),
    "FIT, chained": lambda: filled(TINY),
    "FIT, zeros": lambda: fit(filled(b"\0")),
    "FIT, random": lambda: fit(random.Random(2).randbytes(SIZE)),
    "TCX, points within a point": lambda: b"<TrainingCenterDatabase>" + filled("<Trackpoint><Time/>"),
    "TCX, points": lambda: tcx_points(),
    "IGC, fixes": lambda: igc_fixes(lambda i: i),
    "IGC, fixes of one time": lambda: igc_fixes(lambda i: 0),
    "IGC, a day at each fix": lambda: igc_fixes(lambda i: i % 2 * 86399),
    "IGC, announced additions": lambda: b"AXXX001\nHFDTE010526\n" + ONE_FIX + filled("I" + "01" + "3637LAD" * 9 + "\n"),
    "IGC, dates": lambda: b"AXXX001\n" + filled(b"HFDTE010526\nHFDTE020526\n" + ONE_FIX),
    "IGC, one line": lambda: b"AXXX001\nHFDTE010526\n" + ONE_FIX + filled("B1"),
    "IGC, broken lines": lambda: b"HFDTE010526\n" + ONE_FIX + filled("B\n"),
    "NMEA, fixes": lambda: nmea_fixes(lambda i: i),
    "NMEA, fixes of one time": lambda: nmea_fixes(lambda i: 0),
    "NMEA, without a checksum": lambda: RMC_LINE + filled("$GPRMC,1,A,,,,,,,,*\n"),
    "NMEA, dollars": lambda: RMC_LINE + filled("$" * 90_000 + "\n"),
    "NMEA, commas": lambda: RMC_LINE + filled("$GPGGA," + "," * 90_000 + "\n"),
    "NMEA, wrong checksums": lambda: RMC_LINE + filled("$GPVTG,1*00"  + "\n"),
    "table, rows": lambda: table_rows(20),
    "table, rows of one time": lambda: table_rows(0),
    "table, quotes": lambda: b"time,lat,lon,altitude_m\n" + filled('"' + "a" * 90_000 + "\n"),
    "table, many columns": lambda: b"time,lat,lon,altitude_m" + b",a" * 1900 + b"\n" + filled(b"1" + b",1" * 1903 + b"\n"),
    "table, empty lines": lambda: b"time,lat,lon,altitude_m\n" + filled("\n"),
    "table, comments": lambda: filled("#\n") + b"time,lat,lon,altitude_m\n",
    "table, only commas": lambda: b"time,lat,lon,altitude_m\n" + filled(",,,\n"),
    "gzip, bomb": lambda: gzip.compress(b"<gpx>" + bytes(1_000_000_000), 9),
    "gzip, members without content": lambda: filled(gzip.compress(b"")),
    "gzip, a member of blanks each": lambda: filled(gzip.compress(b"<gpx>" + b" " * 400)),
    "gzip, points": lambda: gzip.compress(points(lambda i: i / 5, 440_000), 1),
    "random": lambda: random.Random(3).randbytes(SIZE),
}  # fmt: skip


ONE_FIX = b"B1000004700000N00800000EA0040000450\n"
RMC_LINE = b"$GPRMC,100000,A,4700.00,N,00800.00,E,1,2,010526,,\n"


def igc_fixes(second: Callable[[int], int]) -> bytes:
    rows = (
        b"B%02d%02d%02d47%05dN00800000EA%05d00450\n"
        % (s // 3600 % 24, s // 60 % 60, s % 60, i % 60000, 4000 - i % 3900)
        for i, s in ((i, second(i)) for i in range(SIZE // 36))
    )
    return b"AXXX001\nHFDTE010526\n" + b"".join(rows)


def nmea_fixes(second: Callable[[int], int]) -> bytes:
    rows = (
        b"$GPRMC,%02d%02d%02d,A,47%06.3f,N,00800.00,E,1,2,010526,,\n$GPGGA,%02d%02d%02d,,,,,1,,,%d,M,,M,,\n"
        % (*clock, i % 60000 / 1000, *clock, 4000 - i % 3900)
        for i in range(SIZE // 89)
        for clock in [(second(i) // 3600 % 24, second(i) // 60 % 60, second(i) % 60)]
    )
    return b"".join(rows)


def tcx_points() -> bytes:
    rows = (
        b"<Trackpoint><Time>2026-05-01T%02d:%02d:%02dZ</Time><Position><LatitudeDegrees>47.%05d</LatitudeDegrees><LongitudeDegrees>8</LongitudeDegrees></Position><AltitudeMeters>%d</AltitudeMeters></Trackpoint>"
        % (i // 3600 % 24, i // 60 % 60, i % 60, i % 100_000, 4000 - i % 3900)
        for i in range(SIZE // 195)
    )
    return b"<TrainingCenterDatabase>" + b"".join(rows) + b"</TrainingCenterDatabase>"


def table_rows(step: int) -> bytes:
    rows = (
        b"%d,47.%05d,8,%d\n" % (1_780_000_000_00 + i * step, i % 100_000, 4000 - i % 3900)
        for i in range(SIZE // 29)
    )
    return b"time_ms,lat,lon,altitude_m\n" + b"".join(rows)


def tried(path: Path) -> tuple[float, float, str]:
    """CPU seconds and megabytes of reading and debriefing a file, infinite where it broke, and what it came to."""
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(path)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
    )
    if not done.stdout:
        return math.inf, math.inf, ["", *done.stderr.strip().splitlines()][-1]
    seconds, megabytes, what = done.stdout.strip().split("|", 2)
    return float(seconds), float(megabytes), what


def main() -> int:
    failed = 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "hostile"
        for name in sys.argv[1:] or FILES:
            path.write_bytes(FILES[name]())
            seconds, megabytes, what = tried(path)
            bad = seconds > SECONDS or megabytes > 1000.0
            failed += bad
            print(
                f"| {name} | {path.stat().st_size / 1e6:.1f} | {seconds} | {megabytes:.0f} | {what} |{'  <-- TOO MUCH' if bad else ''}",
                flush=True,
            )
    return int(failed > 0)


if __name__ == "__main__":
    raise SystemExit(main())
