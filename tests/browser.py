"""A headless Chromium for the page tests: flags, watched pages, and a clear skip where there is none."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
WAIT_MS = 180_000  # for a machine with other work; what is there already is not waited for
ROOT = Path(__file__).resolve().parent.parent
NAMES = ("chromium", "chromium-browser", "google-chrome")


def no_browser() -> bool:
    """Whether there is no Chromium here, or nothing to drive it."""
    return find_spec("playwright") is None or not any(map(shutil.which, NAMES))


@contextmanager
def chromium() -> Iterator[Any]:
    """A browser; skips where there is none, unless CI is set: then its absence is an error."""
    path = next((p for p in map(shutil.which, NAMES) if p), None)
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        path, sync_playwright = None, None
    if path is None or sync_playwright is None:
        if os.environ.get("CI"):
            pytest.fail("CI needs playwright and a Chromium")
        pytest.skip("no playwright or no Chromium on this machine")
    with sync_playwright() as tool:
        browser = tool.chromium.launch(executable_path=path, args=FLAGS)
        yield browser
        browser.close()


@dataclass
class Watched:
    """An open page and everything it complained about or asked for."""

    page: Any
    complaints: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    def drawn(self) -> None:
        """Wait until every picture is drawn."""
        self.page.wait_for_selector("html[data-drawn=yes]", state="attached", timeout=WAIT_MS)

    def drawn_again(self) -> None:
        """Wait until every picture is drawn as the window is now: its resize event comes before the second frame, and a timer
        of the page's own that was set in it ends before one of 150 ms that is set later, however slow the machine."""
        self.page.evaluate(
            "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done, 150))))"
        )
        self.drawn()


@contextmanager
def opened(browser: Any, file: Path, *, width: int = 1600, scheme: str = "light") -> Iterator[Watched]:
    """The page at ``file`` in a fresh, offline context."""
    context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme, offline=True)
    context.set_default_timeout(WAIT_MS)
    page = context.new_page()
    watched = Watched(page)
    page.on(
        "console", lambda m: watched.complaints.append(m.text) if m.type in ("error", "warning") else None
    )
    page.on("pageerror", lambda e: watched.complaints.append(str(e)))
    page.on("dialog", lambda d: (watched.complaints.append(d.message), d.dismiss()))
    page.on("request", lambda r: watched.requests.append(r.url))
    page.goto(file.as_uri())
    watched.drawn()
    yield watched
    context.close()


def cut_off(seen: Watched) -> list[str]:
    """Names of the tables of a page that are wider than their place."""
    found: list[str] = seen.page.evaluate(
        "() => [...document.querySelectorAll('main .table')].filter(t => t.scrollWidth > t.clientWidth + 1).map(t => t.ariaLabel)"
    )
    return found


def axe_source() -> str:
    """axe-core, as the package axe-playwright-python brings it, or from the file that AXE_JS names."""
    package = find_spec("axe_playwright_python")
    inside = Path(package.origin).parent / "axe.min.js" if package and package.origin else ROOT / "axe.min.js"
    found = Path(os.environ.get("AXE_JS", inside))
    if not found.is_file():
        if os.environ.get("CI"):
            pytest.fail("CI needs axe-core: make setup-test")
        pytest.skip("axe-core is not installed: make setup-test")
    return found.read_text(encoding="utf-8")
