"""Parts of forms: labelled fields, lists to choose from, and the line in which a refusal stands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from analyser.desk.measures import Measure
from analyser.desk.work import escape

__all__ = ["area", "choices", "field", "fold", "form", "measured", "pick", "quantity", "unit_mark"]


def field(name: str, label: str, value: object = "", *, choices: str = "", hint: str = "") -> str:
    """A labelled line to type in; ``choices`` the id of a list of proposals, ``hint`` what stands below."""
    proposals = f' list="{choices}"' if choices else ""
    told = f' aria-describedby="f-{name}-hint"' if hint else ""
    below = f'<small id="f-{name}-hint">{escape(hint)}</small>' if hint else ""
    shown = escape("" if value is None else value)
    return (
        f'<p class="field"><label for="f-{name}">{escape(label)}</label>'
        f'<input type="text" id="f-{name}" name="{name}" value="{shown}" maxlength="300" autocomplete="off"{proposals}{told}>{below}</p>'
    )


def quantity(
    name: str, label: str, value: str, measure: Measure, *, exact: float | None = None, hint: str = ""
) -> str:
    """A labelled line for a number in the reader's units; ``exact`` its SI value where that is known to more digits than are shown."""
    told = f' aria-describedby="f-{name}-hint"' if hint else ""
    below = f'<small id="f-{name}-hint">{escape(hint)}</small>' if hint else ""
    return (
        f'<p class="field"><label for="f-{name}">{escape(label)} [{unit_mark(measure)}]</label>'
        f'<input type="text" id="f-{name}" name="{name}"{measured(value, measure, exact)} maxlength="30" autocomplete="off"{told}>{below}</p>'
    )


def measured(value: str, measure: Measure, exact: float | None = None) -> str:
    """The value of a field with what the desk's script needs to show it in other units."""
    known = f' data-si="{exact!r}" data-shown="{escape(value)}"' if exact is not None and value else ""
    return f' value="{escape(value)}" data-quantity="{measure.quantity}"{known}'


def unit_mark(measure: Measure) -> str:
    """The label of a unit, which follows the units of the page."""
    return f'<span data-q="{measure.quantity}">{escape(measure.label)}</span>'


def pick(name: str, label: str, options: Mapping[str, str], chosen: str = "") -> str:
    """A labelled choice: value → what is shown."""
    rows = "".join(
        f'<option value="{escape(value)}"{" selected" if value == chosen else ""}>{escape(text)}</option>'
        for value, text in options.items()
    )
    return f'<p class="field"><label for="f-{name}">{escape(label)}</label><select id="f-{name}" name="{name}">{rows}</select></p>'


def choices(name: str, options: Iterable[str]) -> str:
    """A list of proposals for fields."""
    rows = "".join(f'<option value="{escape(one)}"></option>' for one in options)
    return f'<datalist id="{name}">{rows}</datalist>'


def form(address: str, inside: str, button: str, *, hidden: Mapping[str, object] | None = None) -> str:
    """A form that the desk's script sends to ``address``; what is wrong is said in its last line."""
    kept = "".join(
        f'<input type="hidden" name="{name}" value="{escape(value)}">'
        for name, value in (hidden or {}).items()
    )
    return (
        f'<form class="desk-form" data-post="{escape(address)}">{kept}{inside}'
        f'<p class="send"><button type="submit">{escape(button)}</button> <span class="line" role="status"></span></p></form>'
    )


def fold(title: str, inside: str, *, opened: bool = False, name: str = "") -> str:
    """A part that opens when asked."""
    mark = f' id="{name}"' if name else ""
    return f"<details{mark}{' open' if opened else ''}><summary>{escape(title)}</summary>{inside}</details>"


def area(label: str, inside: str) -> str:
    """A part of the page beside its story."""
    return f'<aside class="wrap desk-panel noprint" aria-label="{escape(label)}">{inside}</aside>\n'
