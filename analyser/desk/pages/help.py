"""Help: the documents for users, offline."""

from __future__ import annotations

import html
import re
from importlib.resources import files
from pathlib import Path
from typing import Final

from analyser.desk.dress import Dressed, own_page

__all__ = ["DOCUMENTS", "help_page", "help_picture"]

DOCUMENTS: Final = {
    "first-evening": "A first evening at the desk",
    "reading-the-page": "How to read the page",
    "plans-and-sites": "Plans and sites",
    "recording": "How to record a good track",
    "quality-notes": "Remarks on a recording",
    "season": "A season",
    "load": "One load",
    "faq": "Questions and answers",
    "limits": "What no track can tell",
    "nomenclature": "Words",
    "installing": "Installing",
    "first-debrief": "The same with the command",
    "interface": "Options, input files, JSON",
    "exchange-files": "Files for other programs",
    "api": "From Python",
    "method": "How the winds are found",
    "pattern": "How the pattern is judged",
    "synthetic": "Made-up jumps",
    "robustness": "What was tried to break it",
}


def _folder() -> Path | None:
    """Where the documents are: in the package as installed, beside it in a checkout."""
    places = (Path(str(files("analyser.desk"))) / "help", Path(str(files("analyser"))).parent / "docs")
    return next((place for place in places if (place / "limits.md").is_file()), None)


def help_page(name: str) -> Dressed | None:
    """One document, or the list of them for ""; None where there is no such one. Markup in a document is never let through."""
    from markdown_it import MarkdownIt

    if name and name not in DOCUMENTS:
        return None
    folder = _folder()
    rows = "".join(
        f'<li><a href="/help/{key}"{" aria-current=page" if key == name else ""}>{title}</a></li>'
        for key, title in DOCUMENTS.items()
        if folder is not None and (folder / f"{key}.md").is_file()
    )
    contents = f'<nav aria-label="Documents"><ul class="plain">{rows}</ul></nav>'
    if not name or folder is None or not (folder / f"{name}.md").is_file():
        return own_page("Help", contents, "/help", kicker="The documents, offline") if not name else None
    text = (folder / f"{name}.md").read_text(encoding="utf-8")
    title, _, rest = text.partition("\n")
    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    return own_page(title.lstrip("# "), contents + _led(str(reader.render(rest))), "/help", kicker="Help")


def _led(text: str) -> str:
    """Links between documents lead to the desk's addresses; those that leave the machine become text; tables can scroll."""

    def link(found: re.Match[str]) -> str:
        address, said = found[1], found[2]
        stem, _, mark = address.partition("#")
        name = stem.removesuffix(".md").removeprefix("docs/")
        if not stem:
            return found[0]
        if name in DOCUMENTS:
            return f'<a href="/help/{name}{"#" + mark if mark else ""}">{said}</a>'
        return str(said)

    text = re.sub(r'<a href="([^"]*)">(.*?)</a>', link, text, flags=re.DOTALL)
    text = re.sub(r'<img src="(?:docs/)?img/([\w-]+\.png)"', r'<img class="shot" src="/help/img/\1"', text)
    text = re.sub(r"<(h[1-6])>(.*?)</\1>", _anchored, text, flags=re.DOTALL)
    text = text.replace(
        "<table>", '<div class="table words" role="region" tabindex="0" aria-label="Table"><table>'
    )
    text = text.replace("<pre>", '<pre tabindex="0">')
    return text.replace("</table>", "</table></div>")


def _anchored(found: re.Match[str]) -> str:
    words = html.unescape(re.sub(r"<[^>]*>", "", found[2]))
    plain = re.sub(r"[^\w\s-]", "", words).strip().lower()
    return f'<{found[1]} id="{re.sub(r"[ ]", "-", plain)}">{found[2]}</{found[1]}>'


def help_picture(name: str) -> bytes | None:
    """A picture of the documents; None for any name that is none of theirs."""
    folder = _folder()
    if folder is None or name not in {path.name for path in (folder / "img").glob("*.png")}:
        return None
    return (folder / "img" / name).read_bytes()
