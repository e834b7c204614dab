"""Mutation fuzzer of what people give beside tracks: ``python tests/fuzz/given.py --seconds 60 --seed 1 [--only plan]``.

Plans, ``logbook.toml``, tables of corrections and of winds, weather reports and logbooks are spoilt at random, in their text or bytes and, of a
logbook, in single cells. Only AnalyserError may escape, each case has ten seconds and the process one gigabyte; a logbook that was accepted
holds every track afterwards and passes its check. What breaks a rule is written to a folder, and the exit code is 1.
"""

from __future__ import annotations

import argparse
import random
import resource
import shutil
import signal
import sqlite3
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from logbook_made import dump, run, twelve_tracks  # noqa: E402

from analyser.errors import AnalyserError  # noqa: E402
from analyser.logbook import Logbook  # noqa: E402
from analyser.logbook.check import check_logbook  # noqa: E402
from analyser.logbook.plans import Plans  # noqa: E402
from analyser.plan.ahead import plan_ahead  # noqa: E402
from analyser.season.summarise import summarise  # noqa: E402
from analyser.settings.template import TEMPLATE  # noqa: E402
from analyser.settings.toml import read_settings  # noqa: E402
from analyser.settings.winds import read_winds  # noqa: E402

CASE_S = 10
MEMORY = 1 << 30
PLANS = [p.read_bytes() for p in sorted((ROOT / "shared" / "plans").glob("*.toml"))]
LOGBOOKS = [
    b'note = "fine"\n[jumper]\nname = "Ines Marrow"\n[canopy]\nname = "Wide 230"\n[[jump]]\nfile = "0.gpx"\nhand = "left"\nlanding_deg = 90\n[[jump]]\ncontent = "0123abcd"\nexclude = "not mine"\n',
    b'[site]\ntarget = [49.7, -107.9]\n[[site.keep_out]]\nname = "hangar"\nbelow_ft = 300\npolygon = [[49.7, -107.9], [49.71, -107.9], [49.7, -107.91]]\n[[wind]]\nagl_m = 0\nspeed_kt = 5\nfrom_deg = 220\n',
]
TABLES = [
    b"file,jump,jumper,canopy,note\n0.gpx,1,Ines Marrow,Wide 230,fine\nmay/1.gpx,,,,\n",
    b"content;exclude;target\n0123abcd;not mine;49.7,-107.9\n",
]
WINDS = [
    b"agl_m,speed_mps,from_deg\n0,3,240\n300,5,250\n1000,6,260\n",
    b"agl_ft;speed_kt;from_deg;sd_kt\n0;5;240;1\n3000;15;260;2\n",
    b"METAR XXXX 141200Z 24008G15KT 9999 FEW030 18/09 Q1015=\n",
    b"FT  3000    6000    9000\nXXX 2410 2415+05 2520+01\n",
    b'{"schema": "crabline.debrief/1", "winds": [{"agl_m": 0, "east_mps": 1.0, "north_mps": 2.0, "status": "measured"}]}',
]
TOKENS = (
    b"[[wind]]\n", b"[site]\n", b"[[jump]]\n", b"[canopy]\n", b"=", b'"', b"'''", b"[", b"]", b"{", b"}", b",", b";", b"\n", b"\r", b"\0", b"\xff",
    b"nan", b"inf", b"-inf", b"1e999", b"-0.0", b"9" * 400, b"0x7f", b"1979-05-27T07:32:00Z", b"true", b"a.b.c", b"\xe2\x80\xae", b"#",
    b"../../etc/passwd", b"file", b"from_deg", b"speed_kt = ", b"target = [91, 181]\n", b"VRB", b"99", b"////", b"null",
)  # fmt: skip


def spoilt(r: random.Random, texts: list[bytes]) -> bytes:
    """One text with some mistakes in it."""
    data = bytearray(r.choice(texts))
    for _ in range(r.choice((1, 1, 2, 4))):
        at = r.randrange(len(data) + 1)
        match r.randrange(6):
            case 0:
                data[at:at] = r.choice(TOKENS)
            case 1:
                del data[at : at + r.randrange(1, 20)]
            case 2 if data:
                data[at % len(data)] = r.randrange(256)
            case 3:
                data[at:at] = data[r.randrange(len(data) + 1) :][: r.randrange(80)]
            case 4:
                lines = bytes(data).splitlines(keepends=True)
                r.shuffle(lines)
                data = bytearray(b"".join(lines))
            case _:
                data[at:at] = str(r.choice((-1, 0, 1)) * 10 ** r.randrange(-9, 12)).encode()
    return bytes(data)


def plan(r: random.Random, folder: Path) -> str:
    path = folder / "plan.toml"
    path.write_bytes(spoilt(r, [*PLANS, TEMPLATE.encode()]))
    settings = read_settings([path])
    try:
        plan_ahead(settings, None)
    except AnalyserError:
        return "read, no plan"
    return "planned"


def corrections(r: random.Random, folder: Path) -> str:
    (folder / "logbook.toml").write_bytes(spoilt(r, LOGBOOKS))
    (folder / "logbook.csv").write_bytes(spoilt(r, TABLES))
    plans = Plans()
    plans.check([folder])
    plans.assign(folder / "0.gpx", "0123abcd" * 8)
    return "read"


def winds(r: random.Random, folder: Path) -> str:
    path = folder / "winds.csv"
    path.write_bytes(spoilt(r, WINDS))
    read_winds(path, elevation_m=r.choice((None, 212.0)))
    return "read"


def logbook(r: random.Random, folder: Path) -> str:
    """A logbook whose bytes or cells were changed: refused and left as it is, or used, mended and whole."""
    top = folder / "season"
    shutil.copytree(MADE[0], top)
    book = top / "logbook.sqlite"
    if r.random() < 0.5:
        data = bytearray(book.read_bytes())
        for _ in range(r.choice((1, 3, 30))):
            data[r.randrange(len(data))] = r.randrange(256)
        book.write_bytes(data)
    else:
        with closing(sqlite3.connect(book)) as db, db:
            tables = [n for (n,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
            for _ in range(r.choice((1, 2, 5))):
                table = r.choice(tables)
                column = r.choice([row[1] for row in db.execute(f'PRAGMA table_info("{table}")')])
                value = r.choice((None, "text", -1, 1e308, 10**12, b"\xff\x00", "{}", "2031-13-40", ""))
                try:
                    db.execute(
                        f'UPDATE "{table}" SET "{column}" = ? WHERE rowid % 3 = {r.randrange(3)}', (value,)
                    )
                except sqlite3.Error:
                    continue
    before = book.read_bytes()
    try:
        run(top)
        run(top, retry=True)
    except AnalyserError:
        changed = book.read_bytes() != before
        return "refused, and changed" if changed else "refused, left as it was"
    found = check_logbook(book)
    assert not found.wrong, found.wrong
    with Logbook(book) as opened:
        summarise(opened)
        assert opened.count() == MADE[1], f"{opened.count()} jumps of {MADE[1]}"
    dump(book)
    return "used, whole afterwards"


KINDS: dict[str, Callable[[random.Random, Path], str]] = {
    "plan": plan,
    "corrections": corrections,
    "winds": winds,
    "logbook": logbook,
}
MADE: tuple[Path, int] = (Path(), 0)


def late(*_: object) -> None:
    raise TimeoutError(f"longer than {CASE_S} s")


def fuzz(seconds: float, seed: int, keep: Path, only: str = "") -> tuple[Counter[str], float]:
    """So many CPU seconds; counts by kind and outcome, and the slowest case."""
    global MADE
    r, counts, slowest = random.Random(seed), Counter[str](), 0.0
    names = [only] if only else list(KINDS)
    with tempfile.TemporaryDirectory() as made:
        top = twelve_tracks(Path(made) / "season")
        run(top)
        with Logbook(top / "logbook.sqlite") as book:
            MADE = (top, book.count())
        signal.signal(signal.SIGALRM, late)
        started = time.process_time()
        while time.process_time() - started < seconds:
            name, begun = r.choice(names), time.process_time()
            folder = Path(tempfile.mkdtemp(dir=keep))
            signal.alarm(6 * CASE_S)
            try:
                counts[f"{name}, {KINDS[name](r, folder)}"] += 1
            except AnalyserError as error:
                lines = str(error).count("\n") + 1
                counts[f"{name}, refused" if lines == 1 else f"BROKEN {name}, {lines} lines"] += 1
            except Exception as error:
                counts[f"BROKEN {name}, {type(error).__name__}"] += 1
                traceback.print_exc(limit=-3)
                folder = Path(tempfile.mkdtemp(dir=keep))  # what broke it stays
            finally:
                signal.alarm(0)
            slowest = max(slowest, time.process_time() - begun)
            shutil.rmtree(folder)
    return counts, slowest


def main() -> int:
    """Fuzz and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0, help="CPU seconds")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", choices=("", *KINDS))
    parser.add_argument("--keep", type=Path, default=None, help="folder for the cases that break a rule")
    given = parser.parse_args()
    keep = given.keep or Path(tempfile.mkdtemp(prefix="fuzz-"))
    keep.mkdir(parents=True, exist_ok=True)
    warnings.simplefilter("error")
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    counts, slowest = fuzz(given.seconds, given.seed, keep, given.only)
    for name, count in sorted(counts.items()):
        print(f"{count:8d}  {name}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{sum(counts.values()):8d}  cases; slowest {slowest:.2f} s; peak {peak:.0f} MB; broken cases in {keep}"
    )
    return int(any(name.startswith("BROKEN") for name in counts))


if __name__ == "__main__":
    raise SystemExit(main())
