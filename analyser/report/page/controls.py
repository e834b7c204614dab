"""The page's controls: units, what is up on the maps, close or whole view, and the replay bar."""

from __future__ import annotations

from collections.abc import Mapping

from analyser.angles import bearing_text
from analyser.report.page.markup import Html, tag
from analyser.report.pictures.figures import Up
from analyser.report.pictures.spec import Spec
from analyser.units import DISPLAY_SYSTEMS

__all__ = ["controls", "replay_bar"]

CUSTOMS = {"us": "United States", "uk": "Britain", "nordic": "Nordic countries", "metric": "metric"}


def controls(units: str, up: Up | None, figures: Mapping[str, Spec], *, turned: bool) -> Html:
    """Everything that changes how the page shows its numbers and pictures; ``turned``: its maps may have another side up."""
    parts = [_units(units)]
    if turned and any(
        name != "small-map" and "views" in spec["layout"].get("meta", {}) for name, spec in figures.items()
    ):
        wind = f"{up.text} ({bearing_text(up.deg)})" if up is not None else "wind unknown"
        parts.append(_pick("Up on the maps", "up", [("north", "north", False), ("wind", wind, up is None)]))
    views = figures.get("plan-view", {}).get("layout", {}).get("meta", {}).get("views", {})
    if len(views) > 1:
        parts.append(_pick("Plan view shows", "view", [(name, name, False) for name in views]))
    return tag("div", *parts, cls="controls", role="group", aria_label="How to show")


def _units(units: str) -> Html:
    """The choice of display system."""
    options = [
        tag(
            "option",
            f"{CUSTOMS.get(name, name)}: {s.height.label}, {s.speed.label}, {s.distance.label}",
            value=name,
            selected=name == units,
        )
        for name, s in DISPLAY_SYSTEMS.items()
    ]
    return tag("label", "Units ", tag("select", *options, name="units"))


def _pick(title: str, name: str, options: list[tuple[str, str, bool]]) -> Html:
    choices = [
        tag(
            "label",
            tag("input", type_="radio", name=name, value=value, checked=i == 0, disabled=off),
            tag("span", text),
        )
        for i, (value, text, off) in enumerate(options)
    ]
    return tag("fieldset", tag("legend", title), tag("span", *choices, cls="pick"))


def replay_bar() -> Html:
    """One marker through all pictures: play, slider, what it shows."""
    play = tag("button", "Play", type_="button", id="play", aria_pressed="false")
    slider = tag("input", type_="range", id="moment", min="0", max="0", value="0", step="1")
    moment = tag("label", tag("span", "Moment of the canopy flight", cls="unseen"), slider)
    readout = tag("output", id="readout", for_="moment")
    return tag(
        "div", tag("div", play, moment, readout, cls="wrap"), cls="replay", role="region", aria_label="Replay"
    )
