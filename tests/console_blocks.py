"""Console blocks of the documents: ``$ command`` and its real output. ``python tests/console_blocks.py`` writes them anew."""

from __future__ import annotations

import re
import shlex
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from command import as_text, crabline

ROOT = Path(__file__).resolve().parent.parent
BLOCK = re.compile(r"```console\n\$ (.*?)\n(.*?)```", re.S)


class Block(NamedTuple):
    """One block: the document, the command, the output that stands there."""

    document: Path
    command: str
    output: str


def documents() -> list[Path]:
    """Every document that may hold blocks."""
    return [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]


def blocks() -> Iterator[Block]:
    """Every console block of every document."""
    for document in documents():
        for found in BLOCK.finditer(document.read_text(encoding="utf-8")):
            yield Block(document, found[1], found[2])


def run(command: str) -> str:
    """The output of a ``crabline`` command, run at the root of the project; its ``out/`` is a temporary folder."""
    words = shlex.split(command)
    if words[0] != "crabline":
        raise ValueError(f"not a crabline command: {command}")
    with tempfile.TemporaryDirectory() as folder:
        words = [w.replace("out/", f"{folder}/") if w.startswith("out/") else w for w in words[1:]]
        done = as_text(crabline(*words, cwd=ROOT, COLUMNS="80", NO_COLOR="1"))
        if done.returncode:
            raise RuntimeError(done.stderr)
        return done.stdout.replace(f"{folder}/", "out/")


def write() -> None:
    """Put the present output into every block."""
    for document in documents():
        text = document.read_text(encoding="utf-8")
        document.write_text(
            BLOCK.sub(lambda m: f"```console\n$ {m[1]}\n{run(m[1])}```", text), encoding="utf-8"
        )


if __name__ == "__main__":
    write()
