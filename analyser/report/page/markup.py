"""HTML by type: text that is already HTML is an :class:`Html`, everything else is escaped on the way in."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NoReturn

from analyser.report.plain import escape

__all__ = ["NOTHING", "Html", "Part", "join", "tag"]

MISUSE = "HTML goes into HTML through tag() or join(), never into a text"
VOID = ("input", "meta", "br")


@dataclass(frozen=True, slots=True)
class Html:
    """Text that is HTML already. Only :func:`join` and :func:`tag` make one."""

    markup: str

    def __bool__(self) -> bool:
        return bool(self.markup)

    def __str__(self) -> NoReturn:
        raise TypeError(MISUSE)

    def __format__(self, spec: str) -> NoReturn:
        raise TypeError(MISUSE)

    def __add__(self, other: Html) -> Html:
        return Html(self.markup + other.markup)


NOTHING = Html("")
Part = Html | str | None


def join(parts: Iterable[Part], between: str = "") -> Html:
    """Parts one after the other: texts are escaped, HTML stays as it is, None is left out."""
    made = (p.markup if isinstance(p, Html) else escape(p) for p in parts if p is not None)
    return Html(escape(between).join(made))


def tag(name: str, /, *children: Part, **attributes: str | bool | None) -> Html:
    """An element. ``cls`` stands for class, ``for_`` for for, ``data_q`` for data-q; True is an attribute without value, None and
    False none.

    >>> tag("p", "a < b", tag("b", "c"), cls="lead").markup
    '<p class="lead">a &lt; b<b>c</b></p>'
    """
    parts = [name]
    for key, value in attributes.items():
        label = {"cls": "class", "for_": "for", "type_": "type"}.get(key, key.replace("_", "-"))
        if value is True:
            parts.append(label)
        elif isinstance(value, str):
            parts.append(f'{label}="{escape(value)}"')
    opening = f"<{' '.join(parts)}>"
    return Html(opening if name in VOID else f"{opening}{join(children).markup}</{name}>")
