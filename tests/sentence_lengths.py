"""How long the sentences are that a reader meets: those of the reports and those of the docs.

``python tests/sentence_lengths.py`` prints, for each, how many sentences, the words of the one in the middle, and how many have more than
25. Words are counted as printed; tables, console blocks, code and headings are no sentences.
"""

from __future__ import annotations

import re
import statistics
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LONG = 25
LEAST = 3
END = re.compile(r"(?<=[.!?:;])\s+(?=[A-Z*`“(—±0-9])|\n\n+")
# One line in the docs holds one thought; what stands in tables or blocks of code is not read as a sentence.
BLOCK = re.compile(r"```[\s\S]*?```|<!--[\s\S]*?-->|^\s*\|.*$|^#+ .*$|^!\[.*$", re.MULTILINE)


def sentences(text: str) -> Iterator[str]:
    """The sentences of plain text, those of at least three words."""
    for part in END.split(text):
        if len(part.split()) >= LEAST:
            yield " ".join(part.split())


def of_markdown(text: str) -> Iterator[str]:
    """The sentences of a page of the docs."""
    plain = BLOCK.sub("\n\n", text)
    plain = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", plain)
    for item in re.split(r"\n\s*(?:[-*]|\d+\.)\s+|\n\n+", plain):
        yield from sentences(item)


def lines_of_story(story: object) -> Iterator[str]:
    """Every sentence of a story, metric."""
    from analyser.report.story.blocks import Aside, Line, Points, Story

    assert isinstance(story, Story)
    for _, text in story.brief:
        yield from sentences(text.text())
    for chapter in story.chapters:
        stack = list(chapter.blocks)
        while stack:
            block = stack.pop(0)
            if isinstance(block, Aside):
                stack = [*block.blocks, *stack]
            elif isinstance(block, Line):
                yield from sentences(block.text.text())
            elif isinstance(block, Points):
                for item in block.items:
                    yield from sentences(item.text())
        for picture in chapter.pictures:
            yield from sentences(picture.text)


def report() -> list[str]:
    """The sentences of the reports of the samples, each once."""
    from analyser.debrief import debrief_all
    from analyser.report.story.jump import tell_jump
    from analyser.report.story.two_jumps import tell_two_jumps
    from analyser.settings.toml import read_settings

    told: dict[str, None] = {}
    jumps = []
    for track in sorted((ROOT / "sample_tracks").glob("*")):
        plan = ROOT / "shared" / "plans" / f"{track.name.split('.')[0]}.toml"
        if track.suffix in (".gpx", ".fit"):
            jumps += debrief_all(track, read_settings([plan]) if plan.is_file() else None)
    for jump in jumps:
        told |= dict.fromkeys(lines_of_story(tell_jump(jump)))
    told |= dict.fromkeys(lines_of_story(tell_two_jumps(jumps[0], jumps[1])))
    return list(told)


def figures(found: list[str]) -> tuple[int, float, int]:
    """How many sentences, words of the one in the middle, how many long ones."""
    counts = [len(s.split()) for s in found]
    return len(counts), statistics.median(counts), sum(c > LONG for c in counts)


def main() -> None:
    """Print the table; with ``--long`` the long sentences too."""
    rows = {"reports": report()}
    for page in [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]:
        rows[page.name] = list(of_markdown(page.read_text(encoding="utf-8")))
    for name, found in ((n, f) for n, f in rows.items() if f):
        n, middle, long = figures(found)
        print(f"{name:24} {n:5} sentences, {middle:4.0f} words in the middle, {long} above {LONG}")
        if "--long" in sys.argv:
            for one in found:
                if len(one.split()) > LONG:
                    print(f"    {one}")


if __name__ == "__main__":
    main()
