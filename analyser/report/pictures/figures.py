"""The pictures: as plotly figures for notebooks and image files, as plain dicts for the page."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

from analyser.angles import wind_from_deg
from analyser.debrief import Debrief
from analyser.report.pictures.budget import budget_bars
from analyser.report.pictures.hodograph import hodograph
from analyser.report.pictures.map import plan_view
from analyser.report.pictures.reach import reach_wedge
from analyser.report.pictures.redrawn import redrawn_view
from analyser.report.pictures.side import height_to_go, timeline
from analyser.report.pictures.spec import Spec, displayed
from analyser.report.pictures.wind import pattern_top, wind_profile

if TYPE_CHECKING:
    import plotly.graph_objects as go

__all__ = ["PICTURES", "Up", "figure", "specs", "up_direction"]

PICTURES: dict[str, Callable[[Debrief], Spec | None]] = {
    "plan-view": plan_view,
    "height-to-go": height_to_go,
    "timeline": timeline,
    "wind-profile": wind_profile,
    "hodograph": hodograph,
    "reach": reach_wedge,
    "budget": budget_bars,
    "redrawn": redrawn_view,
}


class Up(NamedTuple):
    """The direction that points upward on a turned map [deg true] and what it is."""

    deg: float
    text: str


def specs(debrief: Debrief) -> dict[str, Spec]:
    """Every picture that this debrief can fill, by name, in SI units, north up."""
    made = {name: make(debrief) for name, make in PICTURES.items()}
    return {name: spec for name, spec in made.items() if spec is not None and spec["data"]}


def up_direction(debrief: Debrief) -> Up | None:
    """Where the wind comes from: the mean below the pattern's entry; else the landing direction; None where neither is known."""
    if debrief.wind is not None:
        mean = debrief.wind.profile.mean_below(pattern_top(debrief))
        if mean is not None and mean != (0.0, 0.0):
            return Up(round(float(wind_from_deg(*mean)), 1), "into the wind")
    pattern = debrief.flown or (debrief.plan.pattern if debrief.plan else None)
    if pattern is not None and pattern.landing_deg is not None:
        return Up(round(pattern.landing_deg, 1), "landing direction")
    return None


def figure(
    debrief: Debrief, name: str, *, units: str = "metric", wind_up: bool = False, view: str | None = None
) -> go.Figure | None:
    """One picture as a plotly figure in a display system; None where the debrief can not fill it.

    ``name`` is one of :data:`PICTURES`; ``view`` one of the views of the plan view ("pattern", "whole canopy flight").
    Raises KeyError for an unknown name, display system or view.
    """
    import plotly.graph_objects as go

    spec = PICTURES[name](debrief)
    if spec is None or not spec["data"]:
        return None
    up = up_direction(debrief) if wind_up else None
    return go.Figure(displayed(spec, units, up_deg=up.deg if up else 0.0, view=view))
