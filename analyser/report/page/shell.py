"""The page around any report: head with content security policy, styles, data, scripts; nothing from the network.

The body comes in as :class:`~analyser.report.page.markup.Html`; data goes through :func:`json_for_script`. Scripts run by their
hash only, so that even a tag that slipped in could not run.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from pathlib import Path, PurePath
from typing import Any
from urllib.parse import quote

from analyser._version import __version__
from analyser.errors import OutputError
from analyser.report.page.markup import Html
from analyser.report.pictures.palette import css_variables, dark_of
from analyser.report.pictures.spec import Spec
from analyser.report.plain import escape
from analyser.units import DISPLAY_SYSTEMS
from analyser.writing import write_text

__all__ = ["PAGE_SCRIPTS", "bundle_name", "display_systems", "json_for_script", "page", "write_assets"]

PAGE_SCRIPTS: tuple[str, ...] = ("quantities.js", "pictures.js", "page.js")
_BUNDLE_VERSION = re.compile(r"plotly\.js \(basic[^)]*\) v([\d.]+)")
_UNSAFE_IN_SCRIPT = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"}


def json_for_script(value: object) -> str:
    """JSON that can stand in a script element: no ``<``, ``>``, ``&``, U+2028 or U+2029 in it; NaN is refused."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for character, code in _UNSAFE_IN_SCRIPT.items():
        text = text.replace(character, code)
    return text


def display_systems() -> dict[str, dict[str, dict[str, Any]]]:
    """The display systems as the page's scripts read them: quantity → label, SI value of one unit, usual step."""
    return {
        name: {
            quantity: {"label": unit.label, "si": unit.si, "step": unit.step}
            for quantity, unit in (
                ("height", s.height),
                ("speed", s.speed),
                ("distance", s.distance),
                ("far", s.far),
            )
        }
        for name, s in DISPLAY_SYSTEMS.items()
    }


def page(
    title: str,
    body: Html,
    *,
    units: str = "us",
    data: Mapping[str, object] | None = None,
    figures: Mapping[str, Spec] | None = None,
    scripts: Sequence[str] = (),
    styles: Sequence[str] = (),
    assets: PurePath | None = None,
    lang: str = "en",
    made_from: str = "",
) -> str:
    """A whole HTML document.

    ``title`` plain text; ``body`` the rest. ``figures``: name → figure as plain dicts with quantities in ``meta`` (see
    ``spec.py``), drawn into ``<div class="plot" data-figure="name">``; without figures no plotting library is put in.
    ``data`` is merged into the page's JSON; ``scripts`` and ``styles`` name further files of the assets folder.
    ``assets``: folder, relative to the page, that holds the shared bundle (see :func:`write_assets`); None = inside.
    """
    payload = {
        "units": units,
        "systems": display_systems(),
        "dark": dark_of(),
        "figures": _carried_once(figures or {}),
    } | dict(data or {})
    own = "\n".join(_asset(name) for name in (*PAGE_SCRIPTS, *scripts))
    css = css_variables() + "\n".join(_asset(name) for name in ("page.css", *styles))
    bundle, sources = _bundle_tag(assets) if figures else ("", [])
    policy = _policy([*sources, _hash(own)])
    return (
        f'<!DOCTYPE html>\n<html lang="{lang}">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="referrer" content="no-referrer">\n'
        f'<meta name="generator" content="crabline {escape(__version__)}">\n'
        + (f'<meta name="made-from" content="{escape(made_from)}">\n' if made_from else "")
        + f"<title>{escape(title)}</title>\n<style>\n{css}\n</style>\n</head>\n<body>\n{body.markup}\n"
        f'<script type="application/json" id="page-data">{json_for_script(payload)}</script>\n'
        f"{bundle}<script>{own}</script>\n</body>\n</html>\n"
    )


def _carried_once(figures: Mapping[str, Spec]) -> dict[str, Spec]:
    """The figures, a picture that lies under several of them carried by the first alone; the others name it: ``#figure/number``."""
    carried: dict[str, str] = {}
    shared: dict[str, Spec] = {}
    for name, figure in figures.items():
        images = figure["layout"].get("images", ())
        rows = [image | {"source": carried.get(image["source"], image["source"])} for image in images]
        for i, image in enumerate(images):
            carried.setdefault(image["source"], f"#{name}/{i}")
        shared[name] = figure | {"layout": figure["layout"] | {"images": rows}} if rows else figure
    return shared


def write_assets(folder: Path) -> Path:
    """Put the plotting bundle into ``folder`` (made where missing) and return its path; a present one is kept.

    Raises OutputError where the folder can not be made or written.
    """
    target, code = folder / bundle_name(), _bundle()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if target.is_file() and target.read_bytes() == code.encode():
            return target
    except OSError as error:
        reason = (error.strerror or type(error).__name__).lower()
        raise OutputError(f"can not be made ({reason})", "name another folder", str(folder)) from None
    write_text(target, code)
    return target


def bundle_name() -> str:
    """File name of the shared bundle; carries the version, so that pages of two versions can share a folder."""
    version = _BUNDLE_VERSION.search(_bundle()[:400])
    return f"plotly-basic-{version[1] if version else 'unknown'}.min.js"


def _bundle_tag(assets: PurePath | None) -> tuple[str, list[str]]:
    code = _bundle()
    if assets is None:
        return f"<script>{code}</script>\n", [_hash(code)]
    address = quote((assets / bundle_name()).as_posix())
    return f'<script src="{address}"></script>\n', ["'self'", "file:"]


def _policy(script_sources: Sequence[str]) -> str:
    return (
        f"default-src 'none'; script-src {' '.join(script_sources)}; style-src 'unsafe-inline'; "
        "img-src data: blob:; base-uri 'none'; form-action 'none'"
    )


def _hash(code: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(code.encode()).digest()).decode()}'"


@cache
def _asset(name: str) -> str:
    return files("analyser.report.page").joinpath("assets", name).read_text(encoding="utf-8")


@cache
def _bundle() -> str:
    """The plotting library with what the pictures need of it (lines, points, bars): a quarter of the whole one (MIT licence beside it)."""
    return _asset("plotly-basic.min.js").replace("\r\n", "\n").replace("</script", "<\\/script")
