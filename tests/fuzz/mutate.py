"""Mutation fuzzer of the readers: `python tests/fuzz/mutate.py --seconds 60 --seed 1 [--keep FOLDER]`.

Takes the sample tracks, the open files beside the repository and generated files, spoils them at random, reads each and
builds its track. Only AnalyserError may escape, each case has ten seconds of CPU and the process one gigabyte. What breaks a rule is
written to FOLDER (default: a temporary one), and the exit code is 1. SIGTERM ends a run early with its figures.
"""

from __future__ import annotations

import argparse
import gzip
import json
import random
import resource
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from fitfile import NAMES, FitFile, fall, good  # noqa: E402
from fix_cases import descent  # noqa: E402
from track_writers import WRITERS, igc, table  # noqa: E402

from analyser.debrief import debrief  # noqa: E402
from analyser.errors import AnalyserError  # noqa: E402
from analyser.importers.read import read, track_format  # noqa: E402
from analyser.report.documents.debrief import to_document  # noqa: E402
from analyser.settings import Settings  # noqa: E402
from analyser.track import build_track  # noqa: E402

CASE_S = 10
MEMORY = 1 << 30
TOKENS = (
    b"<trkpt", b"</trkpt>", b"<ele>", b"</ele>", b"<time>", b"<!--", b"-->", b"<![CDATA[", b"&#0;", b"&lt;", b"<!DOCTYPE x>", b'lat="', b'lon="-181"',
    b"NaN", b"1e999", b"-0", b"\xff\xfe", b"\xef\xbb\xbf", b"\0", b"Z", b"+99:99", b"T24:00:00", b"0001-01-01", b"9999-12-31T23:59:59.999999Z",
    b"HFDTE310299\n", b"B235959", b"I023699LAD3638LOD\n", b"$GPRMC,", b"$GPGGA,", b"*00", b",,,", b";", b'"', b"\r", b"lat,lon,time,altitude_ft\n",
    b"<trkseg>", b"</trkseg>", b"<extensions>", b"<speed>", b"1970-01-01T00:00:00Z", b'encoding="utf-16"', b"xmlns=", b"\x1f\x8b\x08",
)  # fmt: skip
EDGES = (0x00, 0x01, 0x0D, 0x1F, 0x20, 0x40, 0x60, 0x7F, 0x80, 0x9F, 0xC0, 0xE0, 0xFD, 0xFE, 0xFF)


def corpus() -> list[bytes]:
    """The unspoilt files, unpacked."""
    found = [
        p for folder in ("sample_tracks", "tests/data/regressions") for p in sorted((ROOT / folder).glob("*"))
    ]
    found += sorted((ROOT / "shared" / "real").glob("*.gpx.gz")) + sorted(
        (ROOT / "shared" / "real" / "fit").glob("*")
    )
    files = []
    for path in found:
        data = path.read_bytes() if path.is_file() and path.suffix not in (".json", ".md") else b""
        data = gzip.decompress(data) if data[:2] == b"\x1f\x8b" else data
        files += [data] if 0 < len(data) < 400_000 else []
    text = b'<?xml version="1.0"?><gpx version="1.1"><trk><name>a</name><trkseg>' + b"".join(
        b'<trkpt lat="47.%04d" lon="8.5"><ele>%d</ele><time>2026-05-01T10:00:%02dZ</time><speed>9</speed></trkpt>'
        % (i, 900 - i, i)
        for i in range(60)
    )
    compressed = FitFile().table(fall(20), NAMES).define(1, 20, [(0, 4, 0x85), (1, 4, 0x85)], [(0, 1, 0)])
    made = descent(0.5)
    for i in range(40):
        compressed.data(1, bytes(9), compressed_offset=i)
    return [
        *files,
        text + b"</trkseg></trk></gpx>",
        good(80),
        good(30, big_endian=True) + good(30),
        compressed.build(),
        *(write(made.t, made.lat, made.lon, made.alt) for write in WRITERS.values()),
        igc(made.t, made.lat, made.lon, made.alt, made.alt - 30.0),
        table(made.t, made.lat, made.lon, made.alt, "Time;Latitude;Longitude;Altitude (ft)").replace(
            b",", b";"
        ),
        table(made.t, made.lat, made.lon, made.alt, "utc,lat,lng,pressure_altitude_m"),
    ]


def flip(r: random.Random, data: bytearray, _: list[bytes]) -> None:
    for _i in range(r.choice((1, 1, 2, 8, 64))):
        data[r.randrange(len(data))] ^= 1 << r.randrange(8)


def edge(r: random.Random, data: bytearray, _: list[bytes]) -> None:
    for _i in range(r.choice((1, 1, 2, 8))):
        data[r.randrange(len(data))] = r.choice(EDGES)


def head(r: random.Random, data: bytearray, _: list[bytes]) -> None:
    data[r.randrange(min(len(data), 200))] = r.choice(EDGES)


def token(r: random.Random, data: bytearray, _: list[bytes]) -> None:
    at = r.randrange(len(data) + 1)
    data[at : at + r.choice((0, 0, 1, 4, 20))] = r.choice(TOKENS)


def digits(r: random.Random, data: bytearray, _: list[bytes]) -> None:
    for _i in range(r.choice((1, 4, 40))):
        at = r.randrange(len(data))
        if 48 <= data[at] < 58:
            data[at] = r.randrange(48, 58)


def cut(r: random.Random, data: bytearray, _: list[bytes]) -> None:
    del data[r.randrange(len(data)) :]


def drop(r: random.Random, data: bytearray, _: list[bytes]) -> None:
    at = r.randrange(len(data))
    del data[at : at + r.choice((1, 2, 3, 17, 300, 5000))]


def double(r: random.Random, data: bytearray, _: list[bytes]) -> None:
    at, size = r.randrange(len(data)), r.choice((1, 8, 120, 3000))
    data[at:at] = data[at : at + size] * r.choice((1, 1, 2, 30))


def move(r: random.Random, data: bytearray, _: list[bytes]) -> None:
    at, to, size = r.randrange(len(data)), r.randrange(len(data)), r.choice((20, 400, 8000))
    piece = data[at : at + size]
    del data[at : at + size]
    data[to:to] = piece


def splice(r: random.Random, data: bytearray, files: list[bytes]) -> None:
    other = r.choice(files)
    at = r.randrange(len(other))
    data[r.randrange(len(data)) :] = other[at : at + r.choice((50, 5000, 10**6))]


MUTATORS: tuple[Callable[[random.Random, bytearray, list[bytes]], None], ...] = (
    flip, edge, head, token, digits, cut, drop, double, move, splice,
)  # fmt: skip


def spoil(r: random.Random, files: list[bytes]) -> bytes:
    """One spoilt file."""
    data = bytearray(r.choice(files))
    for _ in range(r.choice((1, 1, 2, 3, 6))):
        if data:
            r.choice(MUTATORS)(r, data, files)
    if r.random() < 0.05:
        data = bytearray(gzip.compress(bytes(data), 1))
        if r.random() < 0.5:
            r.choice((flip, cut, drop))(r, data, files)
    return bytes(data)


def outcome(path: Path, whole: bool) -> str:
    """What reading the file and building its track, or the whole debrief, comes to."""
    try:
        if whole:
            found_whole = debrief(str(path), Settings())
            json.dumps(to_document(found_whole), allow_nan=False)
            return f"debriefed, {found_whole.phases.kind}"
        found = read(path)
        track = build_track(found)
    except AnalyserError as error:
        return f"refused, {type(error).__name__}"
    assert len(track) == len(found) > 0
    return f"read, {found.format}{', with notes' if found.notes else ''}"


def late(*_: object) -> None:
    raise TimeoutError(f"longer than {CASE_S} s")


def kind(data: bytes) -> str:
    """The format of an unspoilt file."""
    found = track_format(data[:4096]) or ""
    return ("tcx" if b"<TrainingCenter" in data[:4096] else "gpx") if found == "xml" else found


def run(seconds: float, seed: int, keep: Path, whole: bool, only: str = "") -> tuple[Counter[str], float]:
    """Fuzz for so many CPU seconds; counts by outcome and the slowest case."""
    r, counts, slowest = random.Random(seed), Counter(), 0.0
    files = [data for data in corpus() if only in ("", kind(data))]
    signal.signal(signal.SIGPROF, late)
    signal.signal(signal.SIGTERM, lambda *_: ended.append(True))
    ended: list[bool] = []
    path, started = keep / f"case-{seed}", time.process_time()
    while time.process_time() - started < seconds and not ended:
        data = spoil(r, files)
        path.write_bytes(data)
        begun = time.process_time()
        signal.setitimer(signal.ITIMER_PROF, CASE_S + 5)
        try:
            counts[outcome(path, whole)] += 1
        except Exception as error:
            counts[f"BROKEN, {type(error).__name__}"] += 1
            (keep / f"broken-{seed}-{sum(counts.values())}").write_bytes(data)
            traceback.print_exc(limit=-3)
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
        slowest = max(slowest, time.process_time() - begun)
    path.unlink()
    return counts, slowest


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=60.0, help="CPU seconds")
    parser.add_argument(
        "--only", default="", help="only files of this format: gpx, fit, igc, nmea, tcx or csv"
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, default=None, help="folder for the cases that break a rule")
    parser.add_argument(
        "--whole", action="store_true", help="the whole debrief and its JSON, not only the track"
    )
    given = parser.parse_args()
    keep = given.keep or Path(tempfile.mkdtemp(prefix="fuzz-"))
    keep.mkdir(parents=True, exist_ok=True)
    warnings.simplefilter("error")
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    counts, slowest = run(given.seconds, given.seed, keep, given.whole, given.only)
    for name, count in sorted(counts.items()):
        print(f"{count:8d}  {name}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{sum(counts.values()):8d}  cases; slowest {slowest:.2f} s; peak {peak:.0f} MB; broken cases in {keep}"
    )
    return int(any(name.startswith("BROKEN") for name in counts))


if __name__ == "__main__":
    raise SystemExit(main())
