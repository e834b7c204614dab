"""Put single mistakes into a copy of the package and see whether the tests of their part notice.

``python tests/mutants/run.py --sample 40 --seed 1``; ``--list`` only counts them. Exit code 1 where fewer than ``--least`` of a
hundred are noticed. Those that may live stand in ``may_live.txt``, a name and the reason a line, and are not drawn.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests")]

from mutants.mutations import Mutation, all_mutations  # noqa: E402

MAY_LIVE = Path(__file__).with_name("may_live.txt")
COPIED = ("analyser", "tests", "benchmarks", "sample_tracks", "shared", "docs")
LIMIT_S = 900.0


def may_live() -> dict[str, str]:
    """Name of a mutation → why no test has to notice it."""
    rows = (line.partition(" | ") for line in MAY_LIVE.read_text(encoding="utf-8").splitlines())
    return {name: reason for name, mark, reason in rows if mark}


def copied(folder: Path) -> Path:
    """A tree of its own, so that nothing is ever changed in this one; real measurements stay where they are."""
    top = folder / "tree"
    for name in COPIED:
        shutil.copytree(ROOT / name, top / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy(ROOT / name, top / name)
    if (ROOT.parent / "shared").is_dir():
        (folder / "shared").symlink_to(ROOT.parent / "shared")
    return top


def noticed(top: Path, mutation: Mutation) -> bool:
    """Whether a test of its part fails (or never ends) with the mistake in it."""
    file = top / mutation.path
    text = file.read_text(encoding="utf-8")
    file.write_text(mutation.applied(text), encoding="utf-8")
    environment = {
        **os.environ,
        "PYTHONPATH": str(top),
        "OPENBLAS_NUM_THREADS": "1",
        "PYTHONDONTWRITEBYTECODE": "1",
    }
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-x",
        "-p",
        "no:cacheprovider",
        "-m",
        "not slow and not browser",
    ]
    try:
        done = subprocess.run(
            [*command, *mutation.tests.split()],
            cwd=top,
            env=environment,
            capture_output=True,
            timeout=LIMIT_S,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return True
    finally:
        file.write_text(text, encoding="utf-8")
    return done.returncode == 1 or b"Error" in done.stdout


def main() -> int:
    """Draw, try, count."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sample", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--least", type=float, default=0.0, help="of a hundred")
    parser.add_argument("--part", default="", help="only mutations whose path begins so")
    parser.add_argument("--list", action="store_true")
    given = parser.parse_args()
    known = may_live()
    found = [m for m in all_mutations(ROOT) if m.name not in known and m.path.startswith(given.part)]
    print(f"{len(found)} mutations, {len(known)} more that may live")
    if given.list:
        return 0
    drawn = random.Random(given.seed).sample(found, min(given.sample, len(found)))
    died = 0
    with tempfile.TemporaryDirectory() as folder:
        top = copied(Path(folder))
        for mutation in drawn:
            dies = noticed(top, mutation)
            died += dies
            print(f"{'noticed' if dies else 'LIVES  '}  {mutation.name}", flush=True)
    share = 100.0 * died / max(len(drawn), 1)
    print(f"{died} of {len(drawn)} noticed ({share:.0f} %)")
    return int(share < given.least)


if __name__ == "__main__":
    raise SystemExit(main())
