"""A story -> one self-contained HTML page."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import PurePath

from analyser.report.page.controls import controls, replay_bar
from analyser.report.page.drawings import drawings
from analyser.report.page.markup import NOTHING, Html, Part, join, tag
from analyser.report.page.recollection import recollection
from analyser.report.page.shell import page
from analyser.report.pictures.figures import Up
from analyser.report.pictures.spec import Spec
from analyser.report.story.blocks import (
    Block,
    Cell,
    Chapter,
    Code,
    Drawings,
    Line,
    Picture,
    Points,
    Sentence,
    Story,
    Sub,
    Table,
)
from analyser.sentences import Number
from analyser.units import DISPLAY_SYSTEMS

__all__ = ["Writer", "write_page"]

MINUS, HARD_SPACE = "\N{MINUS SIGN}", "\N{NO-BREAK SPACE}"


def write_page(
    story: Story,
    *,
    units: str,
    up: Up | None = None,
    turned: bool = False,
    data: Mapping[str, object] | None = None,
    replay: bool = False,
    scripts: Sequence[str] = (),
    styles: Sequence[str] = (),
    assets: PurePath | None = None,
    made_from: str = "",
) -> str:
    """The page as text. ``units``: the display system it opens in; ``turned``: whether its maps may have another side up, ``up``: which; ``data``: more for the page's scripts; ``replay``: with the bar that moves one marker through all pictures;
    ``assets``: folder, relative to the page, that holds the shared bundle (None = inside); ``made_from``: a key of
    all that it is made from, so that a later run knows whether it still stands."""
    writer = Writer(units)
    masthead, brief, chapters = writer.masthead(story), writer.brief(story), writer.story(story)
    choices = controls(units, up, writer.figures, turned=turned)
    first = [choices, recollection(story.asked, units, writer.cell)] if story.asked else []
    inside = (
        [brief, chapters] if first else [brief, choices, chapters]
    )  # what is asked comes in the reader's units too
    body = [
        tag("a", "Skip to the report", cls="skip", href="#story"),
        tag(
            "div",
            masthead,
            *first,
            tag("main", *inside, id="story", cls="veiled" if first else None),
            cls="wrap asking" if first else "wrap",
        ),
        replay_bar() if replay else None,
    ]
    return page(
        story.title,
        join(body),
        units=units,
        data={"up": up._asdict() if up is not None else None} | dict(data or {}),
        figures=writer.figures,
        scripts=[*(["moment.js"] if replay else []), *scripts, *(["recollect.js"] if story.asked else [])],
        styles=styles,
        assets=assets,
        made_from=made_from,
    )


@dataclass(slots=True)
class Writer:
    """Turns blocks into HTML in a display system; ``figures`` collects the pictures drawn on the way."""

    units: str
    figures: dict[str, Spec] = field(default_factory=dict)

    def masthead(self, story: Story) -> Html:
        """The head of the sheet."""
        facts = [tag("li", name, " ", tag("b", self.cell(value))) for name, value in story.facts]
        return tag(
            "header",
            tag("p", story.kicker, cls="kicker"),
            tag("h1", story.heading),
            tag("ul", *facts, cls="facts") if facts else None,
            cls="masthead",
        )

    def brief(self, story: Story) -> Html:
        """The lines that say it all, the small map beside them, the ways to the chapters."""
        if not story.brief:
            return NOTHING
        links = [tag("a", c.title, href=f"#{c.anchor}") for c in story.chapters]
        picture = self.figure(story.map, small=True) if story.map is not None else NOTHING
        return tag(
            "section",
            tag("h2", "In short", id="brief-title", cls="unseen"),
            tag("div", self.lines(story), picture, cls="short"),
            tag("nav", *links, cls="ways", aria_label="Chapters"),
            cls="brief",
            id="brief",
            aria_labelledby="brief-title",
        )

    def lines(self, story: Story) -> Html:
        """The lines that say it all, with their names."""
        rows = [join([tag("dt", name), tag("dd", self.sentence(text))]) for name, text in story.brief]
        return tag("dl", *rows)

    def story(self, story: Story) -> Html:
        """Every chapter and the foot."""
        chapters = [self.chapter(number, c) for number, c in enumerate(story.chapters, 1)]
        foot = tag("footer", *map(self.block, story.foot), cls="colophon") if story.foot else None
        return join([*chapters, foot])

    def chapter(self, number: int, chapter: Chapter) -> Html:
        """Words and numbers first, pictures beside them on a wide page."""
        pictures = [self.figure(p) for p in chapter.pictures]
        beside = join(pictures)
        heading = tag("span", str(number), cls="no", aria_hidden="true")
        return tag(
            "section",
            tag("h2", heading, chapter.title, id=f"{chapter.anchor}-title"),
            tag(
                "div",
                tag("div", *map(self.block, chapter.blocks), cls="words"),
                tag("div", beside, cls="pictures") if beside else None,
                cls="beside has-pictures" if beside else "beside",
            ),
            cls="chapter",
            id=chapter.anchor,
            aria_labelledby=f"{chapter.anchor}-title",
        )

    def figure(self, picture: Picture, *, small: bool = False) -> Html:
        """A slot for a picture; nothing where there is nothing to draw."""
        spec = picture.draw()
        if spec is None or not spec["data"]:
            return NOTHING
        self.figures[picture.name] = spec
        plot = tag("div", cls="plot", data_figure=picture.name, role="img", aria_label=picture.alternative)
        caption = tag("figcaption", tag("b", f"{picture.title}."), " ", tag("span", picture.text))
        return tag("figure", tag("div", plot, cls="stage"), caption, cls="small noprint" if small else None)

    def block(self, block: Block) -> Html:
        """One block."""
        if isinstance(block, Line):
            said = self.sentence(block.text)
            if block.look == "change":
                return tag("div", tag("p", said), cls="change")
            return tag("p", said, cls=None if block.look == "plain" else block.look)
        if isinstance(block, Points):
            items = [tag("li", self.sentence(item)) for item in block.items]
            return tag("ul", *items, cls="points causes" if block.ranked else "points")
        if isinstance(block, Sub):
            return tag("h3", block.title)
        if isinstance(block, Table):
            return self.table(block)
        if isinstance(block, Drawings):
            return drawings(block, self.sentence)
        if isinstance(block, Code):
            return tag("pre", block.text, cls="noprint", tabindex="0")
        inner = join(map(self.block, block.blocks))
        return tag("details", tag("summary", block.title), inner, cls="noprint") if block.title else inner

    def table(self, block: Table) -> Html:
        """A table with real headings; ``stacked`` cells carry their column's name, for a style that puts them below one another."""
        labels = [_text(cell) for cell in block.head] if block.stacked else []
        head = [
            tag("th", self.cell(cell), scope="col", cls="word" if i in block.words else None)
            for i, cell in enumerate(block.head)
        ]
        rows = [self._row(row, block.words, labels) for row in block.rows]
        total = tag("tfoot", self._row(block.total, block.words, ())) if block.total else None
        return tag(
            "div",
            tag(
                "table",
                tag("caption", block.caption),
                tag("thead", tag("tr", *head)),
                tag("tbody", *rows),
                total,
            ),
            cls="table stacked" if block.stacked else "table",
            role="region",
            tabindex="0",
            aria_label=block.caption,
        )

    def _row(self, cells: Sequence[Cell], words: frozenset[int], labels: Sequence[str]) -> Html:
        rest = [
            tag(
                "td",
                self.cell(cell),
                cls="word" if i in words else None,
                data_label=labels[i] if labels else None,
            )
            for i, cell in enumerate(cells[1:], 1)
        ]
        return tag("tr", tag("th", self.cell(cells[0]), scope="row"), *rest)

    def cell(self, cell: Cell) -> Part:
        """A cell of any kind."""
        if isinstance(cell, Number):
            return self.number(cell)
        return cell if isinstance(cell, str) else self.sentence(cell)

    def sentence(self, text: Sentence) -> Html:
        """Words with their numbers, as a link where it leads somewhere."""
        said = self.words(text.pieces())
        return tag("a", said, href=text.link) if text.link else said

    def words(self, parts: Iterable[str | Number]) -> Html:
        """Words and numbers one after the other."""
        return join([self.number(p) if isinstance(p, Number) else p for p in parts])

    def number(self, number: Number) -> Html:
        """A number with its error and unit, so marked that the page can change its unit."""
        text = number.text(DISPLAY_SYSTEMS[self.units]).replace("-", MINUS)
        size, sd = number.size, number.sd
        known = sd is not None and math.isfinite(sd) and sd > 0.0
        empty = not known if number.alone else size is None or not math.isfinite(size)
        if not number.switched or empty:
            return join([text if number.switched else text.replace(" ", HARD_SPACE)])
        shown = text.removesuffix(f" {number.word}") if number.word else text
        span = tag(
            "span",
            shown,
            data_q=number.quantity,
            data_v=None if number.alone else f"{size:.3f}",
            data_sd=f"{sd:.3f}" if known else None,
            data_signed=number.signed,
            data_bare=number.bare,
        )
        return join([span, f" {number.word}" if number.word else None])


def _text(cell: Cell) -> str:
    return cell if isinstance(cell, str) else cell.text()
