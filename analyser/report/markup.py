"""Building blocks of a page: chapters, tables with real headings, figures with captions and text alternatives."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from analyser.report.page.shell import escape

__all__ = ["bullets", "chapter", "figure", "missing", "sentence", "table"]

WORD = ' class="word"'


def chapter(
    number: int, anchor: str, title: str, words: str, pictures: str = "", *, pair: bool = False
) -> str:
    """A chapter: words and numbers first, pictures beside them on a wide page."""
    beside = f'<div class="pictures{" pair" if pair else ""}">{pictures}</div>' if pictures else ""
    layout = "beside has-pictures" if pictures else "beside"
    return (
        f'<section class="chapter" id="{anchor}" aria-labelledby="{anchor}-title">'
        f'<h2 id="{anchor}-title"><span class="no" aria-hidden="true">{number}</span>{escape(title)}</h2>'
        f'<div class="{layout}"><div class="words">{words}</div>{beside}</div></section>'
    )


def figure(name: str, title: str, text: str, alternative: str) -> str:
    """A picture slot: ``title`` and ``text`` (HTML) are the caption, ``alternative`` (plain) what a listener is told."""
    return (
        f'<figure><div class="stage"><div class="plot" data-figure="{name}" role="img" '
        f'aria-label="{escape(alternative)}"></div></div>'
        f"<figcaption><b>{escape(title)}.</b> <span>{text}</span></figcaption></figure>"
    )


def table(
    caption: str,
    head: Sequence[str],
    rows: Iterable[Sequence[str]],
    *,
    total: Sequence[str] | None = None,
    words: frozenset[int] = frozenset(),
    stacked: bool = False,
) -> str:
    """A table of ready cells; the first cell of a row is its heading; ``words`` are columns of text rather than numbers.

    ``stacked``: cells carry their column's name, for a style that puts them below one another on a narrow page.
    """
    top = "".join(f'<th scope="col"{WORD if i in words else ""}>{cell}</th>' for i, cell in enumerate(head))
    body = "".join(_row(row, words, head if stacked else ()) for row in rows)
    foot = f"<tfoot>{_row(total, words)}</tfoot>" if total else ""
    return (
        f'<div class="table{" stacked" if stacked else ""}" role="region" tabindex="0" aria-label="{escape(caption)}"><table><caption>{escape(caption)}</caption>'
        f"<thead><tr>{top}</tr></thead><tbody>{body}</tbody>{foot}</table></div>"
    )


def _row(cells: Sequence[str], words: frozenset[int], labels: Sequence[str] = ()) -> str:
    names = [f' data-label="{label}"' for label in labels] or [""] * len(cells)
    rest = "".join(f"<td{WORD if i in words else ''}{names[i]}>{c}</td>" for i, c in enumerate(cells[1:], 1))
    return f'<tr><th scope="row">{cells[0]}</th>{rest}</tr>'


def bullets(items: Iterable[str], kind: str = "points") -> str:
    """A list of ready HTML items; nothing for none."""
    rows = "".join(f"<li>{item}</li>" for item in items)
    return f'<ul class="{kind}">{rows}</ul>' if rows else ""


def sentence(text: str) -> str:
    """Escaped text with a capital at its beginning and a stop at its end."""
    ends = "" if text.endswith((".", "!", "?")) else "."
    return escape(text[:1].upper() + text[1:] + ends) if text else ""


def missing(text: str) -> str:
    """Why something can not be shown."""
    return f'<p class="missing">{sentence(text)}</p>' if text else ""
