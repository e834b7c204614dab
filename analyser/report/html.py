"""Debrief -> one self-contained HTML page that tells the story in the order in which a debrief is led."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import PurePath

from analyser.debrief import Debrief
from analyser.report import chapters, chapters_holding, chapters_wind
from analyser.report.markup import chapter, figure
from analyser.report.page.colophon import colophon
from analyser.report.page.controls import controls, replay_bar
from analyser.report.page.recollection import recollection
from analyser.report.page.shell import escape, page
from analyser.report.pictures.figures import specs, up_direction
from analyser.report.pictures.flown import flown_path
from analyser.report.pictures.spec import Spec
from analyser.report.wording import Words

__all__ = ["render_page"]

CAPTIONS: dict[str, tuple[str, str, str]] = {
    "plan-view": (
        "Plan view about the target",
        "Coloured by height; labels give the height of each turn and, in brackets, the difference from the plan.",
        "Map of the landing seen from above: planned pattern, flown path coloured by height, turns, wind arrows, touchdown with its "
        "position error. The numbers stand in the table Where each turn began.",
    ),
    "height-to-go": (
        "Height against the way still to go",
        "Above the dashed line is higher than planned for that distance.",
        "Curve of height over remaining distance, flown and planned. The numbers stand in the table Where each turn began.",
    ),
    "timeline": (
        "Height and ground speed",
        "Phases behind the heights, legs behind the speeds.",
        "Two curves over time: height with the phases of the jump, ground speed with the legs. The numbers stand in the tables.",
    ),
    "wind-profile": (
        "Wind by height",
        "Bars are one standard deviation; shaded heights could not be determined and stay empty.",
        "Wind speed and direction by height with error bars, beside the wind the plan was made for. The numbers stand in the table "
        "Wind by height.",
    ),
    "hodograph": (
        "Ground velocity",
        "Each point is the velocity over the ground at one fix of the pattern. Flown at trim in a steady wind they lie on a circle: its "
        "middle is the wind, its radius the airspeed.",
        "Ground velocities of the pattern around the circle of trim airspeed whose centre is the mean wind.",
    ),
    "reach": (
        "Side view along the wind line",
        "Inside the wedge the place could still be reached in full flight through the wind that was there; where the flight is underlaid, "
        "the wedge's edge is within twice its error and nobody can tell.",
        "Height against place on the wind line, with the region from which entry and target were within reach.",
    ),
    "budget": (
        "The miss, added up",
        "Each bar begins where the one above ended; whiskers are one standard deviation.",
        "Signed bars, one for each cause, along and across the landing direction, adding up to the landing. The numbers stand in the "
        "table The way from the target to the landing.",
    ),
    "redrawn": (
        "The plan and the plan redrawn",
        "Same gate heights, same canopy, other wind.",
        "Map of the planned pattern and the same pattern redrawn for the wind that was there. The numbers stand in the table Gates redrawn.",
    ),
}


def render_page(
    debrief: Debrief,
    *,
    units: str = "us",
    recollect: bool = False,
    assets: PurePath | None = None,
    dated: bool = True,
) -> str:
    """The whole page as text.

    ``units`` names the display system the page opens in; ``recollect`` asks first what the jumper remembers; ``assets`` is a
    folder, relative to the page, that holds the shared plotting bundle (:func:`analyser.report.page.shell.write_assets`);
    ``dated`` False leaves out when it was recorded.
    """
    figures = specs(debrief)
    words = Words(units)
    path, up = flown_path(debrief), up_direction(debrief)
    upwind_from = debrief.reach.from_deg if debrief.reach is not None else None
    data = {
        "path": path.as_json(upwind_from) if path is not None else None,
        "up": up._asdict() if up is not None else None,
        "key": f"{debrief.recording.sha256[:16]}-{debrief.jump}",
    }
    story = (
        _no_jump(debrief, words, figures)
        if debrief.phases.kind == "no jump"
        else _story(debrief, words, figures)
    )
    first = recollection(debrief, words) if recollect and debrief.phases.kind == "jump" else ""
    hidden = ' class="veiled"' if first else ""
    asking = " asking" if first else ""
    body = (
        '<a class="skip" href="#story">Skip to the debrief</a>'
        f'<div class="wrap{asking}"><header class="masthead">{_masthead(debrief, dated)}</header>'
        f"{controls(units, up, figures)}{first}"
        f'<main id="story"{hidden}>{story}<footer class="colophon">{colophon(debrief)}</footer></main></div>'
        f"{replay_bar() if path is not None else ''}"
    )
    scripts = ["replay.js"] if path is not None else []
    scripts += ["recollect.js"] if first else []
    return page(
        _title(debrief), body, units=units, data=data, figures=figures, scripts=scripts, assets=assets
    )


def _title(debrief: Debrief) -> str:
    return f"Debrief: {debrief.recording.name or debrief.recording.file or 'landing'}"


def _masthead(debrief: Debrief, dated: bool) -> str:
    rec, settings = debrief.recording, debrief.settings
    moment = datetime.fromtimestamp(debrief.track.start_utc_s, UTC)
    which = f"jump {debrief.jump} of {debrief.jumps}" if debrief.jumps > 1 else None
    wing = settings.canopy.wing_loading_lb_ft2
    facts = [
        ("Recorded", f"{moment:%Y-%m-%d %H:%M} UTC" if dated else None),
        ("Field", settings.site.name),
        ("Jumper", settings.jumper.name),
        ("Canopy", settings.canopy.name),
        ("Wing loading", f"{wing:.2f} lb/ft²" if wing is not None else None),
        ("Device", rec.device),
        ("File", rec.file),
        ("Jump", which),
    ]
    rows = "".join(f"<li>{name} <b>{escape(value)}</b></li>" for name, value in facts if value)
    return (
        '<p class="kicker">Landing debrief, read on the ground</p>'
        f'<h1>{escape(rec.name or rec.file or "Landing")}</h1><ul class="facts">{rows}</ul>'
    )


def _no_jump(debrief: Debrief, words: Words, figures: dict[str, Spec]) -> str:
    reason = escape(debrief.phases.reason or "no parachute flight in it")
    text = f'<p class="lead">No jump was found in this recording: {reason}.</p>' + chapters.trust(
        debrief, words
    )
    return chapter(1, "trust", "What the recording holds", text, _picture("timeline", figures))


def _story(debrief: Debrief, words: Words, figures: dict[str, Spec]) -> str:
    parts = [
        ("trust", "Can the data be trusted?", chapters.trust(debrief, words), ("timeline",)),
        ("well", "What went well", chapters.went_well(debrief, words), ()),
        (
            "gates",
            "Plan against flown, gate by gate",
            chapters.gates(debrief, words),
            ("plan-view", "height-to-go"),
        ),
        ("metres", "Where the metres went", chapters.metres(debrief, words), ("budget",)),
        ("holding", "Holding above the field", chapters_holding.holding(debrief, words), ("reach",)),
        (
            "wind",
            "The wind that was there, the wind assumed",
            chapters_wind.winds(debrief, words),
            ("wind-profile", "hodograph"),
        ),
        (
            "redrawn",
            "The same pattern, redrawn for that wind",
            chapters_wind.redrawn(debrief, words),
            ("redrawn",),
        ),
        ("change", "One thing to change", chapters.change(debrief, words), ()),
        ("cautions", "Cautions", chapters.cautions(debrief, words), ()),
    ]
    told = [p for p in parts if p[2]]
    return "".join(
        chapter(number, anchor, title, text, "".join(_picture(name, figures) for name in pictures))
        for number, (anchor, title, text, pictures) in enumerate(told, 1)
    )


def _picture(name: str, figures: dict[str, Spec]) -> str:
    return figure(name, *CAPTIONS[name]) if name in figures else ""
