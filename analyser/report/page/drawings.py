"""Small plan views as vector graphics inside the page: no script, one scale, sharp on paper."""

from __future__ import annotations

from collections.abc import Callable

from analyser.report.page.markup import Html, tag
from analyser.report.story.blocks import Drawing, Drawings, Sentence

__all__ = ["drawings"]

Said = Callable[[Sentence], Html]


def drawings(block: Drawings, said: Said) -> Html:
    """A row of figures that wraps; every one has the same side in metres and the same side on the page."""
    items = [
        tag(
            "figure",
            tag("figcaption", tag("b", said(item.title))),
            _drawing(item, block.side_m, block.bar_m),
            tag("figcaption", said(item.note)),
        )
        for item in block.items
    ]
    return tag("div", tag("div", *items, cls="drawings"), tag("p", said(block.caption), cls="quiet"))


def _drawing(item: Drawing, side: float, bar: float) -> Html:
    left, top = item.middle[0] - side / 2.0, -item.middle[1] - side / 2.0
    lines = [tag("polyline", points=_points(points), cls=role) for role, points in item.lines]
    radius = f"{side / 60.0:.1f}"
    dots = [tag("circle", cx=f"{x:.1f}", cy=f"{-y:.1f}", r=radius, cls=role) for role, x, y in item.dots]
    x, y = left + 0.04 * side, top + 0.96 * side
    scale = tag("polyline", points=_points(((x, -y), (x + bar, -y))), cls="scale")
    return tag(
        "svg",
        *lines,
        *dots,
        scale,
        viewBox=f"{left:.1f} {top:.1f} {side:.1f} {side:.1f}",
        role="img",
        aria_label=f"{item.title.text()}: {item.note.text()}",
    )


def _points(points: tuple[tuple[float, float], ...]) -> str:
    return " ".join(f"{x:.1f},{-y:.1f}" for x, y in points)
