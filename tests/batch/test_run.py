"""A season of real debriefs: processes, a cluster, pages, bad input, through the command."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from command import as_text, crabline

from analyser.batch.run import run_season
from analyser.batch.update import Pages
from analyser.batch.work import Job, debrief_job
from analyser.debrief import debrief_all
from analyser.errors import AnalyserError, InputError, OutputError, UnreadableError
from analyser.logbook import Logbook
from analyser.logbook.jump_columns import COLUMNS, jump_row
from analyser.report.documents.debrief import to_document
from analyser.settings import Settings

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample_tracks"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four sample tracks, one of them a day of two jumps, and one file that is no track."""
    top = tmp_path_factory.mktemp("tracks")
    for name in ("first_light.gpx", "steady_breeze.fit", "late_final.gpx", "two_jumps.gpx"):
        shutil.copy(SAMPLES / name, top / name)
    (top / "broken.gpx").write_text("<gpx></gpx>")
    (top / "logbook.toml").write_text('[jumper]\nname = "Ines Marrow"\n')
    return top


def rows_of(book: Path) -> list[dict[str, object]]:
    with Logbook(book) as logbook:
        return list(logbook.rows())


@pytest.fixture(scope="module")
def book(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The logbook of these tracks, made on two processes."""
    path = tmp_path_factory.mktemp("book") / "logbook.sqlite"
    result = run_season([folder], logbook=path, jobs=2)
    assert (result.counts.tracks, result.counts.debriefed, result.counts.failed) == (5, 4, 1)
    assert result.season.jumps == 5
    return path


def test_rows_and_documents_are_those_of_the_debriefs(folder: Path, book: Path) -> None:
    rows = rows_of(book)
    assert sorted((str(row["file"]).rpartition("/")[2], row["jump"]) for row in rows) == [
        ("first_light.gpx", 1),
        ("late_final.gpx", 1),
        ("steady_breeze.fit", 1),
        ("two_jumps.gpx", 1),
        ("two_jumps.gpx", 2),
    ]
    assert {row["jumper"] for row in rows} == {"Ines Marrow"}
    day = debrief_all(folder / "two_jumps.gpx")
    for row in rows:
        if str(row["file"]).endswith("two_jumps.gpx"):
            document = to_document(day[int(str(row["jump"])) - 1])
            assert {name: row[name] for name in COLUMNS} == jump_row(document)
            with Logbook(book) as logbook:
                kept = json.loads(str(logbook.document(str(row["sha256"]), int(str(row["jump"])))))
            document["source"]["file"] = "two_jumps.gpx"
            assert kept == json.loads(json.dumps(document))


def test_an_unchanged_run_debriefs_nothing_and_changes_nothing(folder: Path, book: Path) -> None:
    before = rows_of(book)
    result = run_season([folder], logbook=book, jobs=2)
    assert (result.counts.debriefed, result.counts.unchanged, result.counts.failed_before) == (0, 4, 1)
    assert rows_of(book) == before


@pytest.mark.slow
def test_pages_are_written_once_and_made_again_where_missing(folder: Path, tmp_path: Path) -> None:
    pages = Pages(tmp_path / "pages", "metric")
    two = tmp_path / "two"
    two.mkdir()
    shutil.copy(folder / "two_jumps.gpx", two / "day.gpx")
    assert run_season([two], jobs=1, pages=pages).counts.debriefed == 1
    found = sorted(p.name for p in pages.folder.glob("*.html"))
    assert len(found) == 2
    assert found[0].endswith("-1.html")
    assert run_season([two], jobs=1, pages=pages).counts.debriefed == 0
    (pages.folder / found[0]).unlink()
    assert run_season([two], jobs=1, pages=pages).counts.debriefed == 1
    assert sorted(p.name for p in pages.folder.glob("*.html")) == found


@pytest.mark.slow
def test_pages_name_whose_jump_it_is_also_after_another_name(folder: Path, tmp_path: Path) -> None:
    pages, two = Pages(tmp_path / "pages", "metric"), tmp_path / "two"
    two.mkdir()
    shutil.copy(folder / "two_jumps.gpx", two / "day.gpx")
    one, other = (f'[[jump]]\nfile = "day.gpx"\njump = {n}\njumper = "{{}}"\n' for n in (1, 2))
    for first, second in (("Ana Quill", "Bo Reed"), ("Ana Quill", "Cy Marsh")):
        (two / "logbook.toml").write_text(one.format(first) + other.format(second))
        assert run_season([two], jobs=1, pages=pages).counts.debriefed == 1
        assert run_season([two], jobs=1, pages=pages).counts.debriefed == 0
        for name, page in zip((first, second), sorted(pages.folder.glob("*.html")), strict=True):
            told = told_by(page.read_text(encoding="utf-8"))
            assert [n for n in ("Ana Quill", "Bo Reed", "Cy Marsh") if n in told] == [name]


ZORKA = """
[site]
name = "Zorka field"
target = [49.7215, -107.9342]
elevation_m = 742
[[site.keep_out]]
name = "Zorka strip"
below_ft = 3000
polygon = [[49.7221, -107.96], [49.7221, -107.90], [49.74, -107.90], [49.74, -107.96]]
[canopy]
name = "Zorka wing"
area_ft2 = 210
exit_weight_lb = 206
[pattern]
final_ft = 310
"""


def private_season(top: Path) -> None:
    """A track whose every name is told somewhere: file, track, jumper, canopy, site, keep-out area, plan, note."""
    fixes = (SAMPLES / "late_final.gpx").read_text(encoding="utf-8")
    (top / "zorka_track.gpx").write_text(fixes.replace("late_final", "Zorka track", 1), encoding="utf-8")
    (top / "zorka_plan.toml").write_text(ZORKA, encoding="utf-8")
    (top / "logbook.toml").write_text(
        'plan = "zorka_plan.toml"\nnote = "Zorka note"\n[jumper]\nname = "Zorka"\n'
    )


def told_by(page: str) -> str:
    """A page without scripts of others, styles and the method: what is said, linked and embedded."""
    return re.sub(
        r"(?s)<style>.*?</style>|<script(?! type=.application/json)[^>]*>.*?</script>|<details class=.noprint.*?</details>",
        "",
        page,
    )


def test_private_pages_hold_no_name_date_or_place(tmp_path: Path) -> None:
    top = tmp_path / "zorka_folder"
    top.mkdir()
    private_season(top)
    out = tmp_path / "out"
    out.mkdir()
    options = [
        "--private",
        "--pages",
        out / "pages",
        "--html",
        out / "season.html",
        "--coach",
        out / "coach.html",
    ]
    done = command(top, "--jobs", 1, *options)
    assert done.returncode == 0, done.stderr
    (row,) = rows_of(top / "logbook.sqlite")
    day, place = str(row["landing_utc"])[:10], f"{row['landing_lat']:.2f}"
    pages = [p for p in out.rglob("*") if p.suffix == ".html"]
    assert len(pages) == 3
    (page,) = (out / "pages").glob("*.html")
    secret = ("zorka", str(row["sha256"])[:8], day, day[5:], "utc", place, "quillmere")
    for path in pages:
        text = told_by(path.read_text(encoding="utf-8")).lower()
        for word in secret:
            assert word not in f"{path.relative_to(out)} {text}".lower(), f"{word} in {path.name}"
    assert f'href="pages/{page.name}"' in (out / "season.html").read_text(encoding="utf-8")
    debriefed = run_season([top], jobs=1, pages=Pages(out / "pages", "uk", True)).counts.debriefed
    assert debriefed == 0


@pytest.mark.slow
def test_a_private_page_tells_the_same_numbers(tmp_path: Path) -> None:
    private_season(tmp_path)
    counts = []
    for private in (False, True):
        folder = tmp_path / f"pages-{private}"
        run_season([tmp_path], jobs=1, pages=Pages(folder, "metric", private))
        (page,) = folder.glob("*.html")
        text = told_by(page.read_text(encoding="utf-8"))
        assert private or {"Zorka field", "Zorka wing", "Zorka strip", "Zorka track"} <= set(
            re.findall(r"Zorka \w+", text)
        )
        counts.append(re.findall(r"<td[^>]*>.*?</td>", text))
    assert counts[0] == counts[1]
    assert len(counts[0]) > 50


def test_private_pages_never_mix_with_others(tmp_path: Path) -> None:
    top = tmp_path / "tracks"
    top.mkdir()
    private_season(top)
    run_season([top], jobs=1, pages=Pages(tmp_path / "pages", "uk"))
    with pytest.raises(OutputError, match="holds pages with names and dates"):
        run_season([top], jobs=1, pages=Pages(tmp_path / "pages", "uk", True))


def test_a_page_that_can_not_be_written_stops_the_run_in_one_line(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "pages").write_text("a file, not a folder")
    with pytest.raises(OutputError, match="pages"):
        run_season([folder], logbook=tmp_path / "b.sqlite", pages=Pages(tmp_path / "pages", "uk"))
    job = Job(str(folder / "first_light.gpx"), Settings(), (), "0" * 64, str(tmp_path / "pages" / "none"))
    answer = debrief_job(job)
    assert answer.reason is None
    assert answer.trouble is not None
    assert "can not be written" in answer.trouble


def test_what_a_file_holds_never_raises(tmp_path: Path) -> None:
    (tmp_path / "text.gpx").write_text("hello")
    answer = debrief_job(Job(str(tmp_path / "text.gpx"), Settings()))
    assert answer.jumps == ()
    assert answer.reason
    assert debrief_job(Job(str(tmp_path / "none.gpx"), Settings())).reason


def test_folders_without_a_track_leave_nothing_behind(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="holds no track"):
        run_season([tmp_path])
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(UnreadableError, match="no such folder"):
        run_season([tmp_path / "none"])
    (tmp_path / "file").write_text("x")
    with pytest.raises(UnreadableError, match="not a folder"):
        run_season([tmp_path / "file"])


def command(*words: object) -> subprocess.CompletedProcess[str]:
    return as_text(crabline("season", *words, COLUMNS="80"))


def test_the_command_writes_what_is_asked_for(folder: Path, book: Path, tmp_path: Path) -> None:
    done = command(
        folder, "--logbook", book, "--csv", tmp_path / "rows.csv", "--html", tmp_path / "season.html",
        "--coach", tmp_path / "coach.html", "--canopy-cards", tmp_path / "cards", "--parquet", tmp_path / "rows.parquet",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "Jumps 5 · Jumpers 1" in done.stdout
    assert "broken.gpx" in done.stdout
    for name in ("rows.csv", "season.html", "coach.html", "rows.parquet"):
        assert (tmp_path / name).stat().st_size > 0
    strict = command(folder, "--logbook", book, "--strict", "--json", "-")
    assert strict.returncode == 1
    assert json.loads(strict.stdout)["schema"] == "crabline.season/1"


def test_a_season_of_nothing_that_can_be_used_leaves_with_one(folder: Path, tmp_path: Path) -> None:
    shutil.copy(folder / "broken.gpx", tmp_path / "broken.gpx")
    for told in ("1 failed now", "1 failed before"):
        done = command(tmp_path, "--jobs", "1")
        assert done.returncode == 1
        assert done.stderr == f"error: {tmp_path}: no track in it could be used; the list above says why\n"
        assert told in done.stdout
        assert "broken.gpx: " in done.stdout


def test_the_command_never_writes_over_an_input(folder: Path, book: Path) -> None:
    before = (folder / "first_light.gpx").read_bytes()
    done = command(folder, "--logbook", book, "--csv", folder / "first_light.gpx")
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1
    assert "over an input" in done.stderr
    assert (folder / "first_light.gpx").read_bytes() == before
    done = command(folder, "--logbook", book, "--csv", folder / "logbook.toml")
    assert done.returncode == 1


def test_bad_logbooks_are_one_line(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "notes.sqlite").write_text("my notes")
    for path in (tmp_path / "notes.sqlite", tmp_path / "none" / "logbook.sqlite", tmp_path):
        done = command(folder, "--logbook", path)
        assert done.returncode == 1
        assert done.stderr.startswith("error: ")
        assert done.stderr.count("\n") == 1
        assert "Traceback" not in done.stderr
    assert (tmp_path / "notes.sqlite").read_text() == "my notes"


@pytest.mark.slow
def test_a_cluster_gives_the_same_rows(folder: Path, book: Path, tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        result = run_season([folder], logbook=tmp_path / "b.sqlite", scheduler=cluster.scheduler_address)
    assert (result.counts.debriefed, result.counts.failed) == (4, 1)

    def content(path: Path) -> list[dict[str, object]]:
        return [{**row, "file": None} for row in rows_of(path)]

    assert content(tmp_path / "b.sqlite") == content(book)


def test_a_scheduler_that_is_not_there_is_one_line(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr("analyser.batch.dask.CONNECT_S", 0.3)
    with pytest.raises(AnalyserError, match="no Dask scheduler answers at") as caught:
        run_season([folder], logbook=tmp_path / "b.sqlite", scheduler="tcp://127.0.0.1:9")
    assert "\n" not in str(caught.value)
