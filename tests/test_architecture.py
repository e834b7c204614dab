"""The house: imports go down only, every module loads alone, the bans hold."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "analyser"

# Lowest first. A module may import modules of lower layers, and of its own layer as long as no circle forms.
LAYERS: list[tuple[str, ...]] = [
    ("_version", "errors", "units", "angles", "sentences", "thresholds", "writing", "localtime", "threads"),
    ("frame", "atmosphere", "track_titles"),
    ("settings", "pattern", "wind.profile", "importers.recording"),
    ("importers", "track"),
    ("phases", "wind", "legs", "plan", "flight"),
    ("compare", "replay", "score", "reach", "holding", "synthetic"),
    ("jump",),
    ("findings",),
    ("debrief", "stages", "placing", "method_rows"),
    ("load",),
    ("logbook",),
    ("season",),
    ("report",),
    ("batch",),
    ("api", "desk"),
    ("cli", "__main__"),
]
BANS: dict[str, tuple[str, ...]] = {
    "synthetic": (
        "wind.fit",
        "wind.estimate",
        "phases",
        "legs",
        "flight",
        "plan",
        "replay",
        "track",
        "reach",
        "holding",
    ),
    "debrief": ("synthetic", "report"),
    "stages": ("synthetic", "report"),
    "legs": ("wind.estimate", "wind.fit"),
    "legs.begins": ("wind",),
    "legs.naming": ("wind",),
    "legs.scores": ("wind",),
    "legs.segments": ("wind",),
    "legs.turns": ("wind",),
    "report": ("importers.gpx", "importers.fit", "importers.read"),
}
LINES = 400
HEAVY = {
    "scipy",
    "pandas",
    "plotly",
    "rich",
    "gpxpy",
    "fitparse",
    "fitdecode",
    "pyarrow",
    "dask",
    "statsmodels",
    "kaleido",
    "PIL",
    "tzfpy",
}
DESK_ONLY = {"starlette", "uvicorn", "tomlkit", "platformdirs", "markdown_it"}
HEAVY_TOP_ALLOWED = {"importers.fit": {"fitparse"}}


def module_name(path: Path) -> str:
    name = ".".join(path.relative_to(PACKAGE).with_suffix("").parts)
    return name.removesuffix(".__init__") if name != "__init__" else ""


WORLDS = sorted((ROOT / "tests" / "worlds").glob("*.py"))
MODULES = {module_name(p): p for p in sorted(PACKAGE.rglob("*.py"))}


def matches(name: str, pattern: str) -> bool:
    return name == pattern or name.startswith(f"{pattern}.")


def layer_of(name: str) -> int:
    hits = [(len(p), i) for i, layer in enumerate(LAYERS) for p in layer if matches(name, p)]
    if not hits:
        raise AssertionError(f"analyser/{name.replace('.', '/')}.py stands in no layer; add it to LAYERS")
    return max(hits)[1]


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def imports_of(path: Path, *, top_only: bool = False) -> set[str]:
    tree = tree_of(path)
    nodes = tree.body if top_only else list(ast.walk(tree))
    found: set[str] = set()
    for node in nodes:
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: relative import"
            base = node.module or ""
            names = {f"{base}.{alias.name}" for alias in node.names}
            found |= {n if n.removeprefix("analyser.") in MODULES else base for n in names}
    return found


def inner(found: set[str]) -> set[str]:
    return {n.removeprefix("analyser.") for n in found if n.startswith("analyser.")} & set(MODULES)


@pytest.mark.parametrize("name", [n for n in MODULES if n])
def test_imports_go_down_only(name: str) -> None:
    for other in inner(imports_of(MODULES[name])) - {""}:
        assert layer_of(other) <= layer_of(name), f"{name} must not import {other}, which stands above it"
        for pattern, banned in BANS.items():
            if matches(name, pattern):
                assert not any(matches(other, b) for b in banned), f"{name} must not import {other}"


@pytest.mark.parametrize("path", [p for p in WORLDS if not p.name.startswith("test_")], ids=lambda p: p.stem)
def test_worlds_share_no_code_with_the_estimators(path: Path) -> None:
    for other in inner(imports_of(path)):
        assert not any(matches(other, b) for b in BANS["synthetic"]), f"{path.name} must not import {other}"


def without_circle(graph: dict[str, set[str]]) -> None:
    state: dict[str, int] = {}

    def visit(name: str, trail: tuple[str, ...]) -> None:
        if state.get(name) == 2:
            return
        assert state.get(name) != 1, f"import circle: {' -> '.join((*trail, name))}"
        state[name] = 1
        for other in graph.get(name, ()):
            visit(other, (*trail, name))
        state[name] = 2

    for name in graph:
        visit(name, ())


def test_no_import_circle() -> None:
    without_circle({n: inner(imports_of(p)) for n, p in MODULES.items()})


def test_no_circle_of_folders() -> None:
    """Seen from the door of the package: folders and modules in it, so that no arrow runs back up."""
    graph: dict[str, set[str]] = {}
    for name, path in MODULES.items():
        if name:
            room = name.split(".")[0]
            graph.setdefault(room, set()).update({n.split(".")[0] for n in inner(imports_of(path))} - {room})
    without_circle(graph)


@pytest.mark.parametrize("name", sorted(MODULES))
def test_heavy_packages_are_not_imported_at_the_top(name: str) -> None:
    found = {n.split(".")[0] for n in imports_of(MODULES[name], top_only=True)}
    assert not (found & HEAVY) - HEAVY_TOP_ALLOWED.get(name, set())


@pytest.mark.parametrize("name", sorted(MODULES))
def test_the_desk_stands_alone(name: str) -> None:
    """Only the command imports the desk, inside a function; only the desk imports what it alone needs."""
    if name == "desk" or name.startswith("desk."):
        return
    assert not {n.split(".")[0] for n in imports_of(MODULES[name])} & DESK_ONLY
    found = {n for n in inner(imports_of(MODULES[name])) if n.split(".")[0] == "desk"}
    assert not found or name == "cli.desk"
    assert not {n for n in inner(imports_of(MODULES[name], top_only=True)) if n.split(".")[0] == "desk"}


def test_every_module_loads() -> None:
    """One after the other, and each door alone in a fresh package; the rest can not depend on the order, for there is no circle."""
    script = (
        "import importlib, sys\n"
        "for fresh, name in (word.split(':') for word in sys.argv[1:]):\n"
        "    for key in [k for k in sys.modules if fresh and k.split('.')[0] == 'analyser']: del sys.modules[key]\n"
        "    importlib.import_module(name)\n"
    )
    doors = (
        "analyser.api",
        "analyser.cli.app",
        "analyser.debrief",
        "analyser.desk.server",
        "analyser.batch.run",
    )
    words = [f"1:{name}" for name in doors]
    words += [f":analyser.{n}" if n else ":analyser" for n in reversed(MODULES) if n != "__main__"]
    done = subprocess.run([sys.executable, "-c", script, *words], capture_output=True, text=True, cwd=ROOT)
    assert done.returncode == 0, done.stderr


def test_the_package_itself_loads_nothing_heavy() -> None:
    script = "import sys, analyser; print(sorted({m.split('.')[0] for m in sys.modules} & {'numpy','scipy','pandas','plotly','rich','typer'}))"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"


def test_no_file_is_longer_than_a_few_screens() -> None:
    longest = {name: len(path.read_text(encoding="utf-8").splitlines()) for name, path in MODULES.items()}
    assert not {name: lines for name, lines in longest.items() if lines > LINES}


def test_feet_and_knots_live_in_units_only() -> None:
    words = ("0.3048", "0.514444", "0.44704", "1852", "1609.344", "0.45359237")
    for name, path in MODULES.items():
        if name != "units":
            text = path.read_text(encoding="utf-8")
            assert not [w for w in words if w in text], (
                f"{name} holds a conversion constant that belongs in units.py"
            )


def test_the_map_for_developers_names_every_part() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("## Map")[1].split("\n## ")[0]
    parts = {p.name for p in PACKAGE.iterdir() if p.is_dir() and p.name != "__pycache__"}
    files = {p.name for p in PACKAGE.glob("*.py") if not p.name.startswith("_")}
    assert not {p for p in parts if f"`analyser/{p}/`" not in text}
    assert not {p for p in files if p not in text}


def test_what_developers_are_told_is_where_they_are_told() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("## Where is what")[1].split("\n## ")[0]
    places = re.findall(r"^\| [^|]+ \| `([^`]+)` \| `([^`]+)` \|$", text, re.MULTILINE)
    assert len(places) > 15
    assert not [
        (file, word) for file, word in places if word not in (ROOT / file).read_text(encoding="utf-8")
    ]
