"""The pictures as image files, through kaleido and a browser, where both are there."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from analyser.debrief import Debrief
from analyser.errors import OutputError
from analyser.report.pictures.figures import specs
from analyser.report.pictures.spec import displayed

__all__ = ["IMAGE_KINDS", "write_images"]

IMAGE_KINDS = ("png", "svg")
IMAGE_WIDTH = 1100
LEGEND = 0.08


def write_images(debrief: Debrief, folder: Path, kind: str = "png", *, units: str = "metric") -> list[Path]:
    """Every picture as ``NAME.png`` or ``NAME.svg`` in ``folder`` (made where missing); the paths written.

    Needs the extra ``images`` (kaleido) and a Chromium or Chrome. Raises OutputError where either is missing or the folder can
    not be written; then no picture is written.
    """
    if kind not in IMAGE_KINDS:
        raise OutputError(f"can not write {kind!r} pictures", f"choose one of {', '.join(IMAGE_KINDS)}")
    shown = {name: displayed(spec, units) for name, spec in specs(debrief).items()}
    if not shown:
        raise OutputError("there is nothing to draw", debrief.phases.reason, str(folder))
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder, prefix=".pictures.") as apart:
            drawn = {name: Path(apart) / f"{name}.{kind}" for name in shown}
            _draw(shown, drawn, folder)
            return [path.replace(folder / path.name) for path in drawn.values()]
    except OSError as error:
        reason = (error.strerror or type(error).__name__).lower()
        raise OutputError(
            f"can not be written ({reason})", "check folder, permission and space", str(folder)
        ) from None


def _draw(shown: Mapping[str, Any], files: Mapping[str, Path], folder: Path) -> None:
    """All pictures in one run of the browser."""
    try:
        import kaleido  # noqa: F401
        from plotly.io import write_images as plotly_write_images
    except ImportError:
        raise OutputError(
            "pictures need the package kaleido", "install crabline[images]", str(folder)
        ) from None
    aspects = [spec["layout"]["meta"]["aspect"] + LEGEND for spec in shown.values()]
    try:
        plotly_write_images(
            list(shown.values()),
            list(files.values()),
            width=[IMAGE_WIDTH] * len(shown),
            height=[round(IMAGE_WIDTH * a) for a in aspects],
            scale=1.5,
        )
    except Exception as error:
        words = f"{type(error).__name__} {error}".lower()
        if "chrome" not in words and "browser" not in words:
            raise
        raise OutputError(
            "pictures need a browser and none was found",
            "install Chromium or Chrome, or set BROWSER_PATH",
            str(folder),
        ) from None
