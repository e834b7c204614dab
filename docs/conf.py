"""Sphinx: the guides as they stand, a reference of the public names and one of the commands, both made from the code."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent
MADE = HERE / "made"  # written at every build, never committed
sys.path.insert(0, str(ROOT))

import analyser  # noqa: E402

project = "crabline"
author = "the crabline developers"
release = version = analyser.__version__
extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon"]
exclude_patterns = ["img"]
html_theme = "alabaster"
html_theme_options = {
    "description": "Post-jump debrief of a parachute landing pattern",
    "fixed_sidebar": True,
}
myst_heading_anchors = 3
myst_enable_extensions = ["colon_fence"]
napoleon_google_docstring = False
napoleon_use_rtype = False
napoleon_use_ivar = True
autodoc_typehints = "none"
autodoc_member_order = "bysource"
suppress_warnings = ["misc.highlighting_failure"]  # blocks with placeholders (LAT, …) are no strict TOML


def write_commands() -> None:
    """What every command says of itself."""
    environment = {**os.environ, "COLUMNS": "100", "NO_COLOR": "1", "PYTHONPATH": str(ROOT)}
    parts = ["# Commands\n\nWhat `crabline COMMAND --help` prints.\n"]
    for words in ((), *((name,) for name in subcommands())):
        told = subprocess.run(
            [sys.executable, "-m", "analyser", *words, "--help"],
            capture_output=True,
            text=True,
            check=True,
            env=environment,
        )
        title = " ".join(("crabline", *words))
        parts.append(f"## {title}\n\n```text\n{told.stdout.strip()}\n```\n")
    (MADE / "commands.md").write_text("\n".join(parts), encoding="utf-8")


def subcommands() -> list[str]:
    """The commands there are."""
    from analyser.cli.app import COMMANDS

    return list(COMMANDS)


def write_reference() -> None:
    """Every public name with its docstring."""
    import inspect

    from analyser import api

    parts = ["# Reference\n\nEvery public name of `import analyser`; SI units, angles in degrees true.\n"]
    for name in api.__all__:
        found = getattr(api, name)
        kind = "autofunction" if inspect.isfunction(found) else "autoclass"
        path = f"{found.__module__}.{found.__qualname__}"
        members = ":members:\n" if name in ("Jump", "PlannedPattern", "SeasonRun", "WindProfile") else ""
        parts.append(f"## {name}\n\n```{{eval-rst}}\n.. {kind}:: {path}\n{_indented(members)}```\n")
    (MADE / "reference.md").write_text("\n".join(parts), encoding="utf-8")


def write_numbers() -> None:
    """Every number that decides something, by stage."""
    from analyser.findings.thresholds import FINDINGS
    from analyser.legs.thresholds import LEGS
    from analyser.method_rows import entries
    from analyser.phases.thresholds import PHASES
    from analyser.plan.thresholds import PLAN
    from analyser.replay.thresholds import REPLAY
    from analyser.settings import Method
    from analyser.thresholds import rows

    tables = {
        "phases": PHASES,
        "legs": LEGS,
        "plan": PLAN,
        "budget and advice": REPLAY,
        "findings and questions": FINDINGS,
    }
    parts = [
        '# Numbers\n\nWhat the results rest on. "Ours" was chosen on made-up jumps: nothing outside the project says it.\n'
    ]
    for title, table in tables.items():
        lines = [
            f"| {r.name} | {_cell(r.value)} | {r.unit} | {r.meaning} | {r.source} |" for r in rows(table)
        ]
        parts.append(
            f"## {title.capitalize()}\n\n| name | value | unit | meaning | source |\n| --- | --- | --- | --- | --- |\n"
            + "\n".join(lines)
            + "\n"
        )
    lines = [
        f"| {e.stage} | {e.name} | {_cell(e.value)} | {e.unit} | {e.source} |" for e in entries(Method())
    ]
    parts.append(
        "## Rules and priors of the wind\n\nThe `method` of the JSON and the foot of every page have them too.\n\n| stage | name | value | unit | source |\n| --- | --- | --- | --- | --- |\n"
        + "\n".join(lines)
        + "\n"
    )
    (MADE / "numbers.md").write_text("\n".join(parts), encoding="utf-8")


def _cell(value: object) -> str:
    """A number as it is written, tuples without their brackets."""
    if isinstance(value, tuple):
        return (
            "; ".join(map(_cell, value))
            if value and isinstance(value[0], tuple)
            else ", ".join(map(_cell, value))
        )
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _indented(text: str) -> str:
    return "".join(f"   {line}\n" for line in text.splitlines())


MADE.mkdir(exist_ok=True)
write_commands()
write_reference()
write_numbers()
