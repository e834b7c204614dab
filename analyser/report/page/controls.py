"""The page's controls: units, what is up on the maps, close or whole view, and the replay bar."""

from __future__ import annotations

from collections.abc import Mapping

from analyser.report.page.shell import escape
from analyser.report.pictures.figures import Up
from analyser.report.pictures.spec import Spec
from analyser.units import DISPLAY_SYSTEMS

__all__ = ["controls", "replay_bar", "units_choice"]

CUSTOMS = {"us": "United States", "uk": "Britain", "nordic": "Nordic countries", "metric": "metric"}


def units_choice(units: str) -> str:
    """The choice of display system."""
    options = "".join(
        f'<option value="{name}"{" selected" if name == units else ""}>{CUSTOMS.get(name, name)}: '
        f"{s.height.label}, {s.speed.label}, {s.distance.label}</option>"
        for name, s in DISPLAY_SYSTEMS.items()
    )
    return f'<label>Units (height, speed, distance) <select name="units">{options}</select></label>'


def controls(units: str, up: Up | None, figures: Mapping[str, Spec]) -> str:
    """Everything that changes how the page shows its numbers and pictures."""
    parts = [units_choice(units)]
    if any("views" in spec["layout"].get("meta", {}) for spec in figures.values()):
        turned = (
            ("wind", f"{up.text} ({up.deg:03.0f}°)", False)
            if up is not None
            else ("wind", "wind unknown", True)
        )
        parts.append(_pick("Up on the maps", "up", [("north", "north", False), turned]))
    views = figures.get("plan-view", {}).get("layout", {}).get("meta", {}).get("views", {})
    if len(views) > 1:
        parts.append(_pick("Plan view shows", "view", [(name, name, False) for name in views]))
    return f'<div class="controls" role="group" aria-label="How to show">{"".join(parts)}</div>'


def _pick(title: str, name: str, options: list[tuple[str, str, bool]]) -> str:
    choices = "".join(
        f'<label><input type="radio" name="{name}" value="{value}"{" checked" if i == 0 else ""}{" disabled" if off else ""}>'
        f"<span>{escape(text)}</span></label>"
        for i, (value, text, off) in enumerate(options)
    )
    return f'<fieldset><legend>{title}</legend><span class="pick">{choices}</span></fieldset>'


def replay_bar() -> str:
    """One marker through all pictures: play, slider, what it shows."""
    return (
        '<div class="replay" role="region" aria-label="Replay"><div class="wrap">'
        '<button type="button" id="play" aria-pressed="false">Play</button>'
        '<label><span class="unseen">Moment of the canopy flight</span>'
        '<input type="range" id="moment" min="0" max="0" value="0" step="1"></label>'
        '<output id="readout" for="moment"></output></div></div>'
    )
