"""The manual page: what the help says, typeset without a complaint, and in the wheel where ``man`` looks."""

from __future__ import annotations

import shutil
import subprocess
import tomllib
from pathlib import Path

from manual import PAGE, manual

from analyser.cli.app import COMMANDS

ROOT = Path(__file__).resolve().parents[2]


def test_the_manual_page_says_what_the_help_says() -> None:
    """``python tests/manual.py`` writes it anew."""
    text = PAGE.read_text(encoding="utf-8")
    assert text == manual()
    for command in COMMANDS:
        assert f".SS crabline {command} " in text
    for option in ("\\-\\-target LAT,LON", "\\-\\-winds\\-csv FILE", "\\-\\-forget", "CRABLINE_PLAN"):
        assert option in text
    assert text.isascii()


def test_the_wheel_puts_it_where_man_looks() -> None:
    build = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["hatch"]["build"]
    assert build["targets"]["wheel"]["shared-data"] == {"docs/crabline.1": "share/man/man1/crabline.1"}


def test_it_is_typeset_without_a_complaint() -> None:
    lines = PAGE.read_text(encoding="utf-8").splitlines()
    known = {".TH", ".SH", ".SS", ".PP", ".TP", ".B", ".I", ".nf", ".fi"}  # man(7)
    assert {line.split()[0] for line in lines if line.startswith(".")} == known
    assert not [line for line in lines if line.startswith("'")]
    groff = shutil.which("groff")
    if groff is None:  # the rest wants the typesetter
        return
    done = subprocess.run([groff, "-man", "-Tascii", "-ww", str(PAGE)], capture_output=True, text=True)
    assert done.returncode == 0
    assert done.stderr == ""
    assert "not for use in the air" in " ".join(done.stdout.split())
