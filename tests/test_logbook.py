"""The logbook: nothing lost, nothing double, nothing done twice; whatever happens to it is one clear line."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from season_fakes import fake_job, write_track

from analyser.errors import AnalyserError, OutputError, SettingsError, UnreadableError
from analyser.logbook import Logbook, schema
from analyser.logbook.plans import LOGBOOK_KEYS, Plans
from analyser.season.pool import Failed
from analyser.season.rows import COLUMNS, WHO
from analyser.season.update import Counts, update
from analyser.season.work import Answer, Job
from analyser.settings import Settings
from analyser.settings.given import parse_given

ROOT = Path(__file__).resolve().parent.parent


def serial(jobs: Iterator[Job]) -> Iterator[tuple[Job, Answer | Failed]]:
    """The stand-in, without processes."""
    for job in jobs:
        yield job, fake_job(job)


def run(folder: Path, book: Path | None = None, **options: bool) -> Counts:
    with Logbook(book or folder / "logbook.sqlite") as logbook:
        return update(logbook, [folder], Plans(), serial, **options)


def dump(book: Path) -> list[tuple[object, ...]]:
    """Everything a logbook tells about its jumps and failures."""
    with Logbook(book) as logbook:
        rows = [tuple(row.values()) for row in logbook.rows()]
        documents = [(logbook.document(str(row[1]), int(str(row[2]))),) for row in rows]
        return [*rows, *documents, *logbook.failures()]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Twelve tracks in two folders: one bad, one with three jumps."""
    top = tmp_path / "season"
    for i in range(5):
        write_track(top / "may" / f"{i}.gpx", f"may {i}")
        write_track(top / "june" / f"{i}.gpx", f"june {i}")
    write_track(top / "june" / "bad.gpx", "bad")
    write_track(top / "june" / "day.gpx", "jumps=3")
    (top / "june" / "notes.txt").write_text("no track")
    return top


def test_first_run_then_an_unchanged_one(folder: Path) -> None:
    first = run(folder)
    assert (first.tracks, first.debriefed, first.failed, first.unchanged) == (12, 11, 1, 0)
    before = dump(folder / "logbook.sqlite")
    again = run(folder)
    assert (again.tracks, again.debriefed, again.failed, again.unchanged) == (12, 0, 0, 12)
    assert dump(folder / "logbook.sqlite") == before
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert logbook.count() == 13
        assert [f.path for f in logbook.failures()] == ["june/bad.gpx"]
        dates = [row["landing_utc"] for row in logbook.rows()]
        assert dates == sorted(dates)


def test_only_new_and_changed_tracks_are_debriefed(folder: Path) -> None:
    run(folder)
    write_track(folder / "june" / "1.gpx", "june 1 again")
    write_track(folder / "june" / "new.gpx", "new")
    counts = run(folder)
    assert (counts.debriefed, counts.unchanged) == (2, 11)
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert logbook.count() == 14  # the jump of the old content of 1.gpx is gone, not kept beside
        assert sum(row["file"] == "june/1.gpx" for row in logbook.rows()) == 1


def test_a_touched_track_is_hashed_but_not_debriefed(folder: Path) -> None:
    run(folder)
    os.utime(folder / "may" / "1.gpx", (1, 1))
    assert run(folder).debriefed == 0


def test_moved_and_renamed_tracks_are_recognised(folder: Path) -> None:
    run(folder)
    before = dump(folder / "logbook.sqlite")
    (folder / "july").mkdir()
    (folder / "june" / "1.gpx").rename(folder / "july" / "renamed.gpx")
    (folder / "june" / "2.gpx").rename(folder / "june" / "swap.gpx")
    (folder / "june" / "3.gpx").rename(folder / "june" / "2.gpx")
    (folder / "june" / "swap.gpx").rename(folder / "june" / "3.gpx")
    counts = run(folder)
    assert (counts.debriefed, counts.missing) == (0, 0)
    with Logbook(folder / "logbook.sqlite") as logbook:
        files = {row["file"] for row in logbook.rows()}
    assert "july/renamed.gpx" in files
    assert "june/1.gpx" not in files
    assert len(dump(folder / "logbook.sqlite")) == len(before)


def test_the_whole_folder_may_move(folder: Path, tmp_path: Path) -> None:
    run(folder)
    before = dump(folder / "logbook.sqlite")
    shutil.move(folder, tmp_path / "elsewhere")
    assert run(tmp_path / "elsewhere").debriefed == 0
    assert dump(tmp_path / "elsewhere" / "logbook.sqlite") == before


def test_a_copy_is_no_second_jump(folder: Path) -> None:
    shutil.copy(folder / "may" / "1.gpx", folder / "may" / "copy of 1.gpx")
    counts = run(folder)
    assert counts.copies == 1
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert logbook.count() == 13


def test_jumps_of_a_vanished_track_are_kept_and_said(folder: Path) -> None:
    run(folder)
    (folder / "may" / "1.gpx").unlink()
    assert run(folder).missing == 1
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert logbook.count() == 13


def test_a_failed_track_is_tried_again_only_when_changed_or_asked(folder: Path) -> None:
    run(folder)
    assert run(folder).failed == 0
    assert run(folder, retry=True).failed == 1
    write_track(folder / "june" / "bad.gpx", "good now")
    assert run(folder).debriefed == 1
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert list(logbook.failures()) == []


def test_an_unreadable_track_is_listed_and_recovers(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: Path) -> str:
        raise UnreadableError("can not be read: Permission denied", "", str(path))

    with monkeypatch.context() as patch:
        patch.setattr("analyser.season.update.content_hash", refuse)
        assert run(folder).unreadable == 12
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert len(list(logbook.failures())) == 12
    run(folder)
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert len(list(logbook.failures())) == 1


def test_only_plain_files_are_opened(folder: Path) -> None:
    os.mkfifo(folder / "may" / "pipe.gpx")
    (folder / "may" / "link.gpx").symlink_to(folder / "june" / "1.gpx")
    (folder / "may" / "loop").symlink_to(folder)
    odd = write_track(folder / "may" / "a\nb\x1b[31m.gpx", "odd name")
    nameless = write_track(folder / "may" / "no suffix", "by content")
    (folder / "may" / os.fsdecode(b"latin\xe9.gpx")).write_text("<gpx>latin</gpx>")
    counts = run(folder)
    assert counts.tracks == 15
    assert run(folder).unchanged == 15
    assert odd.exists()
    assert nameless.exists()


def test_folders_that_overlap_count_once(folder: Path) -> None:
    with Logbook(folder / "logbook.sqlite") as logbook:
        counts = update(logbook, [folder / "june", folder, folder], Plans(), serial)
    assert counts.tracks == 12
    with (
        pytest.raises(UnreadableError, match="no such folder"),
        Logbook(folder / "logbook.sqlite") as logbook,
    ):
        update(logbook, [folder / "none"], Plans(), serial)


def test_an_open_logbook_may_be_brought_up_to_date_twice(folder: Path) -> None:
    with Logbook(folder / "logbook.sqlite") as logbook:
        update(logbook, [folder], Plans(), serial)
        again = update(logbook, [folder], Plans(), serial)
    assert (again.unchanged, again.copies) == (12, 0)


def test_a_logbook_elsewhere(folder: Path, tmp_path: Path) -> None:
    book = tmp_path / "elsewhere.sqlite"
    assert run(folder, book).debriefed == 11
    assert run(folder, book).unchanged == 12
    assert not (folder / "logbook.sqlite").exists()


# --- who and what ----------------------------------------------------------------------------------------------


def rows_by_file(folder: Path) -> dict[str, dict[str, object]]:
    with Logbook(folder / "logbook.sqlite") as logbook:
        return {f"{row['file']}#{row['jump']}": row for row in logbook.rows()}


def test_the_nearest_logbook_toml_wins(folder: Path) -> None:
    (folder / "logbook.toml").write_text(
        '[jumper]\nname = "Ana Quill"\n[canopy]\nname = "Wide 230"\narea_ft2 = 230\n[site]\nname = "Larkmoor"\ntarget = [50.0, 1.0]\n'
    )
    (folder / "june" / "logbook.toml").write_text('note = "second camp"\n[jumper]\nname = "Bo Reed"\n')
    run(folder)
    rows = rows_by_file(folder)
    assert rows["may/1.gpx#1"]["jumper"] == "Ana Quill"
    assert rows["june/1.gpx#1"]["jumper"] == "Bo Reed"
    assert rows["june/1.gpx#1"]["canopy"] == "Wide 230"
    assert rows["june/1.gpx#1"]["note"] == "second camp"
    assert rows["june/1.gpx#1"]["site"] == "Larkmoor"


def test_changed_settings_are_debriefed_again_changed_names_are_not(folder: Path) -> None:
    run(folder)
    (folder / "may" / "logbook.toml").write_text('[jumper]\nname = "Ana Quill"\n[site]\nname = "Larkmoor"\n')
    assert run(folder).debriefed == 0
    assert rows_by_file(folder)["may/1.gpx#1"]["site"] == "Larkmoor"
    before = rows_by_file(folder)["may/1.gpx#1"]["along_m"]
    (folder / "may" / "logbook.toml").write_text("[site]\ntarget = [50.0, 1.0]\n")
    assert run(folder).debriefed == 5
    row = rows_by_file(folder)["may/1.gpx#1"]
    assert row["along_m"] == before + 50.0  # type: ignore[operator]
    assert row["jumper"] is None


def test_corrections_by_hand_survive_a_re_run(folder: Path) -> None:
    (folder / "logbook.toml").write_text(
        "[site]\ntarget = [50.0, 1.0]\n"
        '[[jump]]\nfile = "may/1.gpx"\ntarget = [51.0, 1.0]\nnote = "moved the disc"\n'
        '[[jump]]\nfile = "june/day.gpx"\njump = 2\nexclude = "landed in the overflow field on request"\n'
        '[[jump]]\nfile = "june/none.gpx"\nexclude = "x"\n'
    )
    counts = run(folder)
    assert counts.warnings == [f"{folder / 'logbook.toml'}: line 12: no track 'june/none.gpx'"]
    shift = fake_job(Job(str(folder / "may" / "1.gpx"), Settings())).jumps[0].row["along_m"] + 51.0
    for _ in range(2):
        rows = rows_by_file(folder)
        assert rows["may/1.gpx#1"]["along_m"] == shift
        assert rows["may/1.gpx#1"]["note"] == "moved the disc"
        assert rows["june/day.gpx#2"]["excluded"] == "landed in the overflow field on request"
        assert rows["june/day.gpx#1"]["excluded"] is None
        assert run(folder).debriefed == 0
    write_track(folder / "may" / "1.gpx", "may 1")  # the same bytes again
    assert run(folder).debriefed == 0
    plain = {k: r["along_m"] for k, r in rows_by_file(folder).items()}
    (folder / "logbook.toml").write_text("[site]\ntarget = [50.0, 1.0]\n")
    assert run(folder).debriefed == 1
    moved = {k for k, r in rows_by_file(folder).items() if r["along_m"] != plain[k]}
    assert moved == {"may/1.gpx#1"}


def test_corrections_for_other_folders_are_no_warning(folder: Path) -> None:
    (folder / "logbook.toml").write_text('[[jump]]\nfile = "may/none.gpx"\nexclude = "x"\n')
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert update(logbook, [folder / "june"], Plans(), serial).warnings == []
        assert len(update(logbook, [folder / "may"], Plans(), serial).warnings) == 1


def test_one_jump_of_a_day_may_have_its_own_target(folder: Path) -> None:
    run(folder)
    before = rows_by_file(folder)
    (folder / "logbook.toml").write_text('[[jump]]\nfile = "june/day.gpx"\njump = 2\ntarget = [50.0, 1.0]\n')
    assert run(folder).debriefed == 1
    after = rows_by_file(folder)
    moved = {k for k in after if after[k]["along_m"] != before[k]["along_m"]}
    assert moved == {"june/day.gpx#2"}


def test_a_correction_by_content_survives_a_new_name(folder: Path) -> None:
    run(folder)
    sha = str(rows_by_file(folder)["may/1.gpx#1"]["sha256"])
    (folder / "logbook.toml").write_text(f'[[jump]]\ncontent = "{sha[:12]}"\nexclude = "borrowed receiver"\n')
    (folder / "may" / "1.gpx").rename(folder / "x.gpx")
    run(folder)
    assert rows_by_file(folder)["x.gpx#1"]["excluded"] == "borrowed receiver"


def test_a_plan_at_fault_costs_its_own_track_only(folder: Path) -> None:
    (folder / "bad.toml").write_text("[pattern]\nbase_ft = 200\n")
    (folder / "logbook.toml").write_text('[[jump]]\nfile = "may/1.gpx"\nplan = "bad.toml"\n')
    assert run(folder).debriefed == 10
    with Logbook(folder / "logbook.sqlite") as logbook:
        reasons = {f.path: f.reason for f in logbook.failures()}
    assert "its plan can not be used" in reasons["may/1.gpx"]
    assert "gates out of order" in reasons["may/1.gpx"]
    (folder / "bad.toml").write_text("[pattern]\nbase_ft = 700\n")
    assert run(folder).debriefed == 1


def test_the_documented_logbooks_are_logbooks() -> None:
    blocks = (ROOT / "docs" / "season.md").read_text(encoding="utf-8").split("```toml\n")[1:]
    given = [parse_given(block.partition("```")[0], "docs/season.md", LOGBOOK_KEYS) for block in blocks]
    assert any("jump" in part for part in given)


def test_names_from_a_table(folder: Path) -> None:
    (folder / "logbook.toml").write_text('[canopy]\nname = "Wide 230"\narea_ft2 = 230\nairspeed_mps = 9.0\n')
    (folder / "logbook.csv").write_text(
        "file;jumper;canopy;weather;note;exclude\nmay/1.gpx;Bo Reed;Slim 170;sun;first;\nmay/2.gpx;;;;;wrong day\n"
    )
    run(folder)
    rows = rows_by_file(folder)
    assert (rows["may/1.gpx#1"]["jumper"], rows["may/1.gpx#1"]["canopy"]) == ("Bo Reed", "Slim 170")
    assert rows["may/2.gpx#1"]["excluded"] == "wrong day"
    plans = Plans()
    settings = plans.assign(folder / "may" / "1.gpx", "0" * 64).settings
    assert settings.canopy.area_m2 is None  # another canopy brings none of the numbers of the one before
    assert plans.assign(folder / "may" / "3.gpx", "0" * 64).settings.canopy.airspeed_mps == 9.0


def test_plans_and_canopy_cards_named_in_the_logbook(folder: Path) -> None:
    (folder / "field.toml").write_text("[site]\ntarget = [50.0, 1.0]\n[pattern]\nfinal_ft = 350\n")
    (folder / "slim.toml").write_text('[canopy]\nname = "Slim 170"\narea_ft2 = 170\nairspeed_mps = 11.5\n')
    (folder / "logbook.toml").write_text(
        'plan = "field.toml"\ncards = ["slim.toml"]\n[pattern]\nbase_ft = 650\n'
    )
    (folder / "logbook.csv").write_text("file,canopy\nmay/1.gpx,Slim 170\n")
    plans = Plans()
    first = plans.assign(folder / "may" / "1.gpx", "0" * 64)
    assert first.settings.canopy.airspeed_mps == 11.5
    assert first.settings.site.target == (50.0, 1.0)
    assert first.settings.pattern.base_m == pytest.approx(650 * 0.3048)
    assert first.names["plan"] == "field.toml; logbook.toml"
    assert plans.assign(folder / "may" / "2.gpx", "0" * 64).settings.canopy.airspeed_mps is None


@pytest.mark.parametrize(
    ("name", "text", "part"),
    [
        ("logbook.toml", "[jumper]\nnam = 1", "line 2: unknown key jumper.nam; did you mean name?"),
        ("logbook.toml", 'plan = "none.toml"', 'names "none.toml", which is not there'),
        ("logbook.toml", '[[jump]]\nexclude = "x"', "names no track"),
        ("logbook.toml", '[[jump]]\nfile = "a"\nexclude = "x"\ninclude = true', "both included and excluded"),
        ("logbook.toml", '[[jump]]\nfile = "a"\njump = 0', "whole number from 1 up"),
        ("logbook.toml", "[pattern]\nbase_ft = 200", "gates out of order"),
        ("logbook.csv", "name,jumper\na,b", "no column file"),
        ("logbook.csv", "file,jumpr\na,b", "did you mean jumper"),
        ("logbook.csv", "file,jump\na,x", "line 2: jump must be a whole number"),
        ("logbook.csv", "file,target\na,x", "line 2: target 'x' is not LAT,LON"),
        ("logbook.csv", "file,jumper\n,x", "line 2: names no track"),
    ],
)
def test_a_mistake_in_a_logbook_file_comes_out_before_any_work(
    folder: Path, name: str, text: str, part: str
) -> None:
    (folder / "june" / name).write_text(text)
    with pytest.raises(SettingsError) as caught:
        run(folder)
    assert part in str(caught.value)
    assert str(folder / "june" / name) in str(caught.value)
    with Logbook(folder / "logbook.sqlite") as logbook:
        assert logbook.count() == 0


# --- damage ------------------------------------------------------------------------------------------------------


def one_line(error: AnalyserError) -> str:
    assert "\n" not in str(error)
    return str(error)


def test_a_file_that_is_no_logbook_is_left_alone(folder: Path) -> None:
    book = folder / "logbook.sqlite"
    book.write_bytes(b"my notes " * 100)
    with pytest.raises(OutputError) as caught:
        run(folder)
    assert "is no logbook, or is damaged" in one_line(caught.value)
    assert book.read_bytes() == b"my notes " * 100


def test_a_database_of_something_else_is_left_alone(folder: Path) -> None:
    book = folder / "logbook.sqlite"
    with closing(sqlite3.connect(book)) as db, db:
        db.execute("CREATE TABLE recipes (name TEXT)")
    before = book.read_bytes()
    with pytest.raises(OutputError, match="a database of another kind"):
        run(folder)
    assert book.read_bytes() == before


def test_a_damaged_logbook_is_left_alone(folder: Path) -> None:
    run(folder)
    book = folder / "logbook.sqlite"
    data = bytearray(book.read_bytes())
    data[4096:] = b"\xa5" * (len(data) - 4096)
    book.write_bytes(data)
    with pytest.raises(OutputError) as caught:
        run(folder)
    assert "damaged" in one_line(caught.value)
    assert book.read_bytes() == bytes(data)


def test_a_cut_logbook_is_left_alone(folder: Path) -> None:
    run(folder)
    book = folder / "logbook.sqlite"
    data = book.read_bytes()[:9000]
    book.write_bytes(data)
    with pytest.raises(OutputError) as caught:
        run(folder)
    assert "damaged" in one_line(caught.value)
    assert book.read_bytes() == data


def test_a_newer_logbook_is_left_alone(folder: Path) -> None:
    run(folder)
    with closing(sqlite3.connect(folder / "logbook.sqlite")) as db, db:
        db.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
    with pytest.raises(OutputError, match="newer version"):
        run(folder)


def test_a_missing_folder_and_a_folder_in_place_of_the_logbook(folder: Path, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="its folder does not exist"):
        run(folder, tmp_path / "none" / "logbook.sqlite")
    with pytest.raises(OutputError, match="not a plain file"):
        run(folder, tmp_path)


def test_a_folder_that_may_not_be_written(folder: Path) -> None:
    if os.geteuid() == 0:
        pytest.skip("root may write everywhere")
    mode = folder.stat().st_mode
    folder.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        with pytest.raises(OutputError) as caught:
            run(folder)
        assert "no permission" in one_line(caught.value)
    finally:
        folder.chmod(mode)


def test_a_logbook_that_may_not_be_written(folder: Path) -> None:
    run(folder)
    write_track(folder / "may" / "new.gpx", "new")
    with Logbook(folder / "logbook.sqlite") as logbook:
        logbook._db.execute("PRAGMA query_only = 1")  # what a read-only disk does to every write
        with pytest.raises(OutputError) as caught:
            update(logbook, [folder], Plans(), serial)
    assert "no permission" in one_line(caught.value)
    assert run(folder).debriefed == 1


def test_a_full_disk_keeps_what_was_done(folder: Path) -> None:
    run(folder)
    before = dump(folder / "logbook.sqlite")
    for i in range(40):
        write_track(folder / "july" / f"{i}.gpx", f"july {i} jumps=9")
    with Logbook(folder / "logbook.sqlite") as logbook:
        pages = logbook._db.execute("PRAGMA page_count").fetchone()[0]
        logbook._db.execute(f"PRAGMA max_page_count = {pages + 12}")
        with pytest.raises(OutputError) as caught:
            update(logbook, [folder], Plans(), serial)
    assert "disk is full" in one_line(caught.value)
    after = dump(folder / "logbook.sqlite")
    assert set(before) <= set(after)
    run(folder)
    assert len(rows_by_file(folder)) == 13 + 360


LIMITED = """
import resource, sys
from pathlib import Path
sys.path[:0] = [{tests!r}]
from season_fakes import fake_job
from analyser.errors import OutputError
from analyser.logbook import Logbook
from analyser.logbook.plans import LOGBOOK_KEYS, Plans
from analyser.season.update import update
resource.setrlimit(resource.RLIMIT_FSIZE, ({limit}, {limit}))
try:
    with Logbook({book!r}) as logbook:
        update(logbook, [Path({folder!r})], Plans(), lambda jobs: ((job, fake_job(job)) for job in jobs))
except OutputError as error:
    print(error)
"""


def test_files_that_may_not_grow_are_one_clear_line(folder: Path) -> None:
    run(folder)
    before = dump(folder / "logbook.sqlite")
    for i in range(40):
        write_track(folder / "july" / f"{i}.gpx", f"july {i} jumps=9")
    book = folder / "logbook.sqlite"
    script = LIMITED.format(
        tests=str(ROOT / "tests"), book=str(book), folder=str(folder), limit=book.stat().st_size + 30_000
    )
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, env=environment)
    assert done.stderr == ""
    assert "disk is full or fails; what was done before is kept" in done.stdout
    assert set(before) <= set(dump(book))
    run(folder)
    assert len(rows_by_file(folder)) == 13 + 360


# --- versions -----------------------------------------------------------------------------------------------------


def test_a_logbook_of_the_first_version_is_brought_up_to_date(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run(folder)
    now = dump(folder / "logbook.sqlite")
    book = folder / "logbook.sqlite"
    with closing(sqlite3.connect(book)) as db, db:
        db.execute("PRAGMA user_version = 1")
        db.execute("ALTER TABLE jump RENAME TO newer")
        db.execute("CREATE TABLE jump AS SELECT sha256, jump, jumper, note FROM newer")
        db.execute("DROP TABLE newer")
    assert dump(book) == now
    assert run(folder).debriefed == 0


def test_rows_have_the_columns_of_the_season(folder: Path) -> None:
    run(folder)
    row = next(iter(rows_by_file(folder).values()))
    assert list(row) == ["file", "sha256", "jump", *WHO, *COLUMNS]


# --- two runs and kills -------------------------------------------------------------------------------------------

SCRIPT = """
import sys
from pathlib import Path
sys.path[:0] = [{tests!r}]
from season_fakes import fake_job
from analyser.logbook import Logbook
from analyser.logbook.plans import LOGBOOK_KEYS, Plans
from analyser.season.update import update
def serial(jobs):
    for job in jobs:
        yield job, fake_job(job)
with Logbook({book!r}) as logbook:
    print("open", flush=True)
    update(logbook, [Path({folder!r})], Plans(), serial)
"""


def start(folder: Path) -> subprocess.Popen[str]:
    script = SCRIPT.format(tests=str(ROOT / "tests"), book=str(folder / "logbook.sqlite"), folder=str(folder))
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    return subprocess.Popen(
        [sys.executable, "-c", script], stdout=subprocess.PIPE, text=True, env=environment
    )


def many(top: Path, n: int) -> Path:
    for i in range(n):
        write_track(top / f"{i:03d}.gpx", f"slow track {i} jumps={1 + i % 3}")
    return top


def test_a_killed_run_goes_on_where_it_was(tmp_path: Path) -> None:
    calm = many(tmp_path / "calm", 40)
    run(calm)
    wild = many(tmp_path / "wild", 40)
    for delay in (0.05, 0.15, 0.25):
        process = start(wild)
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(delay)
        process.send_signal(signal.SIGKILL)
        process.wait()
        process.stdout.close()
    with Logbook(wild / "logbook.sqlite") as logbook:
        assert 0 < logbook.count() < 79  # the kills came in the middle of the work
    last = run(wild)
    assert 0 < last.unchanged < 40
    assert dump(wild / "logbook.sqlite") == dump(calm / "logbook.sqlite")


def test_two_runs_at_once_give_one_logbook(tmp_path: Path) -> None:
    calm = many(tmp_path / "calm", 25)
    run(calm)
    both = many(tmp_path / "both", 25)
    processes = [start(both) for _ in range(2)]
    for process in processes:
        assert process.wait(60) == 0
        assert process.stdout is not None
        process.stdout.close()
    assert dump(both / "logbook.sqlite") == dump(calm / "logbook.sqlite")


def test_a_run_waits_for_another_that_writes(folder: Path) -> None:
    run(folder)
    write_track(folder / "may" / "new.gpx", "new")
    other = sqlite3.connect(folder / "logbook.sqlite", isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")
    release = threading.Timer(0.4, other.execute, ("COMMIT",))
    release.start()
    assert run(folder).debriefed == 1
    release.join()
    other.close()
