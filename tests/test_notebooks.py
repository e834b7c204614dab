"""The notebooks run from top to bottom and use the public names only."""

from __future__ import annotations

import re
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

ROOT = Path(__file__).resolve().parent.parent
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))


def test_there_are_three() -> None:
    assert len(NOTEBOOKS) == 3


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_only_the_public_names(path: Path) -> None:
    notebook = nbformat.read(path, as_version=4)
    code = "\n".join(c.source for c in notebook.cells if c.cell_type == "code")
    assert set(re.findall(r"^(?:from|import) (analyser\S*)", code, re.M)) == {"analyser"}
    assert "from analyser import api" in code


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_runs(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PLOTLY_RENDERER", "json")
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    notebook = nbformat.read(path, as_version=4)
    NotebookClient(
        notebook, timeout=600, kernel_name="python3", resources={"metadata": {"path": str(ROOT)}}
    ).execute()
    outputs = [o for c in notebook.cells if c.cell_type == "code" for o in c.outputs]
    assert outputs
    assert not [o for o in outputs if o.output_type == "error"]
