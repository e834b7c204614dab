"""The documentation builds without a warning, with a reference of every public name and every command."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from analyser import api
from analyser.cli.app import COMMANDS

ROOT = Path(__file__).resolve().parent.parent


@pytest.mark.slow
def test_the_documentation_builds(tmp_path: Path) -> None:
    pytest.importorskip("sphinx")
    pytest.importorskip("myst_parser")
    words = ["-W", "--keep-going", "-q", "-b", "html", "-d", str(tmp_path / "trees"), str(ROOT / "docs")]
    done = subprocess.run(
        [sys.executable, "-m", "sphinx", *words, str(tmp_path / "html")],
        capture_output=True,
        text=True,
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr
    reference = (tmp_path / "html" / "made" / "reference.html").read_text(encoding="utf-8")
    assert not {
        name for name in api.__all__ if f"{name}</a>" not in reference and f">{name}<" not in reference
    }
    assert "Parameters" in reference
    commands = (tmp_path / "html" / "made" / "commands.html").read_text(encoding="utf-8")
    assert not {name for name in COMMANDS if f"crabline {name}" not in commands}
