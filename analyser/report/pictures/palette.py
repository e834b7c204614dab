"""Our own colours: one name per role, light and dark, kept apart for the common colour-vision deficiencies.

A figure is drawn with the light colours; the page exchanges each for its dark counterpart where the system asks for
dark. The tests simulate protanopia, deuteranopia and tritanopia on them and measure contrast.
"""

from __future__ import annotations

from typing import Final

__all__ = ["DARK", "HEIGHT_SCALE", "LEG_COLOURS", "LIGHT", "css_variables", "dark_of"]

LIGHT: Final[dict[str, str]] = {
    "paper": "#F6F3EC",
    "sheet": "#FFFFFE",
    "ink": "#1B2330",
    "soft": "#4D5867",
    "rule": "#D8D2C5",
    "grid": "#E7E2D8",
    "accent": "#1D5A73",
    "accent-ink": "#FDFEFF",
    "flown": "#2A2346",
    "planned": "#C2410C",
    "redrawn": "#00695C",
    "wind": "#4A90D9",
    "band-a": "#EFEAE0",
    "band-b": "#F9F6F0",
    "doubt": "#8A8172",
    "keep-out": "#7A4B66",
    "halo": "0 0 3px #FFFFFE, 0 0 3px #FFFFFE, 0 0 5px #FFFFFE",
}

DARK: Final[dict[str, str]] = {
    "paper": "#10151B",
    "sheet": "#1A2129",
    "ink": "#E9E6E0",
    "soft": "#AEB7C1",
    "rule": "#3A4551",
    "grid": "#2A333D",
    "accent": "#82C7E0",
    "accent-ink": "#0D1820",
    "flown": "#F4F1FF",
    "planned": "#F08C46",
    "redrawn": "#5FD4C0",
    "wind": "#4F86DE",
    "band-a": "#252E38",
    "band-b": "#1E262F",
    "doubt": "#948C80",
    "keep-out": "#C99AB5",
    "halo": "0 0 3px #1A2129, 0 0 3px #1A2129, 0 0 5px #1A2129",
}

LEG_COLOURS: Final = {
    "crosswind": LIGHT["soft"],
    "downwind": LIGHT["accent"],
    "base": LIGHT["redrawn"],
    "final": LIGHT["planned"],
}

_HEIGHT_LIGHT: Final = ("#CF7A1E", "#CB5E44", "#B0416A", "#833781", "#553388", "#1F1B4E")
_HEIGHT_DARK: Final = ("#FFDFA0", "#FFB274", "#F0838C", "#C66FB4", "#9069C4", "#5656A0")

HEIGHT_SCALE: Final[tuple[str, ...]] = _HEIGHT_LIGHT


def dark_of() -> dict[str, str]:
    """Light colour → dark colour, for every role and step of the height scale."""
    pairs = {LIGHT[role]: DARK[role] for role in LIGHT}
    return pairs | dict(zip(_HEIGHT_LIGHT, _HEIGHT_DARK, strict=True))


def css_variables() -> str:
    """The colours as custom properties, light and (by the system's setting) dark; print is always light."""

    def block(colours: dict[str, str], steps: tuple[str, ...]) -> str:
        named = [f"--{role}:{value}" for role, value in colours.items()]
        return ";".join(named + [f"--height-{i}:{value}" for i, value in enumerate(steps)])

    light = block(LIGHT, _HEIGHT_LIGHT)
    dark = block(DARK, _HEIGHT_DARK)
    return f":root{{color-scheme:light dark;{light}}}\n@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}\n"
