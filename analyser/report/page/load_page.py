"""The page of a load."""

from __future__ import annotations

from pathlib import PurePath

from analyser.load.study import Load
from analyser.report.page.write import write_page
from analyser.report.pictures.load import load_marks
from analyser.report.story.load import tell_load

__all__ = ["render_load"]


def render_load(load: Load, *, units: str = "uk", assets: PurePath | None = None) -> str:
    """The page of a load as text; one slider moves the marks of everybody through all pictures."""
    marks = load_marks(load)
    return write_page(
        tell_load(load),
        units=units,
        data={"load": marks},
        replay=marks is not None,
        scripts=["load.js"] if marks is not None else [],
        styles=["load.css"],
        assets=assets,
    )
