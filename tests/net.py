"""The net under every move of code: all documents, texts and pages of the samples and the real glides, compared byte for byte.

``python -m tests.net write FOLDER`` runs the ``crabline`` command over them under several settings and keeps what it writes.
``python -m tests.net compare A B`` lists the differences of two such folders by kind; A or B may be a revision of this project
(``HEAD~1``) or ``now``, which are written first, both from the inputs of this checkout. Exit code 1 where anything differs.
"""

from __future__ import annotations

import argparse
import contextlib
import difflib
import functools
import gzip
import io
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections import defaultdict
from collections.abc import Callable, Iterator
from importlib import import_module
from pathlib import Path
from typing import Any, NamedTuple

ROOT = Path(__file__).resolve().parent.parent
REAL = ROOT / "shared" / "real"
UNITS = ("us", "uk", "nordic", "metric")
TARGET = "49.7215,-107.9342"
SHOWN = 12
UNTOLD = {".sqlite", ".js"}


class Run(NamedTuple):
    """One call of the command: the name its outputs go by, and its words."""

    name: str
    words: tuple[str, ...]


def lay_out(folder: Path) -> None:
    """The inputs, under names that say nothing of this machine."""
    for name in ("tracks", "plans", "real", "season"):
        (folder / name).mkdir(parents=True)
    for path in sorted((ROOT / "sample_tracks").iterdir()):
        if path.suffix in (".gpx", ".fit"):
            shutil.copy(path, folder / "tracks")
            shutil.copy(path, folder / "season")
    for path in (ROOT / "shared" / "plans").glob("*.toml"):
        shutil.copy(path, folder / "plans")
    for path in [*REAL.glob("paraglider_glide_*.gpx.gz"), *REAL.glob("fit/*.fit")]:
        shutil.copy(path, folder / "real")
    broken = gzip.compress(b"<gpx><trk>")
    (folder / "season" / "broken.gpx").write_bytes(broken)


def runs() -> Iterator[Run]:
    """Every call, with paths as they stand in the laid-out folder."""
    for track in sorted(Path("tracks").iterdir()):
        yield from of_sample(track)
    for track in sorted(Path("real").iterdir()):
        stem = track.name.split(".")[0]
        yield Run(f"real/{stem}", ("debrief", str(track)))
        yield Run(f"real/{stem}.file", ("debrief", str(track), "--json", f"{{out}}/real/{stem}.json"))
        yield Run(f"real/{stem}.info", ("info", str(track)))
    yield from of_two_jumps()
    yield from of_plans()
    yield from of_season()


def of_sample(track: Path) -> Iterator[Run]:
    """Bare, with a target, with a plan in four systems of units with all files; what is asked first; info."""
    stem, call = track.stem, ("debrief", str(track))
    out = f"{{out}}/{stem}"
    yield Run(f"{stem}/bare", (*call, "--json", f"{out}/bare.json"))
    yield Run(f"{stem}/target", (*call, "--target", TARGET, "--json", f"{out}/target.json"))
    plan = ("--plan", f"plans/{stem}.toml")
    files = ("json", "gpx", "geojson", "winds-csv", "samples-csv")
    wanted = [word for kind in files for word in (f"--{kind}", f"{out}/plan.{kind}")]
    yield Run(f"{stem}/plan", (*call, *plan, *wanted))
    for units in UNITS:
        page = (
            ("--html", f"{out}/plan-{units}.html", "--assets", "{out}/assets")
            if units in ("us", "metric")
            else ()
        )
        yield Run(f"{stem}/plan-{units}", (*call, *plan, "--units", units, *page))
    asked = ("--recollect", "--html", f"{out}/recollect.html", "--assets", "{out}/assets")
    yield Run(f"{stem}/recollect", (*call, *plan, *asked))
    yield Run(f"{stem}/fixed", (*call, "--plan", "plans/quillmere_fixed.toml"))
    yield Run(f"{stem}/info", ("info", str(track), "--json", f"{out}/info.json"))


def of_two_jumps() -> Iterator[Run]:
    """The first jump of the day, and two jumps beside each other."""
    plan = ("--plan", "plans/two_jumps.toml")
    day = "tracks/two_jumps.gpx"
    yield Run("two/first", ("debrief", day, "--jump", "1", *plan, "--json", "{out}/two/first.json"))
    yield Run("two/none", ("debrief", day, "--jump", "3"))
    for units in ("us", "metric"):
        files = ("--html", f"{{out}}/two/{units}.html", "--assets", "{out}/assets")
        pair = ("tracks/first_light.gpx", "tracks/late_final.gpx")
        plan = ("--plan", "plans/first_light.toml")
        yield Run(f"two/{units}", ("debrief", *pair, *plan, "--units", units, *files))


def of_plans() -> Iterator[Run]:
    """Every plan alone; one in the winds of a debrief."""
    for path in sorted(Path("plans").iterdir()):
        stem, out = path.stem, f"{{out}}/plans/{path.stem}"
        call = ("plan", "--plan", str(path), "--hand", "both")
        files = [word for kind in ("json", "gpx", "geojson") for word in (f"--{kind}", f"{out}.{kind}")]
        yield Run(f"plans/{stem}", (*call, *files))
        for units in ("us", "metric"):
            page = ("--html", f"{out}-{units}.html", "--assets", "{out}/assets")
            yield Run(f"plans/{stem}-{units}", (*call, "--units", units, *page))
    winds = ("--winds", "{out}/first_light/plan.json")
    plan = ("plan", "--plan", "plans/quillmere.toml", *winds)
    yield Run("plans/in_winds", (*plan, "--json", "{out}/plans/in_winds.json"))


def of_season() -> Iterator[Run]:
    """A small season, open and without names."""
    call = ("season", "season", "--plan", "plans/quillmere.toml", "--logbook", "{out}/season/book.sqlite")
    for private in ((), ("--private",)):
        out = f"{{out}}/season/{'private' if private else 'open'}"
        files = [word for kind in ("json", "csv", "html", "coach") for word in (f"--{kind}", f"{out}.{kind}")]
        yield Run(
            f"season/{'private' if private else 'open'}",
            (*call, *private, "--jobs", "1", *files, "--assets", "{out}/assets"),
        )
    yield Run("season/us", (*call, "--units", "us"))


def remember_debriefs() -> None:
    """A jump told in four systems of units is debriefed once. Must come before the command loads."""
    composer: Any = import_module("analyser.debrief")  # the package gives the function of that name
    once: dict[str, Any] = {}
    plain = composer.debrief

    @functools.wraps(plain)
    def debrief(path: Any, settings: Any = None, **options: Any) -> Any:
        key = repr((str(path), settings, sorted(options.items())))
        if key not in once:
            once[key] = plain(path, settings, **options)
        return once[key]

    composer.debrief = debrief


def write(folder: Path) -> None:
    """Run every call with the ``analyser`` that Python finds, and keep what it prints and writes."""
    os.environ.update(COLUMNS="100", NO_COLOR="1", OPENBLAS_NUM_THREADS="1")
    remember_debriefs()
    from analyser.cli import main

    with tempfile.TemporaryDirectory() as scratch:
        top = Path(scratch).resolve()
        lay_out(top / "in")
        with contextlib.chdir(top / "in"):
            for run in runs():
                (top / "out" / run.name).parent.mkdir(parents=True, exist_ok=True)
                words = [word.replace("{out}", "../out") for word in run.words]
                (top / "out" / f"{run.name}.txt").write_text(said_by(main, words), encoding="utf-8")
        nameless = "/" + "x" * (len(str(top)) - 1)  # as long, so that lines break where they broke
        for path in (top / "out").rglob("*"):
            if path.is_file() and path.suffix not in UNTOLD:
                kept = folder / path.relative_to(top / "out")
                kept.parent.mkdir(parents=True, exist_ok=True)
                text = path.read_bytes().replace(str(top).encode(), nameless.encode())
                kept.write_bytes(text)


def said_by(main: Callable[[], None], words: list[str]) -> str:
    """What one call prints on stdout, then on stderr, and its exit code."""
    stdout, stderr, code = io.StringIO(), io.StringIO(), 0
    sys.argv = ["crabline", *words]
    with contextlib.redirect_stdout(stdout), contextlib.redirect_stderr(stderr):
        try:
            main()
        except SystemExit as leave:
            code = int(leave.code or 0)
    return f"{stdout.getvalue()}--- stderr\n{stderr.getvalue()}--- exit {code}\n"


def written(what: str, scratch: Path) -> Path:
    """The folder named by ``what``: one that stands, or a revision (or ``now``) written into ``scratch``."""
    if Path(what).is_dir():
        return Path(what)
    folder, tree = scratch / f"written {len(list(scratch.iterdir()))}", ROOT
    if what != "now":
        tree = scratch / f"tree {what.replace('/', ' ')}"
        subprocess.run(
            ["git", "worktree", "add", "--quiet", "--detach", str(tree), what], cwd=ROOT, check=True
        )
    try:
        subprocess.run(
            [sys.executable, __file__, "write", str(folder)],
            check=True,
            env={**os.environ, "PYTHONPATH": str(tree)},
        )
    finally:
        if tree != ROOT:
            subprocess.run(["git", "worktree", "remove", "--force", str(tree)], cwd=ROOT, check=True)
    return folder


def compare(a: Path, b: Path) -> dict[str, list[str]]:
    """Every difference of two folders, by kind."""
    found: dict[str, list[str]] = defaultdict(list)
    names = {
        str(p.relative_to(top))
        for top in (a, b)
        for p in top.rglob("*")
        if p.is_file() and p.suffix not in UNTOLD
    }
    for name in sorted(names):
        here, there = a / name, b / name
        if not (here.is_file() and there.is_file()):
            found["only in one"].append(f"{name}: only in {'the first' if here.is_file() else 'the second'}")
        elif here.read_bytes() != there.read_bytes():
            old, new = (p.read_text(encoding="utf-8") for p in (here, there))
            differ = json_differences if name.endswith("json") else text_differences
            for kind, line in differ(old, new):
                found[f"{here.suffix.lstrip('.')} {kind}".strip()].append(f"{name}: {line}")
    return found


def json_differences(old: str, new: str) -> Iterator[tuple[str, str]]:
    """(path of the key without its numbers, what changed) for every value that differs."""
    a, b = (dict(leaves(json.loads(text))) for text in (old, new))
    for key in [*a, *(k for k in b if k not in a)]:
        was, now = a.get(key, "absent"), b.get(key, "absent")
        if repr(was) != repr(now):
            yield re.sub(r"\[\d+\]", "[]", key), f"{key}: {was!r} -> {now!r}"
    if a == b:
        yield "layout", "same values, another layout or order"


def leaves(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Every plain value of a document with the path to it."""
    if isinstance(value, dict) and value:
        for key, inner in value.items():
            yield from leaves(inner, f"{path}.{key}".lstrip("."))
    elif isinstance(value, list) and value:
        for i, inner in enumerate(value):
            yield from leaves(inner, f"{path}[{i}]")
    else:
        yield path, value


def text_differences(old: str, new: str) -> Iterator[tuple[str, str]]:
    """The lines that differ; of a page, whose lines are long, its pieces between tags."""
    rows = [re.split(r"\n|(?<=>)(?=<)|(?<=[,;}])(?=[\"{])", text) for text in (old, new)]
    for line in difflib.unified_diff(*rows, lineterm="", n=0):
        if not line.startswith(("---", "+++", "@@")):
            yield "", line[:300]


def main() -> int:
    """Write, or compare and tell."""
    parser = argparse.ArgumentParser(prog="python -m tests.net", description=__doc__)
    actions = parser.add_subparsers(dest="action", required=True)
    actions.add_parser("write").add_argument("folder", type=Path)
    comparing = actions.add_parser("compare")
    comparing.add_argument("a")
    comparing.add_argument("b", nargs="?", default="now")
    comparing.add_argument("--all", action="store_true", help="every difference, not the first of each kind")
    words = parser.parse_args()
    if words.action == "write":
        write(words.folder)
        return 0
    with tempfile.TemporaryDirectory() as scratch:
        found = compare(*(written(what, Path(scratch)) for what in (words.a, words.b)))
    for kind, rows in sorted(found.items()):
        print(f"{kind}: {len(rows)} differences")
        for row in rows if words.all else rows[:SHOWN]:
            print(f"  {row}")
    print("no difference" if not found else f"{sum(map(len, found.values()))} differences in all")
    return 1 if found else 0


if __name__ == "__main__":
    raise SystemExit(main())
