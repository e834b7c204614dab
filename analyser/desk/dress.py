"""dress: a finished page of the report, with the desk's head, its forms and its script around it."""

from __future__ import annotations

import re
from typing import Final, NamedTuple

from analyser.desk.guard import policy
from analyser.desk.measures import UNITS
from analyser.desk.work import CAUTIONS, Html, bullets, escape, page

__all__ = ["PLACES", "Dressed", "dress", "own_page"]

PLACES: Final = (
    ("/", "Start"),
    ("/season", "Season"),
    ("/coach", "Coach"),
    ("/plan", "Plan"),
    ("/field", "Field"),
    ("/help", "Help"),
)
_POLICY: Final = re.compile(r'<meta http-equiv="Content-Security-Policy" content="([^"]*)">\n?')
_HASH: Final = re.compile(r"'sha256-[A-Za-z0-9+/=]+'")
_BUNDLE: Final = re.compile(r'<script src="[^"]*?([\w.-]+\.js)"></script>')


class Dressed(NamedTuple):
    """A page's text and the content policy it is sent with."""

    text: str
    policy: str


def dress(text: str, here: str, above: str = "", below: str = "") -> Dressed:
    """``text``: a whole page of the report; ``here`` the place it belongs to; ``above`` and ``below``: ready HTML.

    Its own policy, made for a file that is passed on, gives way to the desk's: the same scripts by their hashes, and the desk's.
    """
    found = _POLICY.search(text)
    hashes = _HASH.findall(found[1]) if found else []
    text = _POLICY.sub("", text, count=1)
    text = _BUNDLE.sub(r'<script src="/static/\1"></script>', text)
    text = text.replace(
        "</head>",
        '<link rel="icon" href="data:,">\n<link rel="stylesheet" href="/static/desk.css">\n</head>',
        1,
    )
    text = text.replace("<body>", f"<body>\n{_head(here)}{above}", 1)
    cautions = "" if 'id="cautions"' in text else _foot()
    last = f'{below}{cautions}<script src="/static/desk.js"></script>\n</body>'
    head, _, tail = text.rpartition("</body>")
    return Dressed(head + last + tail, policy(hashes))


def own_page(title: str, main: str, here: str, *, kicker: str = "", units: str = UNITS) -> Dressed:
    """A page of the desk's own: ``main`` ready HTML below the title; ``units`` the display system of its numbers."""
    over = f'<p class="kicker">{escape(kicker)}</p>' if kicker else ""
    body = (
        f'<div class="wrap"><header class="masthead">{over}<h1>{escape(title)}</h1></header>'
        f'<main id="content">{main}</main></div>'
    )
    return dress(page(title, Html(body), units=units), here)


def _head(here: str) -> str:
    links = "".join(
        f'<li><a href="{path}"{" aria-current=page" if path == here else ""}>{name}</a></li>'
        for path, name in PLACES
    )
    return (
        '<nav class="desk-nav noprint" aria-label="Desk"><div class="wrap"><b>crabline desk</b>'
        f'<ul>{links}</ul><button type="button" id="desk-close">Close</button></div></nav>\n'
    )


def _foot() -> str:
    return (
        '<footer class="wrap desk-cautions" aria-label="Cautions"><p><b>Cautions</b></p>'
        f"{bullets(map(escape, CAUTIONS))}</footer>\n"
    )
