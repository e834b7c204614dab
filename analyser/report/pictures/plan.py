"""The map of a plan for one hand."""

from __future__ import annotations

from collections.abc import Sequence

from analyser.frame import LocalFrame
from analyser.plan.report import HandPlan
from analyser.report.pictures.aerial import box_about, lay_under
from analyser.report.pictures.palette import LIGHT
from analyser.report.pictures.parts import map_layout, pattern_traces, ring
from analyser.report.pictures.spec import Spec
from analyser.settings import Site

__all__ = ["planned_map"]


def planned_map(plan: HandPlan, site: Site | None = None, plans: Sequence[HandPlan] = ()) -> Spec:
    """The pattern over the ground about the target, over the picture of the site where it has both.

    ``plans``: all of the page, which share one part of the picture.
    """
    gates = [[g.east_m, g.north_m] for g in plan.gates]
    target = {
        "type": "scatter",
        "mode": "markers",
        "name": "target",
        "x": [0.0],
        "y": [0.0],
        "marker": {"symbol": "cross-thin", "size": 16, "line": {"width": 3, "color": LIGHT["ink"]}},
        "hoverinfo": "name",
        "meta": {"x": "distance", "y": "distance", "turn": True},
    }
    rings = [ring(0.0, 0.0, r, line={"color": LIGHT["rule"], "width": 1}) for r in (50.0, 100.0)]
    data = [*rings, *pattern_traces(plan.pattern, "planned", LIGHT["planned"], "dash"), target]
    spec = {"data": data, "layout": map_layout({"pattern": [*gates, [0.0, 0.0]]})}
    if site is None or site.target is None:
        return spec
    places = [[g.east_m, g.north_m] for one in (plans or (plan,)) for g in one.gates]
    return lay_under(spec, site.picture, LocalFrame(*site.target), box_about([*places, [0.0, 0.0]]))
