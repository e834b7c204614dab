"""The page as text: the story in order, numbers with units, missing parts with their reasons, nothing foreign unescaped."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from dataclasses import fields, replace
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path, PurePath

import pytest
from fake_debrief import bare_debrief, fake_debrief, no_jump

from analyser.debrief import Debrief
from analyser.findings import CAUTIONS
from analyser.report.page.markup import Html, join, tag
from analyser.report.page.pages import render_comparison, render_page
from analyser.report.page.shell import bundle_name, json_for_script, page, write_assets
from analyser.report.page.write import Writer
from analyser.report.plain import escape
from analyser.report.story.blocks import Sentence, distance, height, speed
from analyser.report.story.two_jumps import jump_rows
from analyser.sentences import Number

EVIL = "</script><script>alert(1)</script><img src=x onerror=alert(2)>\x1b[31m\u202e\u2028"
STORY = ["well", "metres", "change", "talk", "gates", "wind", "redrawn", "holding", "trust", "cautions"]


class Reader(HTMLParser):
    """Tags in order and the text outside scripts and styles."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag in ("script", "style"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if self.open and self.open[-1] == tag:
            self.open.pop()

    def handle_data(self, data: str) -> None:
        if not self.open:
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def scripts_of(text: str) -> list[tuple[str, str]]:
    return re.findall(r"<script([^>]*)>(.*?)</script>", text, re.DOTALL)


@pytest.fixture(scope="module")
def full() -> Debrief:
    return fake_debrief()


@pytest.fixture(scope="module")
def made(full: Debrief) -> str:
    return render_page(full)


def test_chapters_stand_in_the_order_of_a_debrief(made: str) -> None:
    assert re.findall(r'<section class="chapter" id="(\w+)"', made) == STORY


def test_headings_are_nested(made: str) -> None:
    levels = [int(t[1]) for t, _ in Reader(made).tags if re.fullmatch(r"h[1-6]", t)]
    assert levels.count(1) == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))


def test_numbers_carry_unit_and_error(made: str) -> None:
    text = Reader(made).text
    assert "onto" in text
    assert re.search(r"\d+ ± \d+ ft", text)
    assert re.search(r"\d+(\.\d+)? ± \d+(\.\d+)? mph", text)
    bare = re.findall(r'data-q="\w+" data-v="[^"]+"[^>]*>([^<]*)<', made)
    assert len(bare) > 60
    assert all(re.search(r"(ft|mph)$", b) for b in bare)


@pytest.mark.parametrize(
    ("units", "labels"), [("us", "ft mph"), ("uk", "ft kt m"), ("nordic", "ft kt m"), ("metric", "m m/s")]
)
def test_units_follow_the_custom(full: Debrief, units: str, labels: str) -> None:
    made = render_page(full, units=units)
    shown = {b.split()[-1] for b in re.findall(r'data-q="\w+" data-v="[^"]+"[^>]*>([^<–]*)<', made)}
    assert shown == set(labels.split())


def test_table_cells_have_headings(made: str) -> None:
    reader = Reader(made)
    assert sum(t == "table" for t, _ in reader.tags) >= 6
    assert all(a.get("scope") in ("col", "row") for t, a in reader.tags if t == "th")
    assert sum(t == "caption" for t, _ in reader.tags) == sum(t == "table" for t, _ in reader.tags)


def test_pictures_have_text_alternatives(made: str) -> None:
    plots = [a for t, a in Reader(made).tags if "plot" in (a.get("class") or "").split()]
    assert len(plots) == 9
    assert all(len(a["aria-label"] or "") > 40 and a["role"] == "img" for a in plots)


def test_cautions_are_all_there(made: str) -> None:
    text = Reader(made).text
    assert all(c in text for c in CAUTIONS)
    assert "6 ± 9° off the wind" in text


def test_budget_rows_add_up_on_the_page(made: str, full: Debrief) -> None:
    assert full.landing is not None
    table = made[made.index("cause by cause</caption>") :]
    table = table[: table.index("</table>")]
    along = re.findall(r'data-v="([\d.]+)"[^>]*>[^<]*</span> (long|short)', table)
    signed = [float(v) * (1 if word == "long" else -1) for v, word in along]
    assert sum(signed[:-1]) == pytest.approx(signed[-1], abs=0.01)
    assert signed[-1] == pytest.approx(full.landing.along_m, abs=0.01)


def test_missing_parts_say_why() -> None:
    text = Reader(render_page(bare_debrief("the wing turned too little to tell"))).text
    assert text.count("The wing turned too little to tell") >= 2
    assert "No target given: without one" in text


def test_a_walk_is_no_jump() -> None:
    text = Reader(render_page(no_jump())).text
    assert "No jump was found in this recording: no canopy flight found." in text
    assert "Where the metres went" not in text


def test_foreign_text_changes_nothing(full: Debrief) -> None:
    evil = replace(full.recording, name=EVIL, file=EVIL, device=EVIL, sha256="")
    settings = replace(
        full.settings,
        site=replace(full.settings.site, name=EVIL),
        jumper=replace(full.settings.jumper, name=EVIL),
    )
    finding = replace(full.findings[0], text="said " + EVIL)
    made = render_page(
        replace(full, recording=evil, settings=settings, findings=(finding, *full.findings[1:]))
    )
    assert len(scripts_of(made)) == 3
    assert not [a for t, a in Reader(made).tags if t == "img" or any(k.startswith("on") for k in a)]
    assert "alert(1)" in Reader(made).text
    clean = render_page(full)
    assert all(made.count(c) == clean.count(c) for c in "\x1b\u202e\u2028")  # the bundle may hold some
    assert len(scripts_of(clean)) == 3


def test_json_in_the_page_is_read_back() -> None:
    value = {"name": EVIL, "numbers": [1.5, None]}
    text = json_for_script(value)
    assert not set(text) & set("<>&\u2028\u2029")
    assert json.loads(text) == value
    with pytest.raises(ValueError):
        json_for_script([float("nan")])


def test_escape() -> None:
    assert escape('<b a="1">&\'\x07') == "&lt;b a=&quot;1&quot;&gt;&amp;&#x27;\N{REPLACEMENT CHARACTER}"
    assert html.unescape(escape("3 < 4 & 5")) == "3 < 4 & 5"


def test_thresholds_are_printed_with_their_sources(made: str, full: Debrief) -> None:
    text = Reader(made).text
    method = full.settings.method
    assert all(t.source in text for t in (getattr(method, f.name) for f in fields(method)))


def test_policy_allows_only_the_scripts_of_the_page(made: str) -> None:
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]+)"', made)
    assert policy is not None
    assert made.index("Content-Security-Policy") < made.index("<style>")
    rules = dict(part.strip().split(" ", 1) for part in policy[1].split(";"))
    assert rules["default-src"] == "'none'"
    assert "unsafe" not in rules["script-src"]
    runs = [body for kind, body in scripts_of(made) if "json" not in kind]
    hashes = {f"'sha256-{base64.b64encode(hashlib.sha256(b.encode()).digest()).decode()}'" for b in runs}
    assert hashes == set(rules["script-src"].split())


def test_no_address_leads_out_of_the_page(made: str) -> None:
    own = re.sub(r"<script>.*?</script>", "", made, flags=re.DOTALL)
    assert not re.findall(r'(?:src|href)="(?!#)[^"]*"', own)
    assert "http" not in own.replace("http-equiv", "")


def test_size(full: Debrief) -> None:
    made = render_page(full)
    assert len(made.encode()) < 1_600_000
    bundle = max(len(body) for _, body in scripts_of(made))
    assert len(made.encode()) - bundle < 400_000


def test_shared_bundle(full: Debrief, tmp_path: Path) -> None:
    folder = tmp_path / "shared files"
    target = write_assets(folder)
    before = target.stat().st_mtime_ns
    assert write_assets(folder) == target
    assert target.stat().st_mtime_ns == before
    assert target.name == bundle_name()
    assert [p.name for p in folder.iterdir()] == [target.name]
    made = render_page(full, assets=PurePath("../shared files"))
    assert len(made.encode()) < 400_000
    assert f'<script src="../shared%20files/{target.name}">' in made


def test_recollection_comes_first_and_keeps_the_measured_back(full: Debrief) -> None:
    made = render_page(full, recollect=True)
    assert made.index('id="recall"') < made.index('id="story"')
    assert '<main id="story" class="veiled">' in made
    asked = re.findall(r'name="(turn-\w+|wind|strength|landing|trouble|well)"', made)
    assert asked == [
        "turn-downwind",
        "turn-base",
        "turn-final",
        "wind",
        "strength",
        "landing",
        "trouble",
        "well",
    ]
    labels = {a["for"] for t, a in Reader(made).tags if t == "label" and "for" in a}
    assert {f"ask-{k}" for k in asked} <= labels
    assert 'id="recall"' not in render_page(full)
    assert 'id="recall"' in render_page(bare_debrief(), recollect=True)


def test_numbers_are_rounded_by_their_error_and_marked_for_the_switch() -> None:
    us = Writer("us")
    assert ">300 ± 10 ft<" in us.number(height(91.44, 3.0)).markup
    assert us.number(height(None)).markup == "–"
    assert us.number(height(float("nan"), 1.0)).markup == "–"
    assert ">\N{MINUS SIGN}40 ± 10 ft<" in us.number(height(-12.2, 3.0, signed=True)).markup
    assert us.number(distance(-10.0, sides=("long", "short"))).markup.endswith("</span> short")
    assert us.number(Number("speed", None, 0.15, alone=True)).markup.endswith(">0.34 mph</span>")
    assert us.number(Number("bearing", 359.7, 4.2)).markup == "000\xa0±\xa04°"
    assert us.number(Number("angle", -0.3, signed=True)).markup == "0°"
    assert us.number(Number("angle", 0.3, signed=True)).markup == "0°"
    said = Sentence("{v} & more", {"v": speed(5.0)})
    assert us.sentence(said).markup.endswith(">11 mph</span> &amp; more")
    assert us.sentence(Sentence("to it", {}, "a.html#x")).markup == '<a href="a.html#x">to it</a>'


def test_html_is_a_type_of_its_own() -> None:
    assert tag("p", "<b>", tag("i", "x"), None, cls='a"', hidden=True).markup == (
        '<p class="a&quot;" hidden>&lt;b&gt;<i>x</i></p>'
    )
    assert join(["a", tag("br"), "b"], " & ").markup == "a &amp; <br> &amp; b"
    for misuse in (lambda: f"{Html('x')}", lambda: str(Html("x"))):
        with pytest.raises(TypeError, match="HTML goes into HTML"):
            misuse()


def test_html_is_made_in_one_place() -> None:
    """Whoever writes Html(...) says that a text is safe: the reports do so only where the type is defined."""
    folder = Path(__file__).resolve().parents[2] / "analyser" / "report"
    makers = {p.name for p in folder.rglob("*.py") if re.search(r"\bHtml\(", p.read_text(encoding="utf-8"))}
    assert makers == {"markup.py"}


def test_page_without_figures_has_no_bundle() -> None:
    made = page("T & t", tag("h1", "T"))
    assert "<title>T &amp; t</title>" in made
    assert len(made) < 60_000


def test_two_jumps(full: Debrief) -> None:
    other = fake_debrief()
    assert other.landing is not None
    assert full.landing is not None
    full = replace(full, landing=replace(full.landing, along_sd_m=3.0))
    other = replace(
        other, landing=replace(other.landing, along_m=10.0, along_sd_m=4.0, across_m=0.0, offset_m=10.0)
    )
    rows = {r.label: r for r in jump_rows(full, other)}
    assert full.landing is not None
    assert rows["turn onto final"].difference[0] == 0.0
    assert rows["long (+), short (−)"].difference[0] == pytest.approx(10.0 - (full.landing.along_m or 0.0))
    assert rows["long (+), short (−)"].difference[1] == pytest.approx(5.0)
    made = render_comparison(full, other)
    text = Reader(made).text
    assert "second minus first" in text
    assert all(c in text for c in CAUTIONS)
    bare = render_comparison(bare_debrief(), bare_debrief())
    assert "No wind was found in either jump" in Reader(bare).text
