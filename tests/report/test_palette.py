"""The colours: kept apart for common colour-vision deficiencies, readable on their grounds.

Simulation: Machado, Oliveira and Fernandes 2009 (IEEE TVCG 15:1291), severity 1.0, on linear RGB. Contrast and relative
luminance: WCAG 2.2, success criterion 1.4.3. Colour distance: CIE 1976 L*a*b* under D65 (sRGB matrix of IEC 61966-2-1).
"""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest

from analyser.report.pictures.palette import _HEIGHT_DARK, _HEIGHT_LIGHT, DARK, LIGHT, css_variables, dark_of

VISION = {
    "usual": np.eye(3),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopia": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
WHITE = np.array([0.9505, 1.0, 1.0890])
LINES = ("flown", "planned", "redrawn", "wind")
TEXT_ON = [
    ("ink", "paper"),
    ("ink", "sheet"),
    ("soft", "paper"),
    ("soft", "sheet"),
    ("accent", "paper"),
    ("accent-ink", "accent"),
    ("soft", "band-a"),
    ("soft", "band-b"),
]


def linear(colour: str) -> np.ndarray:
    c = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def lab(colour: str, vision: str) -> np.ndarray:
    xyz = TO_XYZ @ np.clip(VISION[vision] @ linear(colour), 0.0, 1.0) / WHITE
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def apart(a: str, b: str, vision: str) -> float:
    return float(np.linalg.norm(lab(a, vision) - lab(b, vision)))


def contrast(a: str, b: str) -> float:
    low, high = sorted(float(TO_XYZ[1] @ linear(c)) for c in (a, b))
    return (high + 0.05) / (low + 0.05)


def test_the_measures_know_black_and_white() -> None:
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0, abs=0.01)
    assert apart("#000000", "#FFFFFF", "usual") == pytest.approx(100.0, abs=0.1)


def test_the_simulation_sees_the_classic_confusion() -> None:
    # Red and green of about one luminance: clearly apart for most eyes, close under deuteranopia.
    assert apart("#C04040", "#6F8020", "deuteranopia") < 0.35 * apart("#C04040", "#6F8020", "usual")


@pytest.mark.parametrize("vision", VISION)
@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
def test_lines_stay_apart(colours: dict[str, str], vision: str) -> None:
    for a, b in combinations(LINES, 2):
        assert apart(colours[a], colours[b], vision) >= 18.0, (a, b)


@pytest.mark.parametrize("vision", VISION)
@pytest.mark.parametrize("steps", [_HEIGHT_LIGHT, _HEIGHT_DARK], ids=["light", "dark"])
def test_height_scale_is_one_slope_of_lightness(steps: tuple[str, ...], vision: str) -> None:
    lightness = [lab(c, vision)[0] for c in steps]
    assert all(a - b >= 2.5 for a, b in pairwise(lightness))
    assert all(apart(a, b, vision) >= 5.0 for a, b in pairwise(steps))


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
def test_contrast(colours: dict[str, str]) -> None:
    for text, ground in TEXT_ON:
        assert contrast(colours[text], colours[ground]) >= 4.5, (text, ground)
    for line in LINES:
        assert contrast(colours[line], colours["sheet"]) >= 3.0, line


def test_every_light_colour_has_one_dark_counterpart() -> None:
    assert len(set(LIGHT.values()) | set(_HEIGHT_LIGHT)) == len(LIGHT) + len(_HEIGHT_LIGHT)
    assert set(LIGHT) == set(DARK)
    assert dark_of()[LIGHT["flown"]] == DARK["flown"]
    assert "--flown:" in css_variables()
