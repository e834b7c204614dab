"""What the command opens, writes and prints: the input alone, never over an input, the same bytes everywhere."""

from __future__ import annotations

import contextlib
import csv
import json
import os
import re
import shutil
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from typing import get_args, get_type_hints

import pytest
from command import crabline

from analyser.cli.app import COMMANDS, app
from analyser.cli.debrief import check_outputs
from analyser.errors import OutputError
from analyser.report.page.shell import write_assets

ROOT = Path(__file__).resolve().parents[2]
TRACK = ROOT / "sample_tracks" / "first_light.gpx"
FULL_DISK = Path("/dev/full")

# Runs the command in a process whose opened files and sockets are seen; modules and their data are loaded by a first run.
WATCHED = """
import io, json, sys
from contextlib import redirect_stdout
import typer
from analyser.cli import app
def run(words):
    out = io.StringIO()
    with redirect_stdout(out):
        try: app(words, standalone_mode=False)
        except SystemExit: pass
    return out.getvalue()
words = json.loads(sys.argv[1])
run(words)
seen = []
def hook(event, args):
    if event in ('open', 'os.listdir', 'os.scandir') or event.startswith(('socket', 'subprocess', 'os.exec', 'os.system', 'urllib')):
        seen.append(f"{event} {args[0] if args else ''}")
sys.addaudithook(hook)
run(words)
print(json.dumps(seen))
"""

LOCALISED = """
import json, locale, sys
locale.setlocale(locale.LC_ALL, '')
assert locale.localeconv()['decimal_point'] == ',' and locale.format_string('%.1f', 1.5) == '1,5'
from analyser.cli import main
sys.argv = ['crabline', *json.loads(sys.argv[1])]
main()
"""


def run(*words: object, **environment: str) -> subprocess.CompletedProcess[bytes]:
    env = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1", **environment}
    return subprocess.run([sys.executable, *map(str, words)], capture_output=True, env=env, timeout=600)


def process(*words: object, **environment: str) -> subprocess.CompletedProcess[bytes]:
    return run("-m", "analyser", *words, **environment)


def one_line(done: subprocess.CompletedProcess[bytes]) -> str:
    text = done.stderr.decode()
    assert done.returncode == 1
    assert text.count("\n") == 1
    assert text.startswith("error: ")
    return text


def test_a_debrief_opens_its_input_and_nothing_else() -> None:
    """No socket, no process, no other file (digits: an open descriptor), seen by an audit hook through the whole command."""
    for words in (["debrief", str(TRACK), "--json", "-"], ["debrief", str(TRACK)], ["info", str(TRACK)]):
        done = run("-c", WATCHED, json.dumps(words))
        assert done.returncode == 0, done.stderr.decode()
        seen = json.loads(done.stdout.splitlines()[-1])
        assert f"open {TRACK}" in seen or any(s.split()[1].isdigit() for s in seen)
        others = [s for s in seen if not s.endswith(str(TRACK)) and not s.split()[1].isdigit()]
        others = [s for s in others if s != "open /proc/self/maps"]  # threadpoolctl: which BLAS is loaded
        assert others == []


def test_no_output_over_the_track_nor_over_a_plan(tmp_path: Path) -> None:
    track, plan = tmp_path / "mine.gpx", tmp_path / "plan.toml"
    shutil.copy(TRACK, track)
    plan.write_text('[jumper]\nname = "Ines Marrow"\n')
    hard, soft = tmp_path / "other.gpx", tmp_path / "again.toml"
    hard.hardlink_to(track)
    soft.symlink_to(plan)
    before = track.read_bytes(), plan.read_bytes()
    options = ("--json", "--html", "--gpx", "--geojson", "--winds-csv", "--samples-csv")
    for option, out in zip(options, (track, hard, plan, soft, hard, plan), strict=True):
        assert "over an input" in one_line(crabline("debrief", track, "--plan", plan, option, out))
    assert (track.read_bytes(), plan.read_bytes()) == before


def test_no_plan_over_its_own_inputs(tmp_path: Path) -> None:
    plan, winds = tmp_path / "plan.toml", tmp_path / "winds.csv"
    plan.write_text("[site]\ntarget = [49.7, -107.9]\n")
    winds.write_text("agl_m,speed_mps,from_deg\n0,3,240\n1000,6,250\n")
    options = ("--json", "--html", "--gpx", "--geojson")
    for option, out in zip(options, (plan, winds, winds, plan), strict=True):
        said = one_line(crabline("plan", "--plan", plan, "--winds", winds, option, out))
        assert "over an input" in said


def field_with_a_picture(top: Path) -> dict[str, Path]:
    """A track whose folder has settings, a plan, a card and a picture with its world file, named like a picture of the page."""
    files = {
        "track": top / "mine.gpx",
        "settings": top / "logbook.toml",
        "plan": top / "day.toml",
        "card": top / "wide.toml",
        "picture": top / "plan-view.png",
        "world": top / "plan-view.pgw",
    }
    shutil.copy(TRACK, files["track"])
    files["settings"].write_text(
        'plan = "day.toml"\ncards = ["wide.toml"]\n[canopy]\nname = "Wide 230"\n'
        '[site.picture]\nfile = "plan-view.png"\n[site]\ntarget = [49.7215, -107.9342]\n'
    )
    files["plan"].write_text('[pattern]\nhand = "left"\n')
    files["card"].write_text('[canopy]\nname = "Wide 230"\nairspeed_mps = 11.0\nsink_mps = 5.0\n')
    files["picture"].write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(30))
    files["world"].write_text("5e-6\n0\n0\n-5e-6\n-107.94\n49.73\n")
    return files


@pytest.mark.parametrize("what", ["settings", "plan", "card", "picture", "world"])
def test_no_output_over_what_the_folder_of_the_track_says(tmp_path: Path, what: str) -> None:
    files = field_with_a_picture(tmp_path)
    out = tmp_path / "o"
    out.symlink_to(files[what])
    before = {name: path.read_bytes() for name, path in files.items()}
    assert "over an input" in one_line(crabline("debrief", files["track"], "-q", "--json", out))
    assert {name: path.read_bytes() for name, path in files.items()} == before


def test_no_picture_over_a_picture_that_is_read(tmp_path: Path) -> None:
    files = field_with_a_picture(tmp_path)
    before = files["picture"].read_bytes()
    assert "over an input" in one_line(crabline("debrief", files["track"], "-q", "--images", tmp_path))
    assert files["picture"].read_bytes() == before


@pytest.mark.slow
@pytest.mark.skipif(not FULL_DISK.exists(), reason="no /dev/full on this system")
def test_a_full_disk_is_one_line_whether_a_file_or_stdout() -> None:
    assert "no space left" in one_line(crabline("debrief", TRACK, "--json", FULL_DISK))
    for words in (["debrief", TRACK, "--json", "-"], ["debrief", TRACK], ["--version"], ["info", TRACK]):
        with FULL_DISK.open("wb") as full:
            done = subprocess.run(
                [sys.executable, "-m", "analyser", *map(str, words)],
                stdout=full,
                stderr=subprocess.PIPE,
                env={**os.environ, "PYTHONPATH": str(ROOT)},
                timeout=600,
            )
        assert done.returncode == 1
        assert done.stderr.decode().startswith("error: standard output: can not be written (no space left")
        assert done.stderr.count(b"\n") == 1


@pytest.mark.skipif(os.name == "nt", reason="no limit on the size of files")
def test_a_sample_that_finds_no_room_is_one_line_and_leaves_no_piece(tmp_path: Path) -> None:
    """A limit on the size of a file stands for the full disk: part of the track can be written, the rest can not."""
    limited = f"ulimit -f 40; exec {sys.executable} -m analyser sample first_light --out {tmp_path}"
    env = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run(["sh", "-c", limited], capture_output=True, env=env, timeout=600)
    said = one_line(done)
    assert "can not be written (file too large); check folder, permission and space" in said
    assert str(tmp_path) in said
    assert list(tmp_path.iterdir()) == []


def test_a_name_with_a_line_break_and_an_escape_stays_one_harmless_line(tmp_path: Path) -> None:
    odd = tmp_path / "a\nb\x1b[31m\u202e.gpx"
    odd.write_text("no track")
    for words in (
        ["debrief", odd],
        ["info", odd],
        ["plan", "--winds", odd],
        ["debrief", TRACK, "--plan", odd],
    ):
        said = one_line(crabline(*words))
        assert not set(said) & {"\x1b", "\u202e"}
    shutil.copy(TRACK, odd)
    for words in (["debrief", odd], ["info", odd], ["debrief", odd, "--json", "-"]):
        done = crabline(*words)
        assert done.returncode == 0
        assert not set((done.stdout + done.stderr).decode()) & {"\x1b", "\u202e"} or "--json" in words
        if "--json" in words:
            assert json.loads(done.stdout)["source"]["file"] == odd.name


def test_a_name_that_is_no_text_stands_in_every_output_as_its_bytes(tmp_path: Path) -> None:
    """A name of bytes that are no UTF-8, as old cards and archives bring them, in single debriefs and in a season."""
    folder = tmp_path / os.fsdecode(b"caf\xe9")
    odd, plan = folder / os.fsdecode(b"land\xe9.gpx"), folder / os.fsdecode(b"pl\xe9.toml")
    try:
        folder.mkdir()
        shutil.copy(TRACK, odd)
    except OSError:
        pytest.skip("this file system takes only names that are text")
    shutil.copy(ROOT / "shared" / "plans" / "first_light.toml", plan)
    for words in (["debrief", odd, "--plan", plan], ["info", odd]):
        done = crabline(*words, "--json", "-")
        assert done.returncode == 0, done.stderr.decode()
        assert json.loads(done.stdout)["source"]["file"] == "land\\xe9.gpx"
    outputs = [w for kind in ("csv", "html", "json") for w in (f"--{kind}", tmp_path / f"season.{kind}")]
    done = crabline("season", folder, "--jobs", 1, "--plan", plan, "--pages", tmp_path / "pages", *outputs)
    assert done.returncode == 0, done.stderr.decode()
    (row,) = csv.DictReader((tmp_path / "season.csv").read_text(encoding="utf-8").splitlines())
    assert (row["file"], row["plan"]) == ("land\\xe9.gpx", "pl\\xe9.toml")


def test_files_that_may_not_be_read_are_a_reason_and_no_wrong_usage(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """What is given as an input is left to the readers, which say why in one line and leave with 1."""
    winds = tmp_path / "winds.csv"
    winds.write_text("agl_m,speed_mps,from_deg\n0,3,240\n1000,6,250\n")
    plan = ROOT / "shared" / "plans" / "first_light.toml"
    shutil.copy(TRACK, tmp_path / "mine.gpx")
    monkeypatch.setattr(os, "access", lambda *_, **__: False)  # even where the tests run as root
    for words in (
        ["info", TRACK],
        ["debrief", TRACK, "--plan", plan],
        ["plan", "--plan", plan, "--winds", winds],
        ["season", tmp_path, "--jobs", "1"],
        ["season", tmp_path, "--logbook", tmp_path / "logbook.sqlite"],
    ):
        app([str(word) for word in words], standalone_mode=False)  # wrong usage would raise here


def test_outputs_that_may_not_be_read_or_written_are_a_reason_and_no_wrong_usage(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """As for inputs: no option checks a file before the writers do; what may not be written is refused and left as it was."""
    closed = tmp_path / "closed"
    closed.write_text("mine")
    allowed = os.access
    monkeypatch.setattr(
        os, "access", lambda path, mode, **k: Path(path) != closed and allowed(path, mode, **k)
    )
    plan = ROOT / "shared" / "plans" / "first_light.toml"
    for words in (
        *(["debrief", TRACK, o, closed] for o in ("--json", "--html", "--geojson", "--winds-csv")),
        ["info", TRACK, "--json", closed],
        ["plan", "--plan", plan, "--gpx", closed],
    ):
        with pytest.raises(OutputError, match=r"closed: can not be written \(permission denied\); check"):
            app([str(word) for word in words], standalone_mode=False)
        assert closed.read_text() == "mine"
    calls = [getattr(import_module(f"analyser.cli.commands.{name}"), name) for name in COMMANDS]
    hints = [get_type_hints(call, include_extras=True) for call in calls]
    paths = [hint for found in hints for hint in found.values() if "Path" in str(get_args(hint)[:1])]
    assert len(paths) > 20
    assert [hint for hint in paths if get_args(hint)[1].readable or get_args(hint)[1].writable] == []


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may write everything"
)
def test_a_page_over_a_file_without_permission_is_one_line(tmp_path: Path) -> None:
    closed = tmp_path / "page.html"
    closed.touch(mode=0o000)
    assert "permission denied" in one_line(crabline("debrief", TRACK, "--html", closed))


def test_a_closed_stream_is_no_fault(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    words = f"{sys.executable} -m analyser debrief {TRACK} --html {page}"
    for closed in (">&-", "2>&-", ">&- 2>&-"):
        done = subprocess.run(
            ["sh", "-c", f"{words} {closed}"],
            capture_output=True,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            timeout=600,
        )
        assert done.returncode == 0, done.stderr.decode()
        assert done.stderr == b""
        assert page.read_text(encoding="utf-8").endswith("</html>\n")


def test_a_shared_bundle_that_can_not_be_written_is_one_line_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    taken = tmp_path / "taken"
    taken.touch()
    said = one_line(crabline("debrief", TRACK, "--html", tmp_path / "page.html", "--assets", taken))
    assert str(taken) in said
    assert "file exists" in said

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OutputError, match="no space left"):
        write_assets(tmp_path / "shared")
    assert list((tmp_path / "shared").iterdir()) == []


@pytest.mark.skipif(not hasattr(os, "openpty"), reason="no pseudo-terminals")
def test_a_terminal_without_the_characters_gets_question_marks() -> None:
    ours, theirs = os.openpty()
    env = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "ascii"}
    words = [sys.executable, "-m", "analyser", "debrief", str(TRACK)]
    with subprocess.Popen(words, stdout=theirs, stderr=subprocess.PIPE, env=env) as process:
        os.close(theirs)
        told = b""
        with contextlib.suppress(OSError):  # how Linux says that the other end is closed
            while piece := os.read(ours, 65536):
                told += piece
        os.close(ours)
        assert process.stderr is not None
        assert process.stderr.read() == b""
    assert process.returncode == 0
    assert b"ground level at" in told
    assert b" ? " in told


def test_identical_bytes_for_identical_input(tmp_path: Path) -> None:
    """Every kind of output, under another seed of hashes, time zone, locale, width and folder."""
    kinds = {"--json": "a.json", "--html": "a.html", "--gpx": "a.gpx", "--geojson": "a.geojson", "--winds-csv": "a.csv",
             "--samples-csv": "b.csv"}  # fmt: skip
    worlds = (
        {"PYTHONHASHSEED": "1", "TZ": "UTC", "LC_ALL": "C.UTF-8"},
        {"PYTHONHASHSEED": "2", "TZ": "Pacific/Apia", "LC_ALL": "C", "LANGUAGE": "de"},
    )
    for number, world in enumerate(worlds):
        folder = tmp_path / str(number)
        folder.mkdir()
        options = [w for option, name in kinds.items() for w in (option, folder / name)]
        done = process("debrief", TRACK, *options, **world)
        assert done.returncode == 0, done.stderr.decode()
        (folder / "stdout").write_bytes(done.stdout.replace(str(folder).encode(), b"FOLDER"))
    for name in (*kinds.values(), "stdout"):
        first, second = ((tmp_path / str(n) / name).read_bytes() for n in (0, 1))
        assert first == second, name
        assert len(first) > 100


@pytest.mark.slow
def test_a_locale_with_a_decimal_comma_changes_nothing(tmp_path: Path) -> None:
    """The command within a process that has taken over a German locale, made for the test; skipped where none can be made."""
    maker = shutil.which("localedef")
    if maker is None:
        pytest.skip("localedef is not installed")
    made = subprocess.run(
        [maker, "-i", "de_DE", "-f", "UTF-8", str(tmp_path / "de_DE.UTF-8")], capture_output=True
    )
    if made.returncode > 1 or not (tmp_path / "de_DE.UTF-8").exists():
        pytest.skip("no German locale can be made here")
    for words in (["debrief", str(TRACK), "--json", "-"], ["debrief", str(TRACK)]):
        usual = process(*words)
        here = run("-c", LOCALISED, json.dumps(words), LOCPATH=str(tmp_path), LC_ALL="de_DE.UTF-8")
        assert here.returncode == 0, here.stderr.decode()
        assert here.stdout == usual.stdout


def test_what_a_killed_run_left_beside_an_output_is_swept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("analyser.writing._YOUNG_S", -1.0)
    left = tmp_path / ".page.html.abc.crabline-part"
    left.write_bytes(b"<html>half")
    check_outputs([tmp_path / "page.html"], [TRACK])
    assert not left.exists()


def test_the_plotting_bundle_makes_no_code_from_text() -> None:
    """What a content policy without ``unsafe-eval`` refuses, and what a larger bundle of the library does for some pictures."""
    code = (ROOT / "analyser/report/page/assets/plotly-basic.min.js").read_text(encoding="utf-8")
    assert not re.search(
        r"(?<![\w.$])(?:eval|Function)\s*\(|new\s+Function\b|set(?:Timeout|Interval)\(\s*['\"`]", code
    )
