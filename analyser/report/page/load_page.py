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
    if marks is not None and load.near:
        before = [t - (marks_zero(load)) for t in (load.near[0].t_s,)]
        marks["start"] = min(range(len(marks["t"])), key=lambda i: abs(marks["t"][i] - before[0]))
    return write_page(
        tell_load(load),
        units=units,
        data={"load": marks},
        replay=marks is not None,
        scripts=["load.js"] if marks is not None else [],
        styles=["load.css"],
        assets=assets,
    )


def marks_zero(load: Load) -> float:
    """When the first of them landed [s since 1970, UTC]: where the slider counts from."""
    return min(s[1] for s in (f.under_canopy for f in load.flights) if s is not None)
