"""What leaves a logbook: CSV, Parquet, JSON, canopy cards, terminal, pages; private ones hold no name, date or place."""

from __future__ import annotations

import csv
import io
import json
import math
import re
from pathlib import Path

import pytest
from rich.console import Console
from season_made import HABITS, fill, season

from analyser.cli.season import run_text
from analyser.errors import OutputError
from analyser.logbook import Failure, Logbook
from analyser.logbook.counts import Counts
from analyser.logbook.export import EXPORTED, csv_lines, load_frame, write_csv, write_parquet
from analyser.logbook.jump_columns import NUMBERS
from analyser.report.documents.season import to_season_document
from analyser.report.page.season_pages import render_coach, render_season
from analyser.report.story.season import tell_season
from analyser.report.story.season_parts import season_parts
from analyser.report.terminal import print_story
from analyser.season.cards import canopy_cards
from analyser.season.summarise import Season, summarise
from analyser.settings.toml import read_settings
from analyser.units import DISPLAY_SYSTEMS

HARSH = "<img src=x onerror=alert(1)>\"&'"
NAMES = (*HABITS, "Larkmoor", "Wide 230", "Slim 170", "field.toml", "2031", ".gpx", "50.0", "secret")


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("season") / "logbook.sqlite"
    fill(path, season(0))
    return path


@pytest.fixture(scope="module")
def summary(book: Path) -> Season:
    with Logbook(book) as logbook:
        return summarise(logbook)


def read_csv(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_csv_holds_every_jump_with_its_numbers(book: Path, tmp_path: Path) -> None:
    with Logbook(book) as logbook:
        write_csv(logbook, tmp_path / "rows.csv")
        expected = list(logbook.rows())
    rows = read_csv(tmp_path / "rows.csv")
    assert list(rows[0]) == list(EXPORTED)
    assert len(rows) == 300
    for row, own in zip(rows, expected, strict=True):
        assert float(row["along_m"]) == own["along_m"]
        assert row["jumper"] == own["jumper"]
        assert row["base_turn_agl_m"] == ""


def test_csv_of_many_rows_is_streamed_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "logbook.sqlite"
    fill(path, season(1, 8))
    with Logbook(path) as logbook:
        write_csv(logbook, tmp_path / "whole.csv")
        monkeypatch.setattr("analyser.logbook.export.BATCH", 5)
        write_csv(logbook, tmp_path / "pieces.csv")
        write_parquet(logbook, tmp_path / "pieces.parquet")
    assert (tmp_path / "whole.csv").read_bytes() == (tmp_path / "pieces.csv").read_bytes()


def test_a_cell_is_never_a_formula(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    rows = {"=cmd()": season(1, 3)["Eve Plain"]}
    for row in rows["=cmd()"]:
        row |= {"jumper": "=cmd()", "note": "@sum(1)\nsecond line"}
    fill(path, rows)
    with Logbook(path) as logbook:
        write_csv(logbook, tmp_path / "rows.csv")
    for row, own in zip(read_csv(tmp_path / "rows.csv"), rows["=cmd()"], strict=True):
        assert row["jumper"] == "'=cmd()"
        assert row["note"].startswith("'@")
        assert float(row["across_m"]) == own["across_m"]  # a minus sign before a number stays


def test_parquet_and_frame_hold_the_same_table(book: Path, tmp_path: Path) -> None:
    pandas = pytest.importorskip("pandas")
    pytest.importorskip("pyarrow")
    with Logbook(book) as logbook:
        write_parquet(logbook, tmp_path / "rows.parquet")
    frame = load_frame(book)
    table = pandas.read_parquet(tmp_path / "rows.parquet")
    assert list(table.columns) == list(frame.columns) == list(EXPORTED)
    assert len(table) == len(frame) == 300
    assert str(frame["landing_utc"].dtype).startswith("datetime64")
    assert frame["along_m"].tolist() == table["along_m"].tolist()
    assert table["base_turn_agl_m"].isna().all()
    assert table["landing_utc"].tolist() == frame["landing_utc"].tolist()


def test_parquet_says_what_its_columns_are(book: Path, tmp_path: Path) -> None:
    """Read with pyarrow: a time stamp with its zone, and the unit of every number that has one."""
    arrow, parquet = pytest.importorskip("pyarrow"), pytest.importorskip("pyarrow.parquet")
    with Logbook(book) as logbook:
        write_parquet(logbook, tmp_path / "rows.parquet")
        write_parquet(logbook, tmp_path / "private.parquet", private=True)
    schema = parquet.read_schema(tmp_path / "rows.parquet")
    assert schema.metadata[b"creator"].startswith(b"crabline ")
    stamp = schema.field("landing_utc")
    assert stamp.type == arrow.timestamp("ms", tz="UTC")
    units = {name: (schema.field(name).metadata or {}).get(b"unit") for name in EXPORTED}
    assert units["along_m"] == b"m"
    assert units["landing_deg"] == units["landing_lat"] == b"degrees"
    assert units["airspeed_mps"] == b"m/s"
    assert {name for name, unit in units.items() if unit is None and name in NUMBERS} == {"glide"}
    hidden = parquet.read_table(tmp_path / "private.parquet")
    assert hidden["landing_utc"].null_count == hidden.num_rows > 0


def test_csv_on_standard_output_is_the_file(book: Path, tmp_path: Path) -> None:
    with Logbook(book) as logbook:
        write_csv(logbook, tmp_path / "rows.csv")
        assert "".join(csv_lines(logbook)) == (tmp_path / "rows.csv").read_text(encoding="utf-8")


def test_exports_do_not_write_over_the_logbook_or_into_nothing(book: Path, tmp_path: Path) -> None:
    before = book.read_bytes()
    with Logbook(book) as logbook:
        for write in (write_csv, write_parquet):
            with pytest.raises(OutputError, match="over an input"):
                write(logbook, book)
            (tmp_path / "file").write_text("no folder")
            with pytest.raises(OutputError, match="can not be"):
                write(logbook, tmp_path / "file" / "rows")
            write(logbook, tmp_path / write.__name__ / "rows")
            assert (tmp_path / write.__name__ / "rows").is_file()
    assert book.read_bytes()[:100] == before[:100]


def test_private_exports_hold_no_name_date_or_place(book: Path, summary: Season, tmp_path: Path) -> None:
    with Logbook(book) as logbook:
        write_csv(logbook, tmp_path / "rows.csv", private=True)
        page = render_season(logbook, summary, private=True)
    body = (
        page[: page.index("plotly.js (basic")]
        + page[page.index('id="page-data"') :].partition("</script>")[0]
    )
    texts = {
        "csv": (tmp_path / "rows.csv").read_text(encoding="utf-8"),
        "json": json.dumps(to_season_document(summary, private=True)),
        "season": body,
        "coach": render_coach(summary, private=True),
        "terminal": printed(book, summary, private=True),
    }
    texts |= {f"card {name}": name + text for name, text in canopy_cards(summary, private=True)}
    for kind, text in texts.items():
        for name in NAMES:
            if name not in ("2031", "50.0"):  # these may stand among digits of other numbers
                assert name not in text, f"{name} in {kind}"
        assert not re.search(r"2031-\d\d", text), kind
        assert not re.search(r"\b(April|May|June|July|August|September) 2031", text), kind
    assert "jumper 6" in texts["csv"]


def test_the_document_is_json_and_tells_every_question(summary: Season) -> None:
    document = json.loads(json.dumps(to_season_document(summary), allow_nan=False))
    assert document["schema"] == "crabline.season/1"
    assert document["jumps"] == 300
    asked = [q for j in document["jumpers"] for q in j["questions"]]
    assert len(asked) == document["questions_asked"]
    assert all((q["said"] or q["watched"]) == (q["text"] is not None) for q in asked)
    assert not any(q["said"] and q["watched"] for q in asked)
    low = next(q for q in document["jumpers"][0]["said"] if q["question"] == "turn height")
    assert low["low_95"] < -15 < low["high_95"]
    assert document["failures"] == [{"file": "secret.gpx", "reason": "no fix in it, secret"}]


def test_cards_are_plans_with_the_pooled_trim(summary: Season, tmp_path: Path) -> None:
    cards = dict(canopy_cards(summary))
    assert len(cards) == 7
    path = tmp_path / "card.toml"
    path.write_text(cards["cy-swap-slim-170.toml"], encoding="utf-8")
    canopy = read_settings([path]).canopy
    assert canopy.name == "Slim 170"
    assert canopy.airspeed_mps == pytest.approx(11.5, abs=0.2)
    assert canopy.sink_mps == pytest.approx(4.9, abs=0.1)
    assert 0.0 < canopy.airspeed_sd_mps < 0.3


def test_cards_with_harsh_names_stay_plans(tmp_path: Path) -> None:
    rows = season(1, 12)["Eve Plain"]
    for row in rows:
        row |= {"jumper": "../../x", "canopy": 'a "quoted" \\ name ✈'}
    fill(tmp_path / "logbook.sqlite", {"x": rows})
    with Logbook(tmp_path / "logbook.sqlite") as logbook:
        ((name, text),) = canopy_cards(summarise(logbook))
    assert "/" not in name
    (tmp_path / name).write_text(text, encoding="utf-8")
    assert read_settings([tmp_path / name]).canopy.name == 'a "quoted" \\ name ✈'


def test_a_canopy_with_few_jumps_gets_no_card(tmp_path: Path) -> None:
    fill(tmp_path / "logbook.sqlite", {"x": season(1, 4)["Eve Plain"]})
    with Logbook(tmp_path / "logbook.sqlite") as logbook:
        assert list(canopy_cards(summarise(logbook))) == []


def printed(book: Path, summary: Season, counts: Counts | None = None, *, private: bool = False) -> str:
    console = Console(file=io.StringIO(), width=80, highlight=False)
    with Logbook(book) as logbook:
        parts = season_parts(logbook, summary, private=private)
    story = tell_season(summary, parts, run=run_text(counts or Counts()), private=private, most_jumps=10)
    print_story(story, DISPLAY_SYSTEMS["uk"], console)
    return console.file.getvalue()  # type: ignore[attr-defined,no-any-return]


def test_the_terminal_says_what_stands_out_in_80_columns(book: Path, summary: Season) -> None:
    counts = Counts(tracks=304, debriefed=300, failed=1, failed_before=2, copies=1)
    text = printed(book, summary, counts)
    assert max(map(len, text.splitlines())) <= 80
    flat = " ".join(text.split())
    assert re.search(r"Turns to final \d+ ± \d+ ft lower than planned \(50 jumps\)", flat)
    assert flat.count("No habit is clear enough to tell from chance.") >= 2
    assert "secret.gpx: no fix in it, secret" in flat
    assert "40 earlier jumps are not listed" in flat
    assert "304 tracks: 300 debriefed now, 0 unchanged, 1 copy, 1 failed now, 2 failed before" in flat
    assert "\x1b" not in text


def test_terminal_and_page_print_the_same_intervals(tmp_path: Path) -> None:
    fill(
        tmp_path / "logbook.sqlite", {"x": season(2, 14)["Flo Plain"]}
    )  # few jumps: Student's t is far from 1.96
    with Logbook(tmp_path / "logbook.sqlite") as logbook:
        found = summarise(logbook)
        page = render_season(logbook, found)
    text = " ".join(printed(tmp_path / "logbook.sqlite", found).split())
    (group,) = found.jumpers[0].groups
    assert group.accuracy is not None
    low, high = group.accuracy.along.interval()
    told = DISPLAY_SYSTEMS["uk"].distance.text(abs(group.accuracy.along.value), (high - low) / 2)
    assert f"level along {told}" in text
    assert told in page


def test_an_empty_season_prints(book: Path) -> None:
    text = printed(book, Season((), (Failure("x\n\x1b[31m.gpx", "bad"),), 0, 0))
    assert "Jumps 0 · Jumpers 0" in text
    assert "\x1b" not in text


def test_foreign_words_do_no_harm_on_page_and_terminal(tmp_path: Path) -> None:
    rows = season(1, 12)["Ada Low"]
    for row in rows:
        row |= {"jumper": HARSH, "canopy": HARSH, "site": HARSH, "note": f"{HARSH}\x1b[31m"}
    fill(tmp_path / "logbook.sqlite", {"x": rows})
    with Logbook(tmp_path / "logbook.sqlite") as logbook:
        found = summarise(logbook)
        pages = [render_season(logbook, found, link=lambda sha, jump: "a.html"), render_coach(found)]
    text = printed(tmp_path / "logbook.sqlite", found)
    for page in pages:
        assert "<img" not in page.split("plotly.js (basic")[0].split('id="page-data"')[0]
        assert "&lt;img" in page
    assert "\x1b" not in text


def test_the_page_tells_and_links_every_jump(book: Path, summary: Season) -> None:
    with Logbook(book) as logbook:
        page = render_season(logbook, summary, link=lambda sha, jump: f"pages/{sha[:5].strip()}-{jump}.html")
        hashes = [row["sha256"] for row in logbook.rows()]
    body = page[: page.index('id="page-data"')]
    assert body.count('href="pages/') == len(hashes)
    data = json.loads(
        page[page.index('id="page-data">') + len('id="page-data">') :].partition("</script>")[0]
    )
    wanted = {f"{name}-{i}" for i in range(1, 7) for name in ("landings", "over-time", "over-wind", "gates", "causes", "turn-height")}  # fmt: skip
    assert set(data["figures"]) == wanted
    points = [t for t in data["figures"]["landings-1"]["data"] if "customdata" in t]
    assert sum(len(t["x"]) for t in points) == 50
    for key, figure in data["figures"].items():
        rows = [row for t in figure["data"] for row in t.get("customdata", [])]
        assert rows, key
        assert all(row[4].startswith("pages/") for row in rows), key
    for name in HABITS:
        assert name in body
    assert "http://" not in body
    assert "https://" not in body


def test_into_wind_is_up(book: Path) -> None:
    from analyser.report.pictures.season import into_wind
    from analyser.season.jumps import read_jumps

    rows = season(1, 6)["Eve Plain"]
    cases = [  # landing direction, wind from, along, across -> right of and beyond the target, seen with the wind from above
        (0.0, 0.0, 10.0, 0.0, 0.0, 10.0),
        (90.0, 90.0, 10.0, 3.0, 3.0, 10.0),
        (0.0, 180.0, 10.0, 0.0, 0.0, -10.0),  # a landing down the wind: long is down the wind
        (0.0, 90.0, 10.0, 0.0, -10.0, 0.0),  # wind from the right of flight: long is left of the wind line
        (200.0, 290.0, 0.0, 5.0, 0.0, 5.0),
        (30.0, 30.0, -4.0, -2.0, -2.0, -4.0),
    ]
    for row, (landing, wind, along, across, _, _) in zip(rows, cases, strict=True):
        row |= {
            "landing_deg": landing,
            "wind_from_deg": wind,
            "along_m": along,
            "across_m": across,
            "wind_speed_mps": 5.0,
        }
    right, up = into_wind(read_jumps(rows)[0])
    assert right == pytest.approx([c[4] for c in cases], abs=1e-9)
    assert up == pytest.approx([c[5] for c in cases], abs=1e-9)
    for row in rows:
        row["wind_speed_mps"] = 0.5  # light air: the landing direction is up
    right, up = into_wind(read_jumps(rows)[0])
    assert up == pytest.approx([c[2] for c in cases], abs=1e-9)
    assert right == pytest.approx([c[3] for c in cases], abs=1e-9)


def test_every_landing_lies_in_the_first_view_or_is_counted(tmp_path: Path) -> None:
    from analyser.report.pictures.season import Part, jumper_pictures
    from analyser.season.jumps import read_jumps
    from analyser.season.summarise import group_jumps

    for stray, counted in ((None, False), (1500.0, True)):
        rows = season(5, 30)["Eve Plain"]
        rows[3]["along_m"] = stray or rows[3]["along_m"]
        fill(tmp_path / f"{stray}.sqlite", {"x": rows})
        with Logbook(tmp_path / f"{stray}.sqlite") as logbook:
            (group,) = summarise(logbook).jumpers[0].groups
        jumps = next(group_jumps(read_jumps(rows)[0]))[2]
        layout = jumper_pictures([Part("x", jumps, group, tuple(range(30)), ("",) * 30, ("",) * 30)])[
            "landings"
        ]["layout"]
        view = layout["meta"]["views"]["landings"]
        reach = max(abs(v) for corner in view for v in corner)
        assert reach < 500.0
        assert ("annotations" in layout) is counted
        if counted:
            assert layout["annotations"][0]["text"].startswith("1 farther out")


def test_ellipses_hold_the_share_they_say() -> None:
    import numpy as np

    from analyser.report.pictures.season import _ellipses

    rng = np.random.default_rng(3)
    x, y = rng.multivariate_normal([10.0, -5.0], [[400.0, 250.0], [250.0, 300.0]], 20_000).T
    for row, share in zip(_ellipses(x, y, 0), (0.5, 0.95), strict=True):
        ring = np.array([row["x"], row["y"]]).T
        centre = ring[:-1].mean(axis=0)
        angle = np.unwrap(np.arctan2(*(ring - centre).T[::-1]))
        radius = np.hypot(*(ring - centre).T)
        order = np.argsort(angle)
        at = np.arctan2(y - centre[1], x - centre[0])
        limit = np.interp(
            np.mod(at - angle[order][0], 2 * math.pi) + angle[order][0], angle[order], radius[order]
        )
        inside = np.mean(np.hypot(x - centre[0], y - centre[1]) <= limit)
        assert inside == pytest.approx(share, abs=0.03)
