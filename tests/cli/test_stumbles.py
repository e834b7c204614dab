"""What people stumble over at a shell, each from another folder than the tracks', into a pipe and sixty columns wide."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import command
import pytest
from command import as_text, cut, fits

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample_tracks"
ONE, DAY = str(SAMPLES / "steady_breeze.fit"), str(SAMPLES / "two_jumps.gpx")
PLAN = str(ROOT / "shared" / "plans" / "first_light.toml")
TARGET = "49.7215,-107.9342"
WIDTH = command.NARROW


def crabline(cwd: Path, *words: str, stdin: bytes = b"", **world: str) -> subprocess.CompletedProcess[str]:
    return as_text(command.crabline(*words, cwd=cwd, stdin=stdin, **{"COLUMNS": str(WIDTH), **world}))


# words: what stdout begins with or holds
TEXTS = {
    "the whole debrief": (("debrief", ONE, "--target", TARGET), "Where"),
    "three lines": (("debrief", ONE, "--brief"), "Where"),
    "a jump of a day": (("debrief", f"{DAY}#1", "--brief", "-q"), "two_jumps"),
    "every jump of a day": (("debrief", DAY, "--jump", "all", "--brief"), "two_jumps.gpx#2"),
    "two of one file": (("debrief", f"{DAY}#1", f"{DAY}#2"), "second minus"),
    "several files": (("debrief", ONE, DAY, "--jump", "all", "--brief"), "two_jumps.gpx#2"),
    "what a file holds": (("info", ONE), "fixes"),
    "a plan": (("plan", "--plan", PLAN), "downwind"),
    "a target with letters": (("debrief", ONE, "--brief", "--target", "49.7215N 107.9342W"), "You landed"),
    "degrees and minutes": (
        ("debrief", ONE, "--brief", "--target", "49°43.29'N 107°56.052'W"),
        "You landed",
    ),
    "brackets": (("debrief", ONE, "--brief", "--target", f"({TARGET})"), "You landed"),
    "a geo link": (("debrief", ONE, "--brief", "--target", f"geo:{TARGET}"), "You landed"),
    "units": (("debrief", ONE, "--units", "us", "--brief"), "Where"),
    "help": (("-h",), "Usage:"),
    "help of a command": (("debrief", "-h"), "Examples:"),
    "samples": (("sample",), "club"),
}


@pytest.mark.parametrize(("words", "holds"), TEXTS.values(), ids=TEXTS)
def test_texts(tmp_path: Path, words: tuple[str, ...], holds: str) -> None:
    done = crabline(tmp_path, *words)
    assert done.returncode == 0, done.stderr
    assert holds in done.stdout
    assert list(tmp_path.iterdir()) == []
    if words != ("sample",):  # a list of names with what they are, one a line
        assert fits(done.stdout)


NARROW = {
    "debrief": ("debrief", str(SAMPLES / "first_light.gpx"), "--plan", PLAN),
    "plan": ("plan", "--plan", PLAN),
    "info": ("info", DAY),
}


@pytest.mark.parametrize("words", NARROW.values(), ids=NARROW)
def test_a_narrow_terminal_shows_every_word_and_number(tmp_path: Path, words: tuple[str, ...]) -> None:
    assert cut(*words, cwd=tmp_path) == set()


# words: exit code, what the only line of stderr says
ERRORS = {
    "a missing file": (("debrief", "none.gpx"), 1, "no such file"),
    "a folder": (("debrief", "."), 1, "folder"),
    "a missing plan": (("debrief", ONE, "--plan", "none.toml"), 1, "no such file"),
    "a jump that is not there": (("debrief", f"{DAY}#3"), 1, "holds 2 jumps"),
    "nothing comes in": (("debrief", "-"), 1, "nothing came in"),
    "no such sample": (("sample", "first_lihgt"), 1, "did you mean first_light?"),
    "an empty folder": (("season", "."), 1, "holds no track"),
    "a page of many": (("debrief", DAY, "--jump", "all", "--html", "a.html"), 1, "several jumps"),
}


@pytest.mark.parametrize(("words", "code", "says"), ERRORS.values(), ids=ERRORS)
def test_errors_are_one_line(tmp_path: Path, words: tuple[str, ...], code: int, says: str) -> None:
    done = crabline(tmp_path, *words)
    assert (done.returncode, done.stdout) == (code, "")
    assert done.stderr.startswith("error: ")
    assert done.stderr.count("\n") == 1
    assert says in done.stderr


# words: what wrong usage says
USAGE = {
    "the wrong way round": (
        ("debrief", ONE, "--target", "-107.9342,49.7215"),
        "did you mean 49.7215,-107.934",
    ),
    "no track": (("debrief",), "name a track file"),
    "no such units": (("debrief", ONE, "--units", "si"), "us, uk, nordic, metric"),
    "no such jump number": (("debrief", ONE, "--jump", "first"), "neither a number from 1 nor all"),
    "no such option": (("debrief", ONE, "--htlm", "a.html"), "--html"),
    "no such command": (("debreif", ONE), "debrief"),
}


@pytest.mark.parametrize(("words", "says"), USAGE.values(), ids=USAGE)
def test_wrong_usage(tmp_path: Path, words: tuple[str, ...], says: str) -> None:
    done = crabline(tmp_path, *words)
    assert (done.returncode, done.stdout) == (2, "")
    assert says in done.stderr
    assert "Traceback" not in done.stderr


# what a plan says: what the error says of it
PLANS = {
    "a leading zero": ("[[wind]]\nagl_ft = 0\nspeed_kt = 8\nfrom_deg = 050\n", "write 50"),
    "a slip of the key": ("[site]\nnmae = 'x'\n", "did you mean name?"),
    "no unit": ("[canopy]\nairspeed = 10\n", "airspeed_kt or"),
    "swapped": ("[site]\ntarget = [-107.9342, 49.7215]\n", "did you mean [49.7215, -107.9342]?"),
    "areas that are not there": ("[site]\nareas = 'none.geojson'\n", "not there"),
    "a wind without a unit": ("[[wind]]\nmetar = 'KXYZ 141755Z 30008 10SM'\n", "no unit"),
    "a TAF for another day": (
        "[[wind]]\ntaf = 'TAF KXYZ 141130Z 1412/1518 27010KT P6SM'\nat = '171500Z'\n",
        "holds from 141200Z to 151800Z",
    ),
}


@pytest.mark.parametrize(("text", "says"), PLANS.values(), ids=PLANS)
def test_slips_in_a_plan_are_told_with_their_line(tmp_path: Path, text: str, says: str) -> None:
    (tmp_path / "plan.toml").write_text(text, encoding="utf-8")
    done = crabline(tmp_path, "plan", "--plan", "plan.toml")
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.count("\n") == 1
    assert done.stderr.startswith("error: plan.toml: line ")
    assert says in done.stderr


def test_by_standard_input_to_json_with_the_settings_of_the_environment(tmp_path: Path) -> None:
    data = Path(ONE).read_bytes()
    done = crabline(tmp_path, "debrief", "-", "--json", "-", stdin=data, CRABLINE_PLAN=PLAN)
    found = json.loads(done.stdout)
    assert found["frame"]["origin"] == "target"
    assert done.stderr == ""
    brief = crabline(tmp_path, "debrief", "-", "--brief", stdin=data, CRABLINE_UNITS="us")
    assert fits(brief.stdout)


def test_outputs_go_where_no_folder_is_yet(tmp_path: Path) -> None:
    files = {f"new/{kind}/a.{kind}": f"--{kind}" for kind in ("json", "html", "gpx", "geojson", "kml")}
    files |= {"new/w.csv": "--winds-csv", "new/s.csv": "--samples-csv"}
    words = [word for path, option in files.items() for word in (option, path)]
    done = crabline(tmp_path, "debrief", ONE, "--brief", *words)
    assert done.returncode == 0, done.stderr
    assert {p.relative_to(tmp_path).as_posix() for p in tmp_path.rglob("*") if p.is_file()} == set(files)


def test_a_template_that_is_a_plan_as_it_stands(tmp_path: Path) -> None:
    (tmp_path / "plan.toml").write_text(crabline(tmp_path, "plan", "--template").stdout, encoding="utf-8")
    done = crabline(tmp_path, "debrief", ONE, "--plan", "plan.toml", "--target", TARGET, "--brief")
    assert done.returncode == 0, done.stderr
    assert fits(done.stdout)
    assert json.loads(crabline(tmp_path, "plan", "--schema").stdout)["title"] == "crabline plan"


def test_who_reads_no_further_and_completion(tmp_path: Path) -> None:
    env = {**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": str(WIDTH)}
    for words in (f"debrief {ONE}", f"debrief {ONE} --samples-csv -", "--help"):
        line = f"{sys.executable} -m analyser {words} | head -n 1"
        done = subprocess.run(
            ["bash", "-o", "pipefail", "-c", line], capture_output=True, cwd=tmp_path, env=env
        )
        assert (done.returncode, done.stderr) == (0, b"")
        assert done.stdout.count(b"\n") == 1
    # the shell is known by the process that asks, so one must stay there while it does
    asked = f"{sys.executable} -m analyser --show-completion; exit $?"
    shown = subprocess.run(["bash", "-c", asked], capture_output=True, cwd=tmp_path, env=env)
    assert (shown.returncode, b"crabline" in shown.stdout) == (0, True)


@pytest.mark.slow
def test_a_track_that_is_gone_is_forgotten_when_asked(tmp_path: Path) -> None:
    tracks = tmp_path / "tracks"
    tracks.mkdir()
    (tracks / "mine.fit").write_bytes(Path(ONE).read_bytes())
    (tracks / "other.gpx").write_bytes((SAMPLES / "first_light.gpx").read_bytes())
    first = crabline(tmp_path, "season", "tracks")
    assert first.returncode == 0, first.stderr
    assert fits(first.stdout)
    assert cut("season", "tracks", "--logbook", "wide.sqlite", "-q", cwd=tmp_path) == set()
    (tracks / "mine.fit").unlink()
    kept = crabline(tmp_path, "season", "tracks", "--csv", "-")
    assert kept.stdout.count("\n") == 3
    quiet = crabline(tmp_path, "season", "tracks", "--logbook", "copy.sqlite", "--quiet")
    assert (quiet.returncode, quiet.stderr) == (0, "")
    assert re.search(r"(\d\d):(\d\d) UTC .*\n *\((?!\1)\d\d:\2 local", quiet.stdout)
    gone = crabline(tmp_path, "season", "tracks", "--forget", "--csv", "-")
    assert "mine.fit: is gone and was forgotten" in gone.stderr
    assert gone.stdout.count("\n") == 2


def test_how_to_give_a_target_is_said_at_the_shell_only(tmp_path: Path) -> None:
    """The documents and the page name no option: they are read in a browser too."""
    done = crabline(tmp_path, "debrief", ONE, "--brief", "--html", "page.html", "--json", "jump.json")
    assert (done.returncode, done.stderr) == (0, "")
    told = " ".join(done.stdout.split())
    assert "No target given: add --target LAT,LON" in told
    assert told.lower().count("no target") == 1
    assert "Why" not in told
    assert "offset" not in told
    page, document = (tmp_path / name for name in ("page.html", "jump.json"))
    for text in (page.read_text(encoding="utf-8"), document.read_text(encoding="utf-8")):
        assert "o target given: without one" in text
        assert "--target" not in text
    assert "--target" not in crabline(tmp_path, "debrief", ONE, "--brief", "--target", TARGET).stdout


def test_info_reads_standard_input_and_the_columns_of_the_folder(tmp_path: Path) -> None:
    done = crabline(tmp_path, "info", "-", stdin=Path(ONE).read_bytes())
    assert done.returncode == 0, done.stderr
    assert "standard input" in done.stdout
    assert "Format fit" in done.stdout
    (tmp_path / "logbook.toml").write_text(
        '[columns]\ntime = "when"\nlat = "y"\nlon = "x"\naltitude_m = "z"\n'
    )
    rows = "".join(f"2026-06-14T12:00:{s:02d}Z,49.7{s:03d},-107.9,{800 - s}\n" for s in range(60))
    (tmp_path / "own.csv").write_text("when,y,x,z\n" + rows)
    mapped = crabline(tmp_path, "info", "own.csv")
    assert mapped.returncode == 0, mapped.stderr
    assert "60 fixes" in mapped.stdout


def test_other_titles_name_the_place_where_they_can_be_mapped(tmp_path: Path) -> None:
    (tmp_path / "own.csv").write_text("when,y,x,z\n2026-06-14T12:00:00Z,49.7,-107.9,800\n")
    done = crabline(tmp_path, "info", "own.csv")
    assert (done.returncode, done.stderr.count("\n")) == (1, 1)
    assert "its columns are when, y, x, z: name lat and lon in [columns] of logbook.toml" in done.stderr


def test_info_says_where_settings_come_from_unless_quiet(tmp_path: Path) -> None:
    (tmp_path / "logbook.toml").write_text("[site]\nname = 'x'\n")
    (tmp_path / "own.fit").write_bytes(Path(ONE).read_bytes())
    usual, quiet = (crabline(tmp_path, "info", "own.fit", *more) for more in ((), ("-q",)))
    assert "settings from" in usual.stderr
    assert (quiet.returncode, quiet.stderr, quiet.stdout) == (0, "", usual.stdout)


def test_one_bad_path_stops_no_other_track(tmp_path: Path) -> None:
    lines = crabline(tmp_path, "debrief", "none.gpx", ONE, ONE, "--json", "-", "-q")
    assert lines.returncode == 1
    assert [json.loads(line)["source"]["file"] for line in lines.stdout.splitlines()] == [Path(ONE).name] * 2
    assert (lines.stderr.count("\n"), "error: none.gpx: no such file" in lines.stderr) == (1, True)
    brief = crabline(tmp_path, "debrief", ONE, "none.gpx", "--brief", "-q")
    assert (brief.returncode, "Where" in brief.stdout) == (1, True)
    assert brief.stderr == lines.stderr
    none = crabline(tmp_path, "debrief", "none.gpx", "nor.gpx", "--json", "-")
    assert (none.returncode, none.stdout, none.stderr.count("\n")) == (1, "", 2)
    page = crabline(tmp_path, "debrief", ONE, "none.gpx", "--html", "a.html")
    assert (page.returncode, page.stderr.count("\n"), list(tmp_path.iterdir())) == (1, 1, [])


def test_winds_by_standard_input(tmp_path: Path) -> None:
    metar = b"METAR CQMF 141200Z 24008KT CAVOK 31/09 Q0990=\n"
    (tmp_path / "metar.txt").write_bytes(metar)
    words = ("plan", "--target", TARGET, "-q", "--winds")
    piped, read = crabline(tmp_path, *words, "-", stdin=metar), crabline(tmp_path, *words, "metar.txt")
    assert (piped.returncode, piped.stdout) == (0, read.stdout)
    nothing, binary = (crabline(tmp_path, *words, "-", stdin=data) for data in (b"", b"\xff\xff"))
    assert nothing.stderr.startswith("error: standard input: nothing came in")
    assert binary.stderr.startswith("error: standard input: not UTF-8")


# what is given: what the plan says of it, and the lowest height of its document
GIVEN = {
    "variable with gusts": (
        b"METAR KXYZ 141755Z VRB05G17KT 10SM CLR 31/09 A2992\n",
        ("Wind near the ground variable, up to 5 kt", "report KXYZ: 141755Z", "gusts of 17 kt"),
        (10.0, 8.7, True),
    ),
    "between two directions": (
        b"METAR KXYZ 141755Z 24012G22KT 200V280 10SM CLR 31/09 A2992\n",
        ("Wind near the ground from 240°, 12 kt", "varying between 200° and 280°, gusts of 22 kt"),
        (10.0, 11.3, False),
    ),
    "aloft alone": (
        b"VALID 141800Z FOR USE 1400-2100Z\nFT  3000    6000    9000\nBIL         2607    2615+05\n",
        ("No wind was given below 3570 ft.", "wind of that height, from 260°, 7 kt", "forecast BIL: valid"),
        (1086.9, None, False),
    ),
}


@pytest.mark.parametrize(("text", "says", "low"), GIVEN.values(), ids=GIVEN)
def test_a_plan_shows_what_was_given_of_the_wind(
    tmp_path: Path, text: bytes, says: tuple[str, ...], low: tuple[float, float | None, bool]
) -> None:
    (tmp_path / "field.toml").write_text(
        f"[site]\ntarget = [{TARGET}]\nelevation_ft = 2434\n[pattern]\nlanding_deg = 240\n"
    )
    words = ("plan", "--plan", "field.toml", "--winds", "-", "-q")
    shown = " ".join(crabline(tmp_path, *words, stdin=text).stdout.split())
    assert [part for part in says if part not in shown] == []
    assert ("near the ground from" in shown, "near the ground variable" in shown) == (
        says[0].startswith("Wind near the ground from"),
        low[2],
    )
    found = json.loads(crabline(tmp_path, *words, "--json", "-", stdin=text).stdout)
    (given,) = found["winds_given"]
    assert (found["lowest_wind_agl_m"], given["gust_mps"], given["heights"][0]["variable"]) == low


def test_a_quiet_plan_says_nothing_but_the_plan(tmp_path: Path) -> None:
    (tmp_path / "logbook.toml").write_text(
        '[site]\ntarget = "49.7215N 107.9342W"\n[pattern]\nlanding_deg = 240\n'
    )
    (tmp_path / "calm.txt").write_text("METAR CQMF 141200Z 00000KT CAVOK 31/09 Q0990=\n")
    usual, quiet = (crabline(tmp_path, "plan", "--winds", "calm.txt", *more) for more in ((), ("-q",)))
    assert (usual.returncode, quiet.returncode) == (0, 0)
    assert "usual speeds" in usual.stderr
    assert quiet.stderr == ""
    assert quiet.stdout == usual.stdout
    assert "as dense as standard air" in " ".join(quiet.stdout.split())
