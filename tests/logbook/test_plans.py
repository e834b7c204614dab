"""Who, what and where: logbook.toml, logbook.csv, corrections by hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from logbook_made import rows_by_file, run, serial, twelve_tracks
from season_fakes import fake_job, write_track

from analyser.batch.update import update
from analyser.batch.work import Job
from analyser.errors import SettingsError
from analyser.logbook import Logbook
from analyser.logbook.plans import Plans
from analyser.logbook.toml_keys import LOGBOOK_KEYS
from analyser.settings import Settings
from analyser.settings.read_keys import parse_given

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return twelve_tracks(tmp_path / "season")


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


def test_another_name_alone_needs_no_new_debrief(folder: Path, tmp_path: Path) -> None:
    """Rows and documents are then those of a logbook made under the new names; another number is another debrief."""
    file = folder / "logbook.toml"
    old = '[jumper]\nname = "Ana Quill"\n[canopy]\nname = "Wide 230"\nairspeed_mps = 9.0\n[site]\nname = "Larkmoor"\n'
    new = old.replace("Quill", "Reed").replace("Wide", "Broad").replace("Larkmoor", "Rookhill")
    new += '[[jump]]\nfile = "june/day.gpx"\njump = 2\njumper = "Bo Reed"\n'
    file.write_text(old)
    run(folder)
    file.write_text(new)
    assert run(folder).debriefed == 0
    assert run(folder, tmp_path / "fresh.sqlite").debriefed == 11
    with Logbook(tmp_path / "fresh.sqlite") as fresh, Logbook(folder / "logbook.sqlite") as kept:
        for a, b in zip(fresh.rows(), kept.rows(), strict=True):
            assert {**a, "file": ""} == {**b, "file": ""}
            text = kept.document(b["sha256"], b["jump"])
            assert text == fresh.document(a["sha256"], a["jump"])
            assert text is not None
            assert '"name":"Broad 230"' in text
    assert [r["jumper"] for r in rows_by_file(folder).values()].count("Bo Reed") == 1
    file.write_text(new.replace("9.0", "9.5"))
    assert run(folder).debriefed == 11


def test_a_correction_of_a_jump_that_a_track_does_not_hold_is_told(folder: Path) -> None:
    rows = "".join(f'[[jump]]\nfile = "june/day.gpx"\njump = {n}\nnote = "x"\n' for n in (3, 4))
    (folder / "logbook.toml").write_text(rows)
    for _ in range(2):  # also where nothing had to be debriefed
        assert run(folder).warnings == ["june/day.gpx: has no jump 4; its correction was left out"]


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
    (folder / "june" / "logbook.toml").write_text('[canopy]\nname = "Slim 170"\nairspeed_mps = 12.25\n')
    given = Plans().assign(folder / "june" / "1.gpx", "0" * 64).settings.canopy
    assert given.airspeed_mps == 12.25  # a card fills in what is not given
    assert given.area_m2 == pytest.approx(170 * 0.3048**2)


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
        ("logbook.csv", 'file,jumper\na,"x', "line 2: not a table"),
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


@pytest.mark.parametrize(
    ("text", "is_plan"),
    [
        ("[site]\ntarget = [50.0, 1.0]\n", False),
        ('[jumper]\nname = "Bo Reed"\n[canopy]\nairspeed_mps = 9.0\n', False),
        ('[pattern]\nhand = "left"\nlanding_deg = 240\n', False),
        ("[pattern]\nfinal_ft = 350\n", True),
        ('[pattern]\npreset = "300-200-100 m"\n', True),
        ("[[wind]]\nagl_ft = 0\nspeed_kt = 8\nfrom_deg = 235\n", True),
    ],
)
def test_only_what_plans_a_pattern_counts_as_a_plan(folder: Path, text: str, is_plan: bool) -> None:
    (folder / "given.toml").write_text(text)
    track, name = folder / "may" / "1.gpx", "given.toml" if is_plan else None
    assert Plans([folder / "given.toml"]).assign(track, "0" * 64).names["plan"] == name
    (folder / "logbook.toml").write_text('plan = "given.toml"\n')
    assert Plans().assign(track, "0" * 64).names["plan"] == name
    (folder / "logbook.toml").write_text('[[jump]]\nfile = "may/1.gpx"\nplan = "given.toml"\n')
    assert Plans().assign(track, "0" * 64).names["plan"] == name
    (folder / "logbook.toml").write_text(text)
    assert Plans().assign(track, "0" * 64).names["plan"] == ("logbook.toml" if is_plan else None)
