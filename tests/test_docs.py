"""The documents say what is true: blocks run, links lead somewhere, every command's example works."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from command import as_text, crabline
from console_blocks import Block, blocks, documents, run

from analyser.settings.toml import parse_settings

ROOT = Path(__file__).resolve().parent.parent
ALL = [*documents(), ROOT / "DEVELOPERS.md"]


def rounded_away(text: str) -> str:
    """Outputs are compared without digits: another processor may round the last one differently."""
    return re.sub(r"\s+", " ", re.sub(r"[▒█|]+", "", re.sub(r"[-+−]?\d+(\.\d+)?", "0", text)))


@pytest.mark.parametrize("block", list(blocks()), ids=lambda b: f"{b.document.name}: {b.command[:40]}")
def test_console_blocks_show_the_real_output(block: Block) -> None:
    now = run(block.command)
    assert rounded_away(now) == rounded_away(block.output), "refresh with: python tests/console_blocks.py"


def test_there_is_a_block_in_the_readme() -> None:
    assert any(b.document.name == "README.md" and b.output.strip() for b in blocks())


@pytest.mark.parametrize("document", ALL, ids=lambda p: p.name)
def test_links_lead_somewhere(document: Path) -> None:
    text = re.sub(r"```.*?```", "", document.read_text(encoding="utf-8"), flags=re.S)
    for target in re.findall(r"\]\(([^)#]+?)(?:#[^)]*)?\)", text):
        if "://" not in target:
            assert (document.parent / target).exists(), f"{document.name} links to {target}"


def test_the_plan_in_the_documents_is_a_plan() -> None:
    text = (ROOT / "docs" / "plans-and-sites.md").read_text(encoding="utf-8")
    for found in re.findall(r"```toml\n(.*?)```", text, re.S):
        assert parse_settings(found, "docs/plans-and-sites.md").site.name


@pytest.mark.parametrize("command", ["debrief", "plan", "season", "info", "sample"])
def test_the_examples_of_every_help_run_one_after_the_other_in_an_empty_folder(
    command: str, tmp_path: Path
) -> None:
    shown = as_text(crabline(command, "--help", cwd=tmp_path)).stdout
    examples = shown.split("Examples:\n")[1].split("crabline ")[1:]
    for example in examples[:-1] if command == "sample" else examples:  # the last of these makes a whole club
        done = as_text(crabline(*shlex.split(" ".join(example.split())), cwd=tmp_path))
        assert done.returncode == 0, done.stderr
