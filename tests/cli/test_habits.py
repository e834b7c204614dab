"""What people do at a shell: pipes, standard input, a jump of a day, every jump, a folder's settings, places as copied, another folder."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import jsonschema
import pytest
import typer
from command import crabline
from track_writers import table

from analyser.cli.tracks import wanted
from analyser.importers.read import read
from analyser.settings.template import TEMPLATE, schema_text
from analyser.settings.toml import parse_settings

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample_tracks"
DAY, ONE = SAMPLES / "two_jumps.gpx", SAMPLES / "steady_breeze.fit"


def test_from_another_folder_by_standard_input_in_sixty_columns(tmp_path: Path) -> None:
    done = crabline("debrief", "-", cwd=tmp_path, stdin=ONE.read_bytes(), COLUMNS="60")
    assert done.returncode == 0, done.stderr
    assert max(map(len, done.stdout.decode().splitlines())) <= 60
    empty = crabline("debrief", "-", cwd=tmp_path, stdin=b"")
    assert (empty.returncode, empty.stdout) == (1, b"")
    assert empty.stderr.decode().startswith("error: standard input: nothing came in; ")
    (tmp_path / "logbook.toml").write_text('[site]\nname = "Our own"\ntarget = "49.7215N 107.9342W"\n')
    placed = crabline("debrief", "-", "--brief", cwd=tmp_path, stdin=ONE.read_bytes())
    assert b"Our own" in placed.stdout
    assert b"from the target" in placed.stdout
    assert b"logbook.toml" in placed.stderr


def test_who_reads_no_further_is_no_error(tmp_path: Path) -> None:
    words = f"{sys.executable} -m analyser debrief {ONE} | head -n 1"
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(["bash", "-o", "pipefail", "-c", words], capture_output=True, cwd=tmp_path, env=env)
    assert (done.returncode, done.stderr) == (0, b"")
    assert len(done.stdout.splitlines()) == 1


def test_every_jump_of_a_day_and_several_tracks_as_lines_of_json() -> None:
    done = crabline("debrief", DAY, ONE, "--jump", "all", "--json", "-")
    rows = [json.loads(line) for line in done.stdout.decode().splitlines()]
    assert [(r["source"]["file"], r["source"]["jump"]) for r in rows] == [
        ("two_jumps.gpx", 1),
        ("two_jumps.gpx", 2),
        ("steady_breeze.fit", 1),
    ]
    assert done.stderr == b""


def test_a_folder_whose_own_settings_are_at_fault_costs_its_tracks_only(tmp_path: Path) -> None:
    sound, spoilt = tmp_path / "sound", tmp_path / "spoilt"
    for folder in (sound, spoilt):
        folder.mkdir()
        shutil.copy(ONE, folder)
    (spoilt / "logbook.toml").write_text("[canopy]\nnmae = 'Wide 230'\n", encoding="utf-8")
    both = ("debrief", *(f"{folder.name}/steady_breeze.fit" for folder in (spoilt, sound)))
    done = crabline(*both, "--json", "-", cwd=tmp_path)
    assert done.returncode == 1
    assert len(done.stdout.splitlines()) == 1
    assert b"did you mean name?" in done.stderr
    assert b"Traceback" not in done.stderr
    alone = crabline(*both[:2], "--json", "-", cwd=tmp_path)
    assert (alone.returncode, alone.stdout) == (1, b"")


def test_two_jumps_of_one_file_side_by_side_and_quietly() -> None:
    done = crabline("debrief", f"{DAY}#1", f"{DAY}#2")
    assert done.returncode == 0, done.stderr
    assert done.stderr == b""
    loud, quiet = crabline("debrief", DAY, "--brief"), crabline("debrief", DAY, "--brief", "--quiet")
    assert b"holds 2 jumps" in loud.stderr
    assert quiet.stderr == b""
    assert quiet.stdout == loud.stdout


def test_what_a_track_means(tmp_path: Path) -> None:
    assert wanted(Path("a.gpx#2"), None).jump == 2
    assert wanted(Path("a.gpx"), None).jump is None
    assert wanted(Path("a.gpx"), "all").jump == 0
    assert wanted(Path("-"), "3").stdin
    odd = tmp_path / "a#2"
    odd.write_bytes(b"x")
    assert wanted(odd, None).path == odd
    for track, jump in (("a#2", "1"), ("a", "0"), ("a", "one"), ("a", "-1"), ("a", "²")):
        with pytest.raises(typer.BadParameter):
            wanted(Path(track), jump)


def test_the_nearest_settings_are_read_and_said_and_a_plan_beats_them(tmp_path: Path) -> None:
    inside = tmp_path / "season" / "june"
    inside.mkdir(parents=True)
    shutil.copy(ONE, inside / "mine.fit")
    target = "[site]\ntarget = [49.7, -107.9]\n"
    (tmp_path / "season" / "logbook.toml").write_text(target + '[jumper]\nname = "Ilka Norn"\n')
    done = crabline("debrief", inside / "mine.fit", "--json", "-")
    found = json.loads(done.stdout)
    assert (found["frame"]["origin_lat"], found["frame"]["origin"]) == (49.7, "target")
    assert b"settings from" in done.stderr
    assert b"logbook.toml" in done.stderr
    (tmp_path / "mine.toml").write_text(target.replace("49.7", "49.6"))
    for words, world in (
        (["--plan", tmp_path / "mine.toml"], {}),
        ([], {"CRABLINE_PLAN": str(tmp_path / "mine.toml")}),
    ):
        done = crabline("debrief", inside / "mine.fit", "--json", "-", "--quiet", *words, **world)
        assert json.loads(done.stdout)["frame"]["origin_lat"] == 49.6
        assert done.stderr == b""


def test_units_once_for_all() -> None:
    by_word, by_world = (
        crabline("debrief", ONE, "--units", "us"),
        crabline("debrief", ONE, CRABLINE_UNITS="us"),
    )
    assert by_word.stdout == by_world.stdout
    assert by_word.stdout != crabline("debrief", ONE).stdout


def test_a_place_as_it_is_copied() -> None:
    done = crabline("debrief", ONE, "--target", "49°43.29'N 107°56.052'W", "--json", "-")
    assert json.loads(done.stdout)["frame"]["origin_lat"] == pytest.approx(49.7215)
    swapped = crabline("debrief", ONE, "--target", "-107.9342,49.7215")
    assert swapped.returncode == 2
    assert b"did you mean 49.7215,-107.934" in swapped.stderr


def test_help_is_short_and_reached_by_h() -> None:
    for words in ((), ("debrief",), ("plan",), ("info",), ("season",), ("sample",)):
        done = crabline(*words, "-h")
        assert done.returncode == 0
        assert done.stdout == crabline(*words, "--help").stdout
        assert b"Usage:" in done.stdout


def test_a_plan_to_fill_in_and_its_schema() -> None:
    assert crabline("plan", "--template").stdout.decode() == TEMPLATE
    usual = parse_settings(TEMPLATE).pattern.heights_m
    assert usual == parse_settings("").pattern.heights_m
    filled = "\n".join(
        line.removeprefix("# ") if "=" in line or line.startswith("# [") else line
        for line in TEMPLATE.splitlines()
    )
    there = "\n".join(line for line in filled.splitlines() if not line.startswith("areas ="))
    assert there != filled, "the file that the template names is not there"
    settings = parse_settings(there)
    assert settings.site.target == (49.7215, -107.9342)
    assert settings.reports[0].station == "KXYZ"
    schema = json.loads(crabline("plan", "--schema").stdout)
    assert schema == json.loads(schema_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    check = jsonschema.Draft202012Validator(schema)
    for path in sorted((ROOT / "shared" / "plans").glob("*.toml")):
        check.validate(tomllib.loads(path.read_text(encoding="utf-8")))
    check.validate(tomllib.loads(filled))
    for wrong in ({"site": {"nmae": "x"}}, {"pattern": {"base_ft": 9e9}}, {"canopy": {"airspeed": 10}}):
        with pytest.raises(jsonschema.ValidationError):
            check.validate(wrong)


def test_folders_of_outputs_are_made(tmp_path: Path) -> None:
    done = crabline("debrief", ONE, "--kml", tmp_path / "new" / "deep" / "a.kml", "--brief")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "new" / "deep" / "a.kml").is_file()
    (tmp_path / "file").write_text("")
    done = crabline("debrief", ONE, "--kml", tmp_path / "file" / "a.kml", "--brief")
    assert done.returncode == 1
    assert done.stderr.count(b"\n") == 1


def test_a_made_up_club(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from analyser.cli.commands.sample import sample

    monkeypatch.setattr(sys.modules["analyser.cli.commands.sample"], "CLUB_JUMPS", 2)
    sample("club", tmp_path)
    assert "12 tracks in" in capsys.readouterr().out
    assert len(list((tmp_path / "club").rglob("*.fit"))) == 12
    assert (tmp_path / "club" / "logbook.toml").is_file()
    sample(None, tmp_path)
    assert "club " in capsys.readouterr().out


@pytest.mark.parametrize("option", ["--json", "--gpx", "--geojson", "--kml", "--winds-csv", "--samples-csv"])
def test_any_text_on_standard_output_alone(tmp_path: Path, option: str) -> None:
    """The same bytes as in a file, nothing before or after them, and no file called -."""
    piped = crabline("debrief", ONE, option, "-", cwd=tmp_path)
    crabline("debrief", ONE, option, "file", "--brief", cwd=tmp_path)
    assert piped.returncode == 0
    assert piped.stdout == (tmp_path / "file").read_bytes()
    assert {path.name for path in tmp_path.iterdir()} == {"file"}


def test_only_one_output_on_standard_output(tmp_path: Path) -> None:
    done = crabline("debrief", ONE, "--kml", "-", "--json", "-", cwd=tmp_path)
    assert (done.returncode, done.stdout) == (2, b"")
    assert b"only one output can be -" in done.stderr
    (tmp_path / "tracks").mkdir()
    shutil.copy(ONE, tmp_path / "tracks")
    piped = crabline("season", "tracks", "--csv", "-", cwd=tmp_path)
    crabline("season", "tracks", "--csv", "file.csv", cwd=tmp_path)
    assert piped.stdout == (tmp_path / "file.csv").read_bytes()
    refused = crabline("season", "tracks", "--parquet", "-", cwd=tmp_path)
    assert (refused.returncode, refused.stderr.count(b"\n")) == (1, 1)


CORRECTED = """[site]
target = [49.7215, -107.9342]
[jumper]
name = "Ilka Norn"
[[jump]]
file = "day.gpx"
jump = 2
jumper = "Tobin Reyle"
target = [49.7315, -107.9342]
"""


@pytest.mark.slow
def test_corrections_of_single_jumps_hold_for_a_debrief_too(tmp_path: Path) -> None:
    shutil.copy(DAY, tmp_path / "day.gpx")
    (tmp_path / "logbook.toml").write_text(CORRECTED)
    both = crabline("debrief", "day.gpx", "--jump", "all", "--json", "-", cwd=tmp_path)
    assert b"correction" in both.stderr
    rows = [json.loads(line)["frame"]["origin_lat"] for line in both.stdout.decode().splitlines()]
    assert rows == [49.7215, 49.7315]
    for words in ((), ("--jump", "2")):
        done = crabline("debrief", "day.gpx", *words, "--json", "-", cwd=tmp_path)
        assert json.loads(done.stdout)["frame"]["origin_lat"] == 49.7315
    first = crabline("debrief", "day.gpx#1", "--brief", cwd=tmp_path)
    assert b"Jumper Ilka Norn" in first.stdout
    beaten = crabline("debrief", "day.gpx#2", "--target", "49.7216,-107.9342", "--json", "-", cwd=tmp_path)
    assert json.loads(beaten.stdout)["frame"]["origin_lat"] == 49.7216
    other = crabline("debrief", ONE, "--json", "-", cwd=tmp_path)
    assert b"correction" not in other.stderr


def test_a_season_finds_tables_that_its_settings_make_readable(tmp_path: Path) -> None:
    found = read(ONE)
    text = table(found.time_s, found.lat_deg, found.lon_deg, found.altitude_m, "Zeit;Breite;Laenge;Hoehe")
    (tmp_path / "jump.csv").write_bytes(text.replace(b",", b";"))
    none = crabline("season", tmp_path, "--csv", "-")
    assert (none.returncode, none.stdout) == (1, b"")
    names = {"time": "Zeit", "lat": "Breite", "lon": "Laenge", "altitude_m": "Hoehe"}
    rows = "".join(f'{key} = "{title}"\n' for key, title in names.items())
    (tmp_path / "logbook.toml").write_text("[columns]\n" + rows)
    done = crabline("season", tmp_path, "--csv", "-")
    assert done.returncode == 0, done.stderr
    assert len(done.stdout.splitlines()) == 2
    assert b"jump.csv" in done.stdout
