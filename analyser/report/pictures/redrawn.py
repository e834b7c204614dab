"""The same pattern redrawn for the wind that was there, beside the plan and where that plan would have ended."""

from __future__ import annotations

from analyser.debrief import Debrief
from analyser.report.pictures.aerial import lay_under
from analyser.report.pictures.map import pictured
from analyser.report.pictures.palette import LIGHT
from analyser.report.pictures.parts import map_layout, outcome_traces, pattern_traces, rings
from analyser.report.pictures.spec import Spec

__all__ = ["redrawn_view"]


def redrawn_view(debrief: Debrief) -> Spec | None:
    """Plan (dashed), the plan redrawn (solid), and the 90 % ellipse of the plan flown in the recovered wind; None without both plans."""
    plan, redrawn = debrief.matched or debrief.plan, debrief.redrawn
    if plan is None or redrawn is None:
        return None
    data = rings(debrief)
    data += pattern_traces(plan.pattern, "planned", LIGHT["planned"], "dash")
    data += pattern_traces(redrawn.pattern, "redrawn", LIGHT["redrawn"], "solid")
    points = [[p[1], p[2]] for pattern in (plan.pattern, redrawn.pattern) for p in pattern.path]
    points += [[g.east_m, g.north_m] for pattern in (plan.pattern, redrawn.pattern) for g in pattern.gates]
    if debrief.plan_outcome is not None:
        outline = outcome_traces(debrief.plan_outcome)
        data += outline
        points += [[x, y] for x, y in zip(outline[0]["x"], outline[0]["y"])]
    focus = [[0.0, 0.0], *([round(e, 1), round(n, 1)] for e, n in points)]
    layout = map_layout({"pattern": focus})
    del layout["meta"]["cursor"]
    layout["meta"]["print"] = 0.68
    spec = {"data": data, "layout": layout}
    return lay_under(spec, debrief.settings.site.picture, debrief.track.frame, pictured(debrief), said=False)
