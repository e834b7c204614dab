"""An evening at the desk in a real browser, from nothing: drop, click, read, correct, restart; by mouse and by keyboard alone."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import aerial_made as made
import pytest
from browser import WAIT_MS, Watched, axe_source, chromium
from desk_made import ROOT, TRACK, Client, opened_desk, sha_of

from analyser.debrief import debrief
from analyser.desk.pages.help import DOCUMENTS, help_page
from analyser.frame import LocalFrame
from analyser.report.documents.debrief import to_document
from analyser.settings.toml import read_settings

pytestmark = pytest.mark.browser

TRUE_TARGET = (49.7215, -107.9342)  # of the sample's truth
JUMP = f"/jump/{sha_of(TRACK)}-1"


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as found:
        yield found


@contextmanager
def seen(browser: Any, desk: Client, *, width: int = 1280, scheme: str = "light") -> Iterator[Watched]:
    """A fresh browser at the first address; every request and complaint of it is noted."""
    context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
    page = context.new_page()
    watched = Watched(page)
    page.on(
        "console", lambda m: watched.complaints.append(m.text) if m.type in ("error", "warning") else None
    )
    page.on("pageerror", lambda e: watched.complaints.append(str(e)))
    page.on("dialog", lambda d: (watched.complaints.append(d.message), d.dismiss()))
    context.on("request", lambda r: watched.requests.append(r.url))
    page.goto(desk.address)
    yield watched
    context.close()


def stayed_here(watched: Watched, desk: Client) -> None:
    """Nothing was complained about, and nothing was asked of anybody but the desk."""
    foreign = [r for r in watched.requests if not r.startswith((f"http://{desk.host}/", "data:", "blob:"))]
    assert foreign == []
    refused = [
        c for c in watched.complaints if "status of 4" not in c
    ]  # a refused form is told by the browser too
    assert refused == []


def drop(watched: Watched, *paths: Path) -> None:
    watched.page.set_input_files("#files", [str(path) for path in paths])


def arrived(watched: Watched, desk: Client) -> None:
    watched.page.wait_for_url(f"http://{desk.host}{JUMP}", timeout=WAIT_MS)
    watched.drawn()


def saved(watched: Watched, part: str) -> None:
    """Send the form of a part and wait for the page that comes of it."""
    with watched.page.expect_navigation(timeout=WAIT_MS):
        watched.page.click(f"{part} button[type=submit]")
    watched.drawn()


def opened_part(watched: Watched, part: str) -> None:
    if watched.page.get_attribute(part, "open") is None:
        watched.page.click(f"{part} summary")


def click_target(watched: Watched, lat: float, lon: float) -> None:
    """Click the place on the plan view, as a hand would: the place's pixel is asked of the picture."""
    page = watched.page
    origin = [float(v) for v in page.get_attribute("#desk-target input[name=origin]", "value").split(",")]
    east, north = (float(v) for v in LocalFrame(*origin).to_local(lat, lon))
    page.click("#pick-target")
    spot = page.evaluate(
        """([e, n]) => { const p = document.querySelector('[data-figure="plan-view"]'), l = p._fullLayout, b = p.getBoundingClientRect();
        const si = PAGE.systems[state.units].distance.si;
        return [b.left + l._size.l + l.xaxis.d2p(e / si), b.top + l._size.t + l.yaxis.d2p(n / si)]; }""",
        [east, north],
    )
    with page.expect_navigation(timeout=WAIT_MS):
        page.mouse.click(*spot)
    watched.drawn()


def document_of(watched: Watched, desk: Client) -> dict[str, Any]:
    """The JSON as the page's link gives it."""
    opened_part(watched, "#desk-files")
    with watched.page.expect_download() as found:
        watched.page.click("#desk-files a:text-is('JSON')")
    told: dict[str, Any] = json.loads(Path(found.value.path()).read_text(encoding="utf-8"))
    return told


@pytest.mark.slow
def test_an_evening_by_mouse(browser: Any, tmp_path: Path) -> None:
    folder = tmp_path / "evening"
    with opened_desk(folder) as desk, seen(browser, desk) as watched:
        page = watched.page
        page.wait_for_url(f"http://{desk.host}/")
        assert "None yet" in page.inner_text("main")
        drop(watched, TRACK)
        arrived(watched, desk)
        assert page.get_attribute("#desk-target", "open") is not None
        click_target(watched, *TRUE_TARGET)

        told = document_of(watched, desk)
        target = (told["frame"]["origin_lat"], told["frame"]["origin_lon"])
        assert LocalFrame(*TRUE_TARGET).to_local(*target) == pytest.approx(
            (0.0, 0.0), abs=3.0
        )  # a pixel or two
        command = to_document(debrief(TRACK, read_settings([], target=target)))
        assert told == json.loads(json.dumps(command))
        offset = told["landing"]["offset_m"]
        words = page.inner_text("main")
        assert f"{round(offset)} " in words or f"{offset:.1f} " in words
        for one in told["advice"]:
            if one["gate"] and not one["blocked_by"]:
                assert one["gate"] in words
        assert "What changed" in page.inner_text(".changed")

        opened_part(watched, "#desk-plan")
        page.fill("#f-base", "1200")
        page.click("#desk-plan button[type=submit]")
        page.wait_for_selector("#desk-plan .line.wrong")
        assert "gates out of order: pattern.downwind_ft = 1000 ft is not above pattern.base_ft = 1200 ft" in (
            page.inner_text("#desk-plan .line")
        )
        page.fill("#f-base", "700")
        saved(watched, "#desk-plan")
        assert "plan: turn onto base" in page.inner_text(".changed")
        gates = {g["gate"]: g["agl_m"] for g in document_of(watched, desk)["plan"]["gates"]}
        assert gates["base"] == pytest.approx(700 * 0.3048, abs=0.01)

        opened_part(watched, "#desk-who")
        page.fill("#f-jumper", "Ilka Norn")
        page.fill("#f-note", "first light")
        saved(watched, "#desk-who")
        assert "Ilka Norn" in page.inner_text(".masthead")
        stayed_here(watched, desk)

    with opened_desk(folder) as desk, seen(browser, desk) as watched:
        page = watched.page
        row = page.inner_text("main tbody tr")
        assert "Ilka Norn" in row
        assert "first light" in row
        page.click("main tbody th a")
        arrived(watched, desk)
        opened_part(watched, "#desk-plan")
        assert page.input_value("#f-base") == "700"
        assert page.input_value("#f-jumper") == "Ilka Norn"
        again = document_of(watched, desk)
        assert again["landing"]["offset_m"] == offset
        stayed_here(watched, desk)


def tab_to(page: Any, selector: str) -> None:
    """Press Tab until the element has the focus."""
    for _ in range(120):
        if page.evaluate("s => document.activeElement && document.activeElement.matches(s)", selector):
            return
        page.keyboard.press("Tab")
    pytest.fail(f"{selector} cannot be reached by Tab")


def by_enter(watched: Watched, selector: str) -> None:
    """Press Enter on an element and wait for the page that comes of it."""
    tab_to(watched.page, selector)
    with watched.page.expect_navigation(timeout=WAIT_MS):
        watched.page.keyboard.press("Enter")
    watched.drawn()


def typed_over(page: Any, selector: str, text: str) -> None:
    """Type into a field in place of what stands there."""
    tab_to(page, selector)
    page.keyboard.press("Control+A")
    page.keyboard.type(text)


def opened_by_key(page: Any, part: str) -> None:
    """Open a part of the page with Enter where it is closed."""
    if page.get_attribute(part, "open") is None:
        tab_to(page, f"{part} summary")
        page.keyboard.press("Enter")
        page.wait_for_selector(f"{part}[open]")


def document_by_key(watched: Watched) -> dict[str, Any]:
    """The JSON behind the page's link, by keys."""
    opened_by_key(watched.page, "#desk-files")
    tab_to(watched.page, "#desk-files a[href$='/json']")
    with watched.page.expect_download(timeout=WAIT_MS) as found:
        watched.page.keyboard.press("Enter")
    told: dict[str, Any] = json.loads(Path(found.value.path()).read_text(encoding="utf-8"))
    return told


@pytest.mark.slow
def test_an_evening_by_keyboard_alone(browser: Any, tmp_path: Path) -> None:
    """A file is handed to the chooser that Enter opened; everything else is typed."""
    with opened_desk(tmp_path / "keys") as desk, seen(browser, desk) as watched:
        page, keys = watched.page, watched.page.keyboard
        page.on(
            "filechooser", lambda chooser: chooser.set_files(str(TRACK))
        )  # before any key: it takes a moment to hold
        tab_to(page, "#files")
        page.wait_for_load_state("networkidle")
        keys.press("Enter")
        arrived(watched, desk)
        tab_to(page, "#f-target")
        keys.type("49.7215, -107.9342")
        by_enter(watched, "#f-target")
        told = document_by_key(watched)
        command = to_document(debrief(TRACK, read_settings([], target=TRUE_TARGET)))
        assert told == json.loads(json.dumps(command))
        assert f"{told['landing']['offset_m']:.1f} " in page.inner_text("main")
        opened_by_key(page, "#desk-plan")
        typed_over(page, "#f-base", "700")
        by_enter(watched, "#f-base")
        assert "plan: turn onto base" in page.inner_text(".changed")
        opened_by_key(page, "#desk-who")
        typed_over(page, "#f-jumper", "Ilka Norn")
        by_enter(watched, "#f-jumper")
        assert "Ilka Norn" in page.inner_text(".masthead")
        by_enter(watched, ".desk-nav a[href='/season']")
        assert "Ilka Norn" in page.inner_text("main")
        tab_to(page, "#desk-close")
        keys.press("Enter")
        page.wait_for_selector("text=The desk is closed")
        stayed_here(watched, desk)

    with opened_desk(tmp_path / "keys") as desk, seen(browser, desk) as watched:
        assert "Ilka Norn" in watched.page.inner_text("main tbody tr")
        by_enter(watched, "main tbody th a")
        opened_by_key(watched.page, "#desk-plan")
        assert watched.page.input_value("#f-base") == "700"
        again = document_by_key(watched)
        assert again["landing"] == told["landing"]
        gates = {gate["gate"]: gate["agl_m"] for gate in again["plan"]["gates"]}
        assert gates["base"] == pytest.approx(700 * 0.3048, abs=0.01)
        stayed_here(watched, desk)


PAGES = [
    "/",
    JUMP,
    "/season",
    "/coach",
    "/plan",
    "/plan?airspeed=18&sink=8&downwind=1000&base=600&final=300&landing=300&wind=0&wind=5&wind=300",
    "/field",
    "/help",
    "/help/season",
]


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    """A desk with three jumps and a picture of their field, one more taken in and not placed."""
    folder = tmp_path_factory.mktemp("three")
    made.draw(folder / "field.jpg")
    placed = made.points((0.0, 0.0), (300.0, -200.0))
    (folder / "logbook.toml").write_text(f'[site.picture]\nfile = "field.jpg"\n{placed}', encoding="utf-8")
    with opened_desk(folder) as client:
        for name in ("first_light.gpx", "long_spot.gpx", "late_final.gpx"):
            client.drop((TRACK.parent / name).read_bytes(), name, jumper="Ilka Norn", canopy="Curlew 260")
        mark = client.form(JUMP)
        assert client.post(f"{JUMP}/target", mark | {"target": "49.7215,-107.9342"}).status == 200
        other = sha_of(TRACK.parent / "late_final.gpx")
        placing = client.post("/field/picture", (folder / "field.jpg").read_bytes()).json["go"]
        client.done = [*PAGES, f"/beside/{JUMP.rpartition('/')[2]}/{other}-1", placing]
        yield client


@pytest.mark.slow
@pytest.mark.parametrize(
    ("width", "scheme"),
    [
        (390, "light"),
        pytest.param(1280, "dark", marks=pytest.mark.slow),
        pytest.param(390, "dark", marks=pytest.mark.slow),
        pytest.param(1600, "light", marks=pytest.mark.slow),
    ],
)
def test_every_page_stands_at_every_width(
    browser: Any, desk: Client, width: int, scheme: str, tmp_path: Path
) -> None:
    shots = Path(os.environ.get("DESK_SHOTS", tmp_path))
    with seen(browser, desk, width=width, scheme=scheme) as watched:
        for number, path in enumerate(desk.done):
            watched.page.goto(f"http://{desk.host}{path}")
            watched.drawn()
            assert watched.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), path
            name = f"{number:02}-" + (re.sub(r"\W+", "-", path[:16]).strip("-") or "start")
            watched.page.screenshot(path=str(shots / f"{name}-{width}-{scheme}.png"), full_page=True)
        watched.page.goto(f"http://{desk.host}{JUMP}")
        watched.page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
        watched.page.screenshot(path=str(shots / f"jump-open-{width}-{scheme}.png"))
        assert watched.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
        stayed_here(watched, desk)


@pytest.mark.slow
def test_every_document_is_among_the_help_and_stands_on_a_phone(browser: Any, desk: Client) -> None:
    """The whole documentation is there without a network; ``index.md`` is the list of contents of its other edition."""
    written = {path.stem for path in (ROOT / "docs").glob("*.md")} - {"index"}
    assert set(DOCUMENTS) == written
    with seen(browser, desk, width=390) as watched:
        for name in DOCUMENTS:
            watched.page.goto(f"http://{desk.host}/help/{name}")
            watched.drawn()
            assert watched.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), name
            shown = watched.page.evaluate("[...document.images].every(i => i.complete && i.naturalWidth > 0)")
            assert shown, name
            for link in watched.page.query_selector_all("main a"):
                assert (link.get_attribute("href") or "").startswith(("/help", "#")), name
        stayed_here(watched, desk)


def test_every_link_between_documents_leads_to_its_heading() -> None:
    pages = {name: help_page(name).text for name in DOCUMENTS}  # type: ignore[union-attr]
    links = [
        (name, found[1] or name, found[2])
        for name, text in pages.items()
        for found in re.finditer(r'href="(?:/help/([\w-]+))?#([^"]+)"', text.split("<main")[1])
    ]
    assert len(links) > 10
    for name, other, anchor in links:
        assert f' id="{anchor}"' in pages[other], f"{name}.md leads to {other}.md#{anchor}"


@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_serious(browser: Any, desk: Client, scheme: str) -> None:
    source = axe_source()
    with seen(browser, desk, scheme=scheme) as watched:
        for path in desk.done:
            watched.page.goto(f"http://{desk.host}{path}")
            watched.drawn()
            watched.page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
            watched.page.evaluate(source)
            found = watched.page.evaluate("() => axe.run({exclude: ['.main-svg']})")
            bad = [
                (v["id"], v["nodes"][0]["html"][:200])
                for v in found["violations"]
                if v["impact"] in ("serious", "critical")
            ]
            assert bad == [], path


@pytest.mark.slow
def test_pages_and_files_made_here_ask_nothing_of_the_network(
    browser: Any, desk: Client, tmp_path: Path
) -> None:
    page = desk.get(f"{JUMP}/file/page")
    assert page.headers["content-disposition"].startswith("attachment")
    (tmp_path / "page.html").write_bytes(page.body)
    context = browser.new_context()
    asked: list[str] = []
    context.on("request", lambda r: asked.append(r.url))
    shown = context.new_page()
    shown.goto((tmp_path / "page.html").as_uri())
    shown.wait_for_selector("html[data-drawn=yes]", state="attached", timeout=WAIT_MS)
    assert {a for a in asked if not a.startswith(("data:", "blob:"))} == {(tmp_path / "page.html").as_uri()}
    context.close()


def test_a_plan_is_printed_on_one_sheet(browser: Any, desk: Client) -> None:
    with seen(browser, desk) as watched:
        watched.page.goto(f"http://{desk.host}{PAGES[5]}")
        watched.drawn()
        pdf = watched.page.pdf(prefer_css_page_size=True)
        assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf)) == 1


def test_what_was_refused_is_counted_among_the_files(browser: Any, tmp_path: Path) -> None:
    """One track and two files that are none: three files, and the list that says why stays in view."""
    others = [tmp_path / "letter.gpx", tmp_path / "noise.fit"]
    others[0].write_text("Dear Ilka")
    others[1].write_bytes(b"\x00" * 500)
    with opened_desk(tmp_path / "evening") as desk, seen(browser, desk) as watched:
        drop(watched, TRACK, *others)
        line = watched.page.locator("#progress-line")
        line.filter(has_text="gave nothing, the list says why").wait_for(timeout=WAIT_MS)
        assert line.inner_text() == "1 jump from 3 files; 2 files gave nothing, the list says why."
        told = watched.page.inner_text("#progress-list")
        assert all(name in told for name in (TRACK.name, "letter.gpx", "noise.fit"))
