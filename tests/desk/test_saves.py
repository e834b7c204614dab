"""What the forms write: logbook.toml with everything else in it kept, one save after the other, each whole or not at all."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import threading
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from console_blocks import run
from desk_made import ROOT, TARGET, TRACK, Client, opened_desk, sha_of

from analyser.batch.run import run_season
from analyser.desk.corrections import Change, Changed, Corrections, JumpId
from analyser.desk.folder import DeskFolder
from analyser.errors import OutputError, SettingsError
from analyser.logbook.plans import Plans

COMMENTED = """# the club's own words
[site]
name = "Quillmere Field"  # invented

[[jump]]
content = "{sha}"   # the first of the day
note = "windy"      # said Ilka
"""
JUMP = f"/jump/{sha_of(TRACK)}-1"
DAY = ROOT / "sample_tracks" / "two_jumps.gpx"


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    with opened_desk(tmp_path_factory.mktemp("desk")) as client:
        client.drop(TRACK.read_bytes(), "first.gpx")
        yield client


def rows(desk: Client) -> list[dict[str, Any]]:
    text = (desk.desk.folder.path / "logbook.toml").read_text(encoding="utf-8")
    return list(tomllib.loads(text).get("jump", []))


def plan(**more: Any) -> dict[str, Any]:
    empty = {
        "crosswind": "",
        "downwind": "1000",
        "base": "600",
        "final": "300",
        "hand": "as flown",
        "landing": "",
    }
    return empty | {"wind": [""] * 9} | more


def test_comments_and_what_the_desk_does_not_know_stay(tmp_path: Path) -> None:
    (tmp_path / "first.gpx").write_bytes(TRACK.read_bytes())
    sha = sha_of(TRACK)
    (tmp_path / "logbook.toml").write_text(COMMENTED.format(sha=sha[:12]), encoding="utf-8")
    folder = DeskFolder(tmp_path)
    kept = Corrections(folder)
    kept.save([Change(JumpId(sha, 0), tmp_path / "first.gpx", {"jumper": "Ilka Norn", "note": "calm"})])
    folder.close()
    text = (tmp_path / "logbook.toml").read_text(encoding="utf-8")
    for line in (
        "# the club's own words",
        "# invented",
        "# the first of the day",
        'note = "calm"',
        "# said Ilka",
    ):
        assert line in text
    assert tomllib.loads(text)["jump"] == [{"content": sha[:12], "note": "calm", "jumper": "Ilka Norn"}]


def test_a_value_taken_back_leaves_no_trace(desk: Client) -> None:
    assert desk.post(f"{JUMP}/who", desk.form(JUMP) | {"jumper": "Ilka Norn", "note": "x"}).status == 200
    assert rows(desk)[0]["jumper"] == "Ilka Norn"
    assert desk.post(f"{JUMP}/who", desk.form(JUMP) | {"jumper": "", "note": ""}).status == 200
    assert rows(desk) == []


def test_excluded_and_taken_back_in(desk: Client) -> None:
    folder: Path = desk.desk.folder.path
    (folder / "logbook.csv").write_text("file,exclude\nfirst.gpx,demo jump\n", encoding="utf-8")
    try:
        assert desk.post(f"{JUMP}/who", desk.form(JUMP) | {"note": "now"}).status == 200
        assert "demo jump" in desk.get(JUMP).text
        desk.settle()
        assert desk.post(f"{JUMP}/who", desk.form(JUMP) | {"exclude": "", "note": "now"}).status == 200
    finally:
        (folder / "logbook.csv").unlink()


@pytest.mark.parametrize(
    ("form", "fields", "line"),
    [
        ("target", {"target": "91.5, 0"}, "latitude 91.5 is beyond ±90"),
        ("target", {"target": "here"}, "is not LAT,LON"),
        (
            "plan",
            plan(base="1200"),
            "gates out of order: pattern.downwind_ft = 1000 ft is not above pattern.base_ft = 1200 ft",
        ),
        ("plan", plan(base="low"), "pattern.base_ft must be a number, not 'low'"),
        ("plan", plan(base="nan"), "pattern.base_ft must be a number, not 'nan'"),
        ("plan", plan(landing="400"), "pattern.landing_deg = 400 is out of range (0 to 360 deg)"),
        ("plan", plan(hand="middle"), 'pattern.hand must be one of "left", "right", "as flown"'),
        ("plan", plan(wind=["0", "5", ""]), "has no from_deg"),
        ("plan", plan(wind=["0", "5", "300", "0", "6", "310"]), "gives that height twice"),
        ("who", {"jumper": "a\nb"}, "must be one line of at most 500 printable characters"),
    ],
)
def test_a_mistake_is_told_in_the_readers_words_and_nothing_is_written(
    desk: Client, form: str, fields: dict[str, Any], line: str
) -> None:
    path: Path = desk.desk.folder.path / "logbook.toml"
    before = path.read_bytes() if path.exists() else b""
    answer = desk.post(f"{JUMP}/{form}", desk.form(JUMP) | fields)
    assert answer.status == 422
    assert line in answer.json["line"]
    assert str(desk.desk.folder.path) not in answer.json["line"]
    assert (path.read_bytes() if path.exists() else b"") == before
    assert not list((desk.desk.folder.path / "plans").glob("*")) or b"plans/" in before


def test_what_no_form_sends_is_refused(desk: Client) -> None:
    for body in (b"[1]", b"{", b'{"a": {"b": 1}}', b'{"a": ["' + b"x" * 600 + b'"]}', b"\xff"):
        assert desk.post(f"{JUMP}/who", body).status == 400
    assert desk.post(f"{JUMP}/who", b'{"a": "' + b"x" * 400_000 + b'"}').status == 413
    assert desk.post(f"{JUMP}/nothing", {}).status == 404
    assert desk.post(f"{JUMP}/target", desk.form(JUMP) | {"clicked": "nan,1", "origin": TARGET}).status in (
        400,
        422,
    )
    assert desk.post("/debrief", {"contents": ["../x"]}).status == 400
    assert desk.post("/corrections", {"jump": ["../x-1"], "note": "n"}).status == 400


def test_two_tabs_the_second_is_told_and_nothing_of_the_first_is_lost(desk: Client) -> None:
    mark = desk.form(JUMP)
    assert desk.post(f"{JUMP}/who", mark | {"jumper": "Ilka Norn"}).status == 200
    late = desk.post(f"{JUMP}/who", mark | {"jumper": "Tobin Ash"})
    assert late.status == 409
    assert "changed meanwhile" in late.json["line"]
    assert rows(desk)[0]["jumper"] == "Ilka Norn"


def test_many_saves_at_once_are_all_kept(tmp_path: Path) -> None:
    folder = DeskFolder(tmp_path)
    kept = Corrections(folder)
    ids = [JumpId(f"{i:064x}"[::-1], 1) for i in range(1, 25)]
    work = [
        threading.Thread(
            target=kept.save,
            args=([Change(one, tmp_path / "t.gpx", {"note": f"n{i}"}, "[pattern]\nfinal_ft = 310\n")],),
        )
        for i, one in enumerate(ids)
    ]
    for one in work:
        one.start()
    for one in work:
        one.join()
    folder.close()
    found = tomllib.loads((tmp_path / "logbook.toml").read_text(encoding="utf-8"))["jump"]
    assert {row["note"] for row in found} == {f"n{i}" for i in range(24)}
    assert all((tmp_path / row["plan"][0]).is_file() for row in found)


KILLED = """
import os, sys
from pathlib import Path
from analyser.desk.corrections import Change, Corrections, JumpId
from analyser.desk.folder import DeskFolder
folder, sha, stage, at = Path(sys.argv[1]), sys.argv[2], sys.argv[3], int(sys.argv[4])
real, count = getattr(os, stage), [0]
def dying(*args, **more):
    count[0] += 1
    if count[0] == at:
        os._exit(9)
    return real(*args, **more)
kept = Corrections(DeskFolder(folder))
setattr(os, stage, dying)
kept.save([Change(JumpId(sha, 0), folder / "first.gpx", {"note": "new"}, "[pattern]\\nfinal_ft = 330\\n")])
"""


@pytest.mark.parametrize(
    ("stage", "at", "new"),
    [
        ("fsync", 1, False),
        ("replace", 1, False),
        ("fsync", 2, False),
        ("replace", 2, False),
        ("unlink", 1, True),
    ],
)
def test_a_kill_in_the_middle_of_a_save_loses_nothing(tmp_path: Path, stage: str, at: int, new: bool) -> None:
    """Killed before or after each step: the file says either all of what was or all of what is, and the next desk reads it."""
    sha = sha_of(TRACK)
    (tmp_path / "first.gpx").write_bytes(TRACK.read_bytes())
    folder = DeskFolder(tmp_path)
    kept = Corrections(folder)
    old = Change(JumpId(sha, 0), tmp_path / "first.gpx", {"note": "old"}, "[pattern]\nfinal_ft = 310\n")
    kept.save([old])
    folder.close()
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(tmp_path), sha, stage, str(at)], capture_output=True
    )
    assert done.returncode == 9, done.stderr.decode()
    folder = DeskFolder(tmp_path)  # the lock went with the process
    names = Plans().assign(tmp_path / "first.gpx", sha)
    assert names.names["note"] == ("new" if new else "old")
    assert names.settings.pattern.final_m == pytest.approx((330 if new else 310) * 0.3048)
    Corrections(folder).save([Change(JumpId(sha, 0), tmp_path / "first.gpx", {"note": "after"})])
    folder.close()


def test_a_second_desk_on_the_same_folder_is_refused(desk: Client) -> None:
    with pytest.raises(OutputError, match="another desk is open on this folder"):
        DeskFolder(desk.desk.folder.path)
    place = str(desk.desk.folder.path)
    done = subprocess.run(
        [sys.executable, "-m", "analyser", "desk", place, "--no-open"],
        capture_output=True,
        text=True,
        cwd=ROOT,
    )
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1
    assert "another desk is open on this folder; use its page" in done.stderr
    assert desk.get("/").status == 200
    with pytest.raises(
        OutputError, match="another desk"
    ):  # and reading the tracks meanwhile has not let it in
        DeskFolder(desk.desk.folder.path)


def test_a_folder_of_its_own_is_for_its_owner_only(tmp_path: Path) -> None:
    folder = DeskFolder(tmp_path / "mine")
    folder.close()
    assert folder.path.stat().st_mode & 0o777 == 0o700
    (tmp_path / "file").write_text("x")
    with pytest.raises(OutputError, match="can not be used as the desk's folder"):
        DeskFolder(tmp_path / "file")


def test_a_logbook_file_that_is_no_toml_is_left_alone(tmp_path: Path) -> None:
    folder = DeskFolder(tmp_path)
    (tmp_path / "logbook.toml").write_text("[jumper\n", encoding="utf-8")
    with pytest.raises(SettingsError, match="not valid TOML"):
        Corrections(folder).save([Change(JumpId("0" * 64, 0), tmp_path / "t", {"note": "n"})])
    assert (tmp_path / "logbook.toml").read_text(encoding="utf-8") == "[jumper\n"
    folder.close()


def test_one_jump_of_a_day_is_corrected_alone(desk: Client) -> None:
    sha = sha_of(DAY)
    assert desk.drop(DAY.read_bytes(), "day.gpx")["jumps"] == [f"/jump/{sha}-1", f"/jump/{sha}-2"]
    second = f"/jump/{sha}-2"
    assert desk.post(f"{second}/who", desk.form(second) | {"jumper": "Tobin Ash"}).status == 200
    assert {"content": sha[:16], "jump": 2, "jumper": "Tobin Ash"} in rows(desk)
    assert "jump 1</a>" in desk.get(second).text
    beside = desk.get(f"/beside/{sha}-1/{sha}-2")
    assert beside.status == 200
    assert beside.text.count("<table") > 1


def test_several_jumps_are_corrected_at_once(desk: Client) -> None:
    desk.drop(DAY.read_bytes(), "day.gpx")  # there already or not, as the tests are shared out
    sha = sha_of(DAY)
    answer = desk.post("/corrections", {"jump": [f"{sha}-1", f"{sha}-2"], "canopy": "Heron 210"})
    assert answer.status == 200
    assert [r["canopy"] for r in rows(desk) if r["content"] == sha[:16]] == ["Heron 210"] * 2
    assert "Heron 210" in desk.get("/season").text


def test_the_logbook_is_that_of_the_season(desk: Client) -> None:
    """A season run over the desk's folder finds nothing to do: what the desk keeps is what it would make."""
    result = run_season([desk.desk.folder.path], logbook=desk.desk.folder.logbook, jobs=1)
    assert (result.counts.debriefed, result.counts.failed) == (0, 0)
    assert result.counts.unchanged == result.counts.tracks


@pytest.mark.slow
def test_exports_are_byte_for_byte_those_of_a_season_alone(desk: Client, tmp_path: Path) -> None:
    """The desk's tracks, plans and words in another folder that no desk ever saw."""
    kept: Path = desk.desk.folder.path
    desk.drop(DAY.read_bytes(), "day.gpx")
    other = tmp_path / "alone"
    shutil.copytree(kept, other, ignore=shutil.ignore_patterns(".*", "logbook.sqlite*"))
    assert len(list(other.glob("*.gpx"))) >= 2
    for folder, name in ((kept, "desk"), (other, "alone")):
        words = " ".join(f"--{kind} {tmp_path / name}.{kind}" for kind in ("csv", "json"))
        run(f"crabline season {folder} --jobs 1 {words}")
    for kind in ("csv", "json"):
        assert (tmp_path / f"desk.{kind}").read_bytes() == (tmp_path / f"alone.{kind}").read_bytes()


def test_the_mark_is_of_this_jump_alone(tmp_path: Path) -> None:
    folder = DeskFolder(tmp_path)
    kept = Corrections(folder)
    a, b = JumpId("a" * 64, 0), JumpId("b" * 64, 0)
    mark = kept.mark(a)
    kept.save([Change(b, tmp_path / "t", {"note": "b"})])
    assert kept.mark(a) == mark
    kept.save([Change(a, tmp_path / "t", {"note": "a"}, seen=mark)])
    with pytest.raises(Changed):
        kept.save([Change(a, tmp_path / "t", {"note": "c"}, seen=mark)])
    folder.close()


def test_season_and_coach_lead_to_each_other(desk: Client) -> None:
    coach, season = desk.get("/coach").text, desk.get("/season").text
    links = set(re.findall(r'href="/season#(jumper-\d+)"', coach))
    assert links
    assert all(f'id="{anchor}"' in season for anchor in links)
    assert 'href="/coach"' in season
    assert f'href="{JUMP}"' in season


def test_the_coach_leads_to_talk_sheets(desk: Client) -> None:
    sheets = re.findall(r'href="(/talk\?jumper=[^"]*)"', desk.get("/coach").text)
    assert sheets
    page = desk.get(sheets[0])
    assert page.status == 200
    assert "Talk with " in page.text
    assert 'href="/coach"' in page.text
    for nobody in ("/talk", "/talk?jumper=Nobody+of+us", "/talk?jumper=%00"):
        assert desk.get(nobody).status == 404
