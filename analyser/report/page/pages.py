"""The pages of a jump, two jumps and a plan: each tells its story and gives it what only a page has."""

from __future__ import annotations

from pathlib import PurePath

from analyser.debrief import Debrief
from analyser.flight import Trim
from analyser.plan.report import PlanReport
from analyser.plan.usual import Usual
from analyser.report.page.write import write_page
from analyser.report.pictures.figures import up_direction
from analyser.report.pictures.flown import flown_path
from analyser.report.story.jump import tell_jump
from analyser.report.story.plan import tell_plan
from analyser.report.story.two_jumps import tell_two_jumps
from analyser.settings import Settings

__all__ = ["render_comparison", "render_page", "render_plan"]


def render_page(
    debrief: Debrief,
    *,
    units: str = "us",
    recollect: bool = False,
    assets: PurePath | None = None,
    dated: bool = True,
) -> str:
    """The page of one jump as text.

    ``units`` names the display system the page opens in; ``recollect`` asks first what the jumper remembers; ``assets`` is a
    folder, relative to the page, that holds the shared plotting bundle (:func:`analyser.report.page.shell.write_assets`);
    ``dated`` False leaves out when it was recorded.
    """
    path = flown_path(debrief)
    story = tell_jump(debrief, dated=dated, recollect=recollect)
    return write_page(
        story,
        units=units,
        up=up_direction(debrief),
        turned=True,
        data={
            "path": path.as_json() if path is not None else None,
            "key": f"{debrief.recording.sha256[:16]}-{debrief.jump}",
        },
        replay=path is not None,
        scripts=["replay.js"] if path is not None else [],
        assets=assets,
    )


def render_comparison(a: Debrief, b: Debrief, *, units: str = "us", assets: PurePath | None = None) -> str:
    """The page of two jumps as text."""
    return write_page(tell_two_jumps(a, b), units=units, up=up_direction(a), turned=True, assets=assets)


def render_plan(
    report: PlanReport,
    settings: Settings,
    trim: Trim,
    *,
    usual: Usual | None = None,
    units: str = "uk",
    assets: PurePath | None = None,
) -> str:
    """The page of a plan as text; ``usual`` where its trim speeds are the usual ones."""
    return write_page(tell_plan(report, settings, trim, usual), units=units, assets=assets)
