"""Pieces of the desk's own pages, in the look of the report's; their texts are ready HTML."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from analyser.report.page.markup import Html, tag
from analyser.report.page.write import Writer
from analyser.report.story.blocks import Line, Remark
from analyser.sentences import Number

__all__ = ["Words", "bullets", "missing", "table"]


class Words:
    """Numbers of the desk's pages in a display system."""

    def __init__(self, units: str) -> None:
        self._writer = Writer(units)

    def height(self, si: float | None, sd: float | None = None, *, signed: bool = False) -> str:
        """A height or a difference of heights [m]."""
        return self._writer.number(Number("height", si, sd, signed)).markup

    def speed(self, si: float | None, sd: float | None = None, *, signed: bool = False) -> str:
        """A speed [m/s]."""
        return self._writer.number(Number("speed", si, sd, signed)).markup

    def distance(self, si: float | None, sd: float | None = None, *, signed: bool = False) -> str:
        """A horizontal distance [m]."""
        return self._writer.number(Number("distance", si, sd, signed)).markup

    def sentence(self, metric: str) -> str:
        """A ready metric text, its metres and m/s in the reader's units."""
        return self._writer.sentence(Remark(metric)).markup

    def sides(self, si: float | None, sd: float | None, positive: str, negative: str) -> str:
        """The size of a distance with a word for its sign."""
        return self._writer.number(Number("distance", si, sd, sides=(positive, negative))).markup


def bullets(items: Iterable[str]) -> str:
    """A list; nothing for none."""
    rows = [tag("li", Html(item)) for item in items]
    return tag("ul", *rows, cls="points").markup if rows else ""


def missing(text: str) -> str:
    """Why something cannot be shown."""
    return Writer("metric").block(Line(Remark(text), "missing")).markup if text else ""


def table(
    caption: str,
    head: Sequence[str],
    rows: Iterable[Sequence[str]],
    *,
    words: frozenset[int] = frozenset(),
    stacked: bool = False,
) -> str:
    """A table; ``words`` are columns of text, ``stacked`` cells go below one another on a narrow page."""

    def looks(i: int) -> str | None:
        return "word" if i in words else None

    top = [tag("th", Html(cell), scope="col", cls=looks(i)) for i, cell in enumerate(head)]
    body = []
    for first, *rest in rows:
        cells = [
            tag("td", Html(cell), cls=looks(i), data_label=head[i] if stacked else None)
            for i, cell in enumerate(rest, 1)
        ]
        body.append(tag("tr", tag("th", Html(first), scope="row"), *cells))
    inner = tag("table", tag("caption", caption), tag("thead", tag("tr", *top)), tag("tbody", *body))
    look = "table stacked" if stacked else "table"
    return tag("div", inner, cls=look, role="region", tabindex="0", aria_label=caption).markup
