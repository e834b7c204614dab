"""The same pattern redrawn for the wind that was there, beside the plan and where that plan would have ended."""

from __future__ import annotations

from typing import Any

import numpy as np

from analyser.debrief import Debrief
from analyser.replay import PlanCheck
from analyser.report.palette import LIGHT
from analyser.report.plan_view import MAP, map_layout, pattern_traces, rings
from analyser.report.spec import Spec, numbers

__all__ = ["redrawn_view"]


def redrawn_view(debrief: Debrief) -> Spec | None:
    """Plan (dashed), the plan redrawn (solid), and the 90 % ellipse of the plan flown in the recovered wind; None without both plans."""
    plan, redrawn = debrief.plan, debrief.redrawn
    if plan is None or redrawn is None:
        return None
    data = rings(debrief)
    data += pattern_traces(plan.pattern, "planned", LIGHT["planned"], "dash")
    data += pattern_traces(redrawn.pattern, "redrawn", LIGHT["redrawn"], "solid")
    points = [[p[1], p[2]] for pattern in (plan.pattern, redrawn.pattern) for p in pattern.path]
    points += [[g.east_m, g.north_m] for pattern in (plan.pattern, redrawn.pattern) for g in pattern.gates]
    if debrief.plan_outcome is not None:
        outline = _outcome(debrief.plan_outcome)
        data += outline
        points += [[x, y] for x, y in zip(outline[0]["x"], outline[0]["y"])]
    focus = [[0.0, 0.0], *([round(e, 1), round(n, 1)] for e, n in points)]
    layout = map_layout({"pattern": focus})
    del layout["meta"]["cursor"]
    layout["meta"]["print"] = 0.68
    return {"data": data, "layout": layout}


def _outcome(check: PlanCheck) -> list[dict[str, Any]]:
    angle = np.linspace(0.0, 2 * np.pi, 49)
    axis_deg = np.radians(check.major_deg)
    a, b = check.semi_major_m * np.cos(angle), check.semi_minor_m * np.sin(angle)
    east = check.east_m + a * np.sin(axis_deg) + b * np.cos(axis_deg)
    north = check.north_m + a * np.cos(axis_deg) - b * np.sin(axis_deg)
    ellipse = {
        "type": "scatter",
        "mode": "lines",
        "name": "plan as made: 90 % of its landings",
        "x": numbers(east),
        "y": numbers(north),
        "fill": "toself",
        "fillcolor": LIGHT["doubt"],
        "opacity": 0.5,
        "line": {"color": LIGHT["planned"], "width": 1.5},
        "hoverinfo": "skip",
        "meta": MAP,
    }
    middle = {
        "type": "scatter",
        "mode": "markers",
        "showlegend": False,
        "x": [round(check.east_m, 1)],
        "y": [round(check.north_m, 1)],
        "marker": {
            "symbol": "star-diamond-open",
            "size": 10,
            "color": LIGHT["planned"],
            "line": {"width": 2},
        },
        "hovertemplate": "where the plan would have ended<extra></extra>",
        "meta": MAP,
    }
    return [ellipse, middle]
