"""The page in a real browser: draws everywhere, asks nothing, switches work, prints on two sheets, is accessible."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path, PurePath
from typing import Any

import numpy as np
import pytest
from browser import Watched, axe_source, chromium, cut_off, opened
from fake_debrief import bare_debrief, fake_debrief, no_jump

from analyser.debrief import Debrief, debrief
from analyser.report.page.pages import render_comparison, render_page
from analyser.report.page.shell import write_assets
from analyser.report.pictures.figures import specs, up_direction
from analyser.report.pictures.palette import DARK, LIGHT
from analyser.report.pictures.spec import displayed
from analyser.settings.toml import read_settings
from analyser.units import DISPLAY_SYSTEMS

pytestmark = pytest.mark.browser

ROOT = Path(__file__).parents[2]
SAMPLES = sorted(p for p in (ROOT / "sample_tracks").glob("*") if p.suffix in (".gpx", ".fit"))
AT_ONCE = ("first_light",)  # the others with the long tests
LOOKS = [(w, s) for w in (390, 900, 1600) for s in ("light", "dark")]
EVIL = "</script><script>alert(1)</script><img src=x onerror=alert(2)>\x1b[31m\u202e"
DRAWN = "() => [...document.querySelectorAll('.plot')].map(p => [p.dataset.figure, p.querySelectorAll('.main-svg .trace path, .main-svg .trace text').length])"


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as found:
        yield found


@pytest.fixture(scope="module")
def full() -> Debrief:
    return fake_debrief()


@pytest.fixture(scope="module")
def file(full: Debrief, tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("page") / "debrief of a jump.html"
    target.write_text(render_page(full), encoding="utf-8")
    return target


def sound(seen: Watched, file: Path) -> None:
    """Nothing complained, nothing asked for but the file, every picture drawn, no sideways scrolling."""
    assert seen.complaints == []
    assert {r for r in seen.requests if not r.startswith(("data:", "blob:"))} == {file.as_uri()}
    drawn = seen.page.evaluate(DRAWN)
    assert len(drawn) == len(seen.page.evaluate("Object.keys(PAGE.figures)"))
    assert all(count > 0 for _, count in drawn), drawn
    assert seen.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def change_look(seen: Watched, width: int, scheme: str) -> None:
    """Another width and colour scheme, without loading again."""
    seen.page.set_viewport_size({"width": width, "height": 900})
    seen.page.emulate_media(color_scheme=scheme)
    seen.drawn_again()


@pytest.mark.parametrize(
    "sample",
    [s if s.stem in AT_ONCE else pytest.param(s, marks=pytest.mark.slow) for s in SAMPLES],
    ids=lambda p: p.stem,
)
def test_every_sample_opens(browser: Any, sample: Path, tmp_path: Path) -> None:
    plan = ROOT / "shared" / "plans" / f"{sample.stem}.toml"
    made = render_page(debrief(sample, read_settings([plan]) if plan.is_file() else None))
    file = tmp_path / f"{sample.stem}.html"
    file.write_text(made, encoding="utf-8")
    turn = SAMPLES.index(sample)
    with opened(browser, file, width=LOOKS[turn % 6][0], scheme=LOOKS[turn % 6][1]) as seen:
        sound(seen, file)
        assert sheets(seen) <= 2
        for width in (390, 1200):
            change_look(seen, width, "light")
            assert cut_off(seen) == []


def sheets(seen: Watched) -> int:
    """Number of A4 pages in print."""
    pdf = seen.page.pdf(format="A4", prefer_css_page_size=True, print_background=True)
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


@pytest.mark.slow
def test_all_widths_and_both_schemes(browser: Any, file: Path) -> None:
    with opened(browser, file, width=390, scheme="dark") as seen:
        for width, scheme in LOOKS:
            change_look(seen, width, scheme)
            sound(seen, file)
            used = seen.page.evaluate(
                "JSON.stringify([...document.querySelectorAll('.plot')].map(p => [p.data, p.layout]))"
            )
            other = (LIGHT if scheme == "dark" else DARK).values()
            assert not [c for c in other if f'"{c}"' in used]
            ground = seen.page.evaluate("document.querySelector('.plot').layout.paper_bgcolor")
            assert ground == (DARK if scheme == "dark" else LIGHT)["sheet"]
            assert flat(seen, "plan-view")


def flat(seen: Watched, name: str) -> bool:
    """Whether one metre is as long across as along on a map."""
    per_pixel = seen.page.evaluate(
        "n => { const l = document.querySelector(`[data-figure=${n}]`)._fullLayout;"
        " return [l.xaxis, l.yaxis].map(a => Math.abs(a.range[1] - a.range[0]) / a._length) }",
        name,
    )
    return bool(per_pixel[0] == pytest.approx(per_pixel[1], rel=0.01))


@pytest.fixture(scope="module")
def wide(browser: Any, file: Path) -> Iterator[Watched]:
    """One open page that several tests use one after the other; each sets what it needs."""
    with opened(browser, file, width=1600) as seen:
        yield seen


@pytest.mark.parametrize("units", ["metric", "uk", "nordic", "us"])
def test_unit_switch_gives_what_python_gives(wide: Watched, file: Path, full: Debrief, units: str) -> None:
    wanted = re.findall(r'<span data-q="\w+"[^>]*>([^<]*)<', render_page(full, units=units))
    wide.page.select_option("select[name=units]", units)
    wide.drawn()
    shown = wide.page.evaluate("[...document.querySelectorAll('span[data-q]')].map(n => n.textContent)")
    assert shown == wanted
    for name, spec in specs(full).items():
        compare_data(wide, name, displayed(spec, units))
    sound(wide, file)


def test_page_rounds_as_python_does(wide: Watched) -> None:
    rng = np.random.default_rng(20260614)
    rows = [
        (float(v), float(s) if k % 4 else None, bool(k % 3))
        for k, (v, s) in enumerate(
            zip(rng.normal(0, 200, 600) * 10 ** rng.uniform(-3, 1, 600), 10 ** rng.uniform(-2.5, 2.5, 600))
        )
    ]
    rows += [
        (v, s, True)
        for v in (0.0, -0.04, 0.5, 1.5, 2.5, -2.5, 152.4, 304.8)
        for s in (None, 0.5, 0.95, 3.55, 25.0)
    ]
    for units in ("us", "uk", "metric"):
        for quantity in ("height", "speed", "distance"):
            shown = wide.page.evaluate(
                "([u, q, rows]) => rows.map(([v, s, signed]) => quantityText(u, q, v, s, signed))",
                [units, quantity, rows],
            )
            unit = getattr(DISPLAY_SYSTEMS[units], quantity)
            wanted = [unit.text(v, s, signed=signed).replace("-", "\N{MINUS SIGN}") for v, s, signed in rows]
            assert shown == wanted


def compare_data(seen: Watched, name: str, wanted: Any) -> None:
    """The page's figure holds the numbers that Python's change of units and turn gives."""
    data = seen.page.evaluate(
        "n => document.querySelector(`[data-figure=${n}]`).data.map(t => [t.x, t.y, t.textposition])", name
    )
    assert len(data) == len(wanted["data"])
    for (*shown, sides), trace in zip(data, wanted["data"]):
        if trace.get("meta", {}).get("labels"):
            assert sides == trace["textposition"]
        for values, expected in zip(shown, (trace["x"], trace["y"])):
            if values and isinstance(next((v for v in values if v is not None), None), str):
                assert values == expected
                continue
            a, b = (
                np.array([np.nan if v is None else v for v in row], dtype=float) for row in (values, expected)
            )
            np.testing.assert_allclose(a, b, atol=2e-3)
    for axis in ("xaxis", "yaxis"):
        wish = wanted["layout"][axis].get("range")
        if wish is not None and "views" in wanted["layout"]["meta"]:
            shown = seen.page.evaluate(
                "([n, a]) => document.querySelector(`[data-figure=${n}]`).layout[a].range", [name, axis]
            )
            middle = sum(wish) / 2
            assert sum(shown) / 2 == pytest.approx(middle, abs=0.02 * (wish[1] - wish[0]))


def test_wind_up_switch(wide: Watched, file: Path, full: Debrief) -> None:
    up = up_direction(full)
    assert up is not None
    wide.page.select_option("select[name=units]", "us")
    wide.page.check("input[name=up][value=wind]", force=True)
    wide.drawn()
    for name, spec in specs(full).items():
        compare_data(wide, name, displayed(spec, "us", up_deg=up.deg))
    assert flat(wide, "plan-view")
    wide.page.check("input[name=view][value='whole canopy flight']", force=True)
    wide.drawn()
    whole = displayed(specs(full)["plan-view"], "us", up_deg=up.deg, view="whole canopy flight")
    compare_data(wide, "plan-view", whole)
    sound(wide, file)
    wide.page.check("input[name=view][value=pattern]", force=True)
    wide.page.check("input[name=up][value=north]", force=True)
    wide.drawn()


DOTS = "() => [...document.querySelectorAll('.plot')].map(p => [p.dataset.figure, [...p.parentElement.querySelectorAll('.dot')].map(c => c.getAttribute('cx') + ' ' + c.getAttribute('cy'))])"


def test_slider_moves_one_marker_along_all_pictures(wide: Watched, file: Path) -> None:
    moving = {"plan-view", "height-to-go", "timeline", "wind-profile", "hodograph", "reach"}
    slider = wide.page.locator("#moment")
    places = []
    for part in (0.75, 0.85, 0.95):
        slider.evaluate(
            "(n, f) => { n.value = Math.round(n.max * f); n.dispatchEvent(new Event('input')) }", part
        )
        places.append(dict(wide.page.evaluate(DOTS)))
    for name in moving:
        assert len({tuple(p[name]) for p in places if p[name]}) == 3, name
    assert not any(p[name] for p in places for name in set(p) - moving)
    assert re.search(r"s to touchdown.*ft.*mph over the ground", wide.page.inner_text("#readout"), re.DOTALL)
    slider.focus()
    before = int(slider.input_value())
    wide.page.keyboard.press("ArrowLeft")
    assert int(slider.input_value()) == before - 1
    slider.evaluate("n => { n.value = Math.round(n.max / 2); n.dispatchEvent(new Event('input')) }")
    start = int(slider.input_value())
    wide.page.click("#play")
    wide.page.wait_for_function("s => Number(document.getElementById('moment').value) > s + 3", arg=start)
    wide.page.click("#play")
    assert wide.page.get_attribute("#play", "aria-pressed") == "false"
    sound(wide, file)


def test_marker_ends_on_the_touchdown_mark(wide: Watched) -> None:
    off = wide.page.evaluate(
        """() => {
          goTo(path.t.length - 1);
          const plot = document.querySelector('[data-figure=plan-view]');
          const middle = (node) => { const b = node.getBoundingClientRect(); return [b.x + b.width / 2, b.y + b.height / 2] };
          const mark = plot.data.findIndex((t) => t.name === 'touchdown');
          const drawn = [...plot.querySelectorAll('.scatterlayer .trace')][mark].querySelector('.points path');
          const [a, b] = [middle(drawn), middle(plot.parentElement.querySelector('.dot'))];
          return Math.hypot(a[0] - b[0], a[1] - b[1]) }"""
    )
    assert off < 2.0


def test_a_phone_shows_the_answer_within_a_screen_and_a_half(browser: Any, tmp_path: Path) -> None:
    """The three lines with the advice, and the map, on a screen of 390 by 844 (a common phone)."""
    plan = ROOT / "shared" / "plans" / "first_light.toml"
    file = tmp_path / "phone.html"
    made = render_page(debrief(ROOT / "sample_tracks" / "first_light.gpx", read_settings([plan])))
    file.write_text(made, encoding="utf-8")
    with opened(browser, file, width=390) as seen:
        names = seen.page.evaluate("[...document.querySelectorAll('.short dt')].map(n => n.textContent)")
        assert names == ["Where", "Why", "Next time"]
        for part in (".short dl", "[data-figure=small-map]"):
            box = seen.page.locator(part).bounding_box()
            assert box["y"] + box["height"] < 1.5 * 844, part
        links = seen.page.evaluate(
            "[...document.querySelectorAll('.ways a')].map(a => document.querySelector(a.getAttribute('href')) !== null)"
        )
        assert len(links) > 6
        assert all(links)


def test_keyboard_reaches_every_control(wide: Watched) -> None:
    wide.page.evaluate("document.activeElement.blur()")
    reached = set()
    for _ in range(40):
        wide.page.keyboard.press("Tab")
        reached.add(
            wide.page.evaluate(
                "document.activeElement.id || document.activeElement.name || document.activeElement.className"
            )
        )
    assert {"skip", "units", "up", "view", "table", "play", "moment"} <= reached


def test_prints_on_two_sheets_and_comes_back(browser: Any, file: Path) -> None:
    with opened(browser, file, scheme="dark") as seen:
        assert sheets(seen) <= 2
        seen.drawn_again()
        assert seen.page.evaluate("document.querySelector('.pictures .plot').clientWidth") > 500
        sound(seen, file)


def test_evil_names_do_nothing(browser: Any, full: Debrief, tmp_path: Path) -> None:
    settings = replace(
        full.settings,
        site=replace(full.settings.site, name=EVIL),
        jumper=replace(full.settings.jumper, name=EVIL),
    )
    keep_out = replace(settings.site.keep_outs[0], name=EVIL)
    settings = replace(settings, site=replace(settings.site, keep_outs=(keep_out,)))
    evil = replace(
        full, recording=replace(full.recording, name=EVIL, file=EVIL, device=EVIL), settings=settings
    )
    for recollect in (False, True):
        file = tmp_path / f"evil{recollect}.html"
        file.write_text(render_page(evil, recollect=recollect), encoding="utf-8")
        with opened(browser, file) as seen:
            seen.page.wait_for_timeout(100)
            assert seen.complaints == []
            assert seen.page.evaluate("document.querySelectorAll('script').length") == 3
            assert seen.page.evaluate("document.querySelectorAll('img').length") == 0
            assert "</script><script>alert(1)" in seen.page.inner_text("h1")


def test_an_injected_script_would_not_run(browser: Any, full: Debrief, tmp_path: Path) -> None:
    file = tmp_path / "injected.html"
    file.write_text(
        render_page(full).replace("</h1>", "<script>document.title='ran'</script></h1>", 1), encoding="utf-8"
    )
    with opened(browser, file) as seen:
        assert seen.page.title() != "ran"
        assert any("Content Security Policy" in c for c in seen.complaints)


@pytest.mark.parametrize("sparse", [bare_debrief, no_jump])
def test_pages_with_missing_parts_draw(browser: Any, sparse: Any, tmp_path: Path) -> None:
    file = tmp_path / "sparse.html"
    file.write_text(render_page(sparse()), encoding="utf-8")
    with opened(browser, file, width=900) as seen:
        sound(seen, file)


ADVISED = """() => {
  const stroke = (node) => getComputedStyle(node).stroke;
  return [...document.querySelectorAll("figure")].flatMap((figure) => {
    const item = [...figure.querySelectorAll(".key li")].find((li) => li.textContent === "next time");
    if (!item) return [];
    const plot = figure.querySelector(".plot");
    const index = plot.data.findIndex((trace) => trace.name === "next time");
    const uid = plot._fullData[index].uid;
    return [[stroke(item.querySelector("path")), stroke(plot.querySelector(`.trace${uid} .point`))]];
  });
}"""


@pytest.mark.parametrize(("scheme", "colours"), [("light", LIGHT), ("dark", DARK)])
def test_the_key_shows_the_advised_place_in_the_colour_of_the_map(
    browser: Any, full: Debrief, tmp_path: Path, scheme: str, colours: dict[str, str]
) -> None:
    lat, lon = (float(v) for v in full.track.frame.to_geodetic(120.0, -90.0))
    file = tmp_path / "advised.html"
    advice = (replace(full.advice[0], lat=lat, lon=lon),)
    file.write_text(render_page(replace(full, advice=advice)), encoding="utf-8")
    wanted = "rgb({}, {}, {})".format(*(int(colours["accent"][i : i + 2], 16) for i in (1, 3, 5)))
    with opened(browser, file, width=900, scheme=scheme) as seen:
        found = seen.page.evaluate(ADVISED)
    assert len(found) == 2
    assert found == [[wanted, wanted]] * 2


@pytest.mark.slow
def test_recollection_hides_then_reveals(browser: Any, full: Debrief, tmp_path: Path) -> None:
    file = tmp_path / "recall.html"
    file.write_text(render_page(full, recollect=True), encoding="utf-8")
    with opened(browser, file, width=900) as seen:
        text = seen.page.inner_text("body")
        assert "Where the metres went" not in text
        assert "into the wind (" not in text
        assert not seen.page.is_visible("#moment")
        seen.page.fill("#ask-turn-final", "300")
        seen.page.select_option("#ask-wind", "west")
        seen.page.click("#recall-form button")
        seen.drawn()
        assert seen.page.is_visible("#story")
        assert seen.page.is_visible("#moment")
        assert "300 ft" in seen.page.inner_text("[data-answer=turn-final]")
        assert all(count > 0 for _, count in seen.page.evaluate(DRAWN))
        seen.page.select_option("select[name=units]", "metric")
        assert "91 m" in seen.page.inner_text("[data-answer=turn-final]")
        seen.page.reload()
        assert seen.page.input_value("#ask-wind") == "west"
        assert seen.complaints == []


def test_shared_bundle_draws(browser: Any, full: Debrief, tmp_path: Path) -> None:
    bundle = write_assets(tmp_path / "shared files")
    file = tmp_path / "pages" / "one.html"
    file.parent.mkdir()
    file.write_text(render_page(full, assets=PurePath("../shared files")), encoding="utf-8")
    with opened(browser, file) as seen:
        assert seen.complaints == []
        assert set(seen.requests) == {file.as_uri(), bundle.as_uri()}
        assert all(count > 0 for _, count in seen.page.evaluate(DRAWN))


def test_two_jumps_draw(browser: Any, full: Debrief, tmp_path: Path) -> None:
    file = tmp_path / "two.html"
    file.write_text(render_comparison(full, full), encoding="utf-8")
    with opened(browser, file, width=900) as seen:
        sound(seen, file)
        seen.page.select_option("select[name=units]", "metric")
        seen.drawn()
        sound(seen, file)
        assert sheets(seen) <= 2


@pytest.mark.parametrize(
    ("kind", "width", "scheme"),
    [
        pytest.param("debrief", 1600, "light", marks=pytest.mark.slow),
        ("recollect", 390, "dark"),
        pytest.param("bare", 900, "dark", marks=pytest.mark.slow),
        ("two", 390, "light"),
    ],
)
def test_accessible(browser: Any, full: Debrief, tmp_path: Path, kind: str, width: int, scheme: str) -> None:
    axe = axe_source()
    made = {
        "debrief": lambda: render_page(full),
        "recollect": lambda: render_page(full, recollect=True),
        "bare": lambda: render_page(bare_debrief()),
        "two": lambda: render_comparison(full, full),
    }[kind]()
    file = tmp_path / f"{kind}.html"
    file.write_text(made, encoding="utf-8")
    with opened(browser, file, width=width, scheme=scheme) as seen:
        seen.page.evaluate(axe)
        # What lies inside a picture is presentation: the picture itself has role img and a text.
        found = seen.page.evaluate("() => axe.run({exclude: ['.main-svg']})")
        assert len(found["passes"]) > 15
        grave = [
            (v["id"], [n["html"][:120] for n in v["nodes"]][:3])
            for v in found["violations"]
            if v["impact"] in ("serious", "critical")
        ]
        assert grave == []
