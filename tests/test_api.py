"""The public names: numpydoc sections with every argument, examples that run, and the ten lines a scientist writes first."""

from __future__ import annotations

import doctest
import importlib
import inspect
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pandas as pd
import pytest

import analyser as crabline
from analyser import angles, api, atmosphere, frame, units

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = ROOT / "sample_tracks"
PAGE = (ROOT / "docs" / "api.md").read_text(encoding="utf-8")
FLAGS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
CLASSES = [n for n in api.__all__ if inspect.isclass(getattr(api, n))]
FUNCTIONS = [n for n in api.__all__ if inspect.isfunction(getattr(api, n))]
METHODS = [
    f"{name}.{method}"
    for name in ("Jump", "PlannedPattern", "SeasonRun", "WindProfile")
    for method, value in vars(getattr(api, name)).items()
    if not method.startswith("_") and inspect.isfunction(value) and method not in ("draw", "weights")
]
TEN_LINES = """
import analyser as crabline
jump = crabline.debrief("first_light.gpx", target=(49.7215, -107.9342))
jump
jump.winds(); jump.legs(); jump.gates(); jump.budget(); jump.samples()
for finding in jump.findings: print(finding)
jump.figure("plan-view"); jump.save("page.html"); jump.save("gates.kml")
plan = crabline.plan("plan.toml", winds=jump)
wind = crabline.estimate_wind(t, east, north, agl)
table = crabline.season("tracks").frame()
"""


def named(name: str) -> object:
    found: object = api
    for part in name.split("."):
        found = getattr(found, part)
    return found


def sections(name: str) -> dict[str, str]:
    """Titles and texts of the sections of a docstring."""
    text = inspect.getdoc(named(name)) or ""
    parts = re.split(r"^(\w+)\n-{3,}\n", text, flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2]))


def arguments(name: str) -> list[str]:
    return [p for p in inspect.signature(named(name)).parameters if p != "self"]


def described(text: str) -> set[str]:
    """The names that a Parameters section describes."""
    heads = re.findall(r"^(\S[^:\n]*?)(?: :.*)?$", text, re.MULTILINE)
    return {word.strip(" *") for head in heads for word in head.split(",")}


def test_package_and_api_have_the_same_names() -> None:
    assert set(crabline.__all__) - {"__version__"} == set(api.__all__)
    for name in api.__all__:
        assert getattr(crabline, name) is getattr(api, name)
    assert set(crabline.__all__) <= set(dir(crabline))
    with pytest.raises(AttributeError, match="brief"):
        crabline.brief  # noqa: B018


def test_a_loaded_submodule_does_not_hide_the_function_of_its_name() -> None:
    code = (
        "import analyser.debrief, analyser.plan.draw, analyser.season.summarise, analyser as crabline\n"
        "print(*(callable(getattr(crabline, n)) for n in ('debrief', 'plan', 'season')))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT)
    assert done.stdout == "True True True\n", done.stderr


@pytest.mark.parametrize("name", [*FUNCTIONS, *METHODS, *CLASSES])
def test_every_public_name_has_its_sections(name: str) -> None:
    found, wanted = sections(name), {"Examples"} if "." not in name else set()
    wanted |= {"Parameters"} if arguments(name) else set()
    if name in FUNCTIONS:
        wanted |= {"Returns"}
    if "." in name and not name.endswith(".save"):
        wanted |= {"Returns"}
    assert wanted <= set(found)
    if name != "Debrief" and "Parameters" in found:
        assert set(arguments(name)) <= described(found["Parameters"])


def handed_on() -> dict[str, Any]:
    """The functions that the composer and its stages call."""
    found = {}
    for name in ("stages", "debrief", "placing"):
        for value in vars(importlib.import_module(f"analyser.{name}")).values():
            ours = inspect.isfunction(value) and value.__module__.startswith("analyser.")
            if ours and value.__module__ != f"analyser.{name}" and not value.__name__.startswith("_"):
                found[value.__name__] = value
    return found


@pytest.mark.parametrize("name", sorted(set(handed_on()) - {"one_thread"}))
def test_what_one_stage_hands_to_another_is_described(name: str) -> None:
    """Decorators left out."""
    function = handed_on()[name]
    parts = re.split(r"^(\w+)\n-{3,}\n", inspect.getdoc(function) or "", flags=re.MULTILINE)
    found = dict(zip(parts[1::2], parts[2::2]))
    assert set(inspect.signature(function).parameters) <= described(found["Parameters"])
    assert "Returns" in found


@pytest.mark.parametrize("name", api.__all__)
def test_the_examples_run(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    found = named(name)
    module = importlib.import_module(found.__module__)
    runner, tried = doctest.DocTestRunner(optionflags=FLAGS), 0
    for test in doctest.DocTestFinder(recurse=True).find(found, name, module, vars(module).copy()):
        runner.run(test)
        tried += len(test.examples)
    assert tried > 0
    assert runner.failures == 0


@pytest.mark.parametrize("module", [angles, atmosphere, frame, units], ids=lambda m: m.__name__)
def test_the_examples_of_the_foundations_run(module: ModuleType) -> None:
    ran = doctest.testmod(module, optionflags=FLAGS)
    assert ran.attempted > 0
    assert ran.failed == 0


@pytest.mark.slow
def test_the_examples_of_the_guide_run(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.chdir(ROOT)
    text = "\n".join(re.findall(r"```pycon\n(.*?)```", PAGE, re.DOTALL))
    test = doctest.DocTestParser().get_doctest(text.replace("out/", f"{tmp_path}/"), {}, "api.md", None, None)
    assert len(test.examples) > 10
    assert doctest.DocTestRunner(optionflags=FLAGS).run(test).failed == 0


def test_the_guide_names_every_public_name() -> None:
    assert not {name for name in api.__all__ if f"`{name}" not in PAGE}


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a track, a plan and a folder of tracks."""
    shutil.copy(SAMPLES / "first_light.gpx", tmp_path)
    shutil.copy(ROOT / "shared" / "plans" / "first_light.toml", tmp_path / "plan.toml")
    (tmp_path / "tracks").mkdir()
    shutil.copy(SAMPLES / "steady_breeze.fit", tmp_path / "tracks")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_ten_lines(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    t = np.arange(240.0)
    turned = np.radians(6.0 * t)
    drift = (np.cumsum(10.0 * np.sin(turned) + 3.0), np.cumsum(10.0 * np.cos(turned) - 2.0))
    names = {"t": t, "east": drift[0], "north": drift[1], "agl": 800.0 - 2.7 * t}
    exec(compile(TEN_LINES, "ten lines", "exec"), names)
    jump, plan, wind, table = (names[n] for n in ("jump", "plan", "wind", "table"))
    assert len(repr(jump)) <= 200
    assert "\n" not in repr(jump)
    assert "first_light.gpx" in repr(jump)
    assert capsys.readouterr().out.count("\n") == len(jump.findings) > 3
    assert (bench / "page.html").read_text(encoding="utf-8").startswith("<!")
    assert "<kml" in (bench / "gates.kml").read_text(encoding="utf-8")
    assert plan.wind is jump.wind.profile
    assert abs(wind.at(400.0).east - 3.0) < 0.3
    assert len(table) == 1


def test_every_table_has_units_in_its_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    plan = "shared/plans/first_light.toml"
    jump, planned = crabline.debrief("sample_tracks/first_light.gpx", plan=plan), crabline.plan(plan)
    tables = [jump.winds(), jump.legs(), jump.gates(), jump.budget(), jump.samples(), planned.gates()]
    for table in [*tables, planned.legs()]:
        assert len(table) > 0
        for name in table.select_dtypes("number").columns:
            unit = name.rpartition("_")[2]
            assert unit in ("m", "mps", "deg") or name in (
                "correlation",
                "confidence",
                "seconds",
                "lat",
                "lon",
            )
    bare = crabline.debrief("sample_tracks/first_light.gpx")
    assert list(bare.budget().columns) == list(jump.budget().columns)
    assert bare.budget().empty


def test_a_notebook_shows_the_first_chapters(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    html = crabline.debrief("sample_tracks/first_light.gpx", target=(49.7215, -107.9342))._repr_html_()
    assert html.count("<h2") == 4
    assert "<script" not in html
    assert "http" not in html


def test_sentences_come_in_the_units_asked_for() -> None:
    track, target = SAMPLES / "first_light.gpx", (49.7215, -107.9342)
    feet, metres = (crabline.debrief(track, target=target, units=u) for u in ("us", "metric"))
    entered = [next(str(f) for f in j.findings if f.code == "entry_place") for j in (feet, metres)]
    assert re.search(r"\d ft", entered[0])
    assert re.search(r"\d m\b", entered[1])
    with pytest.raises(crabline.AnalyserError, match="no units"):
        crabline.debrief(track, units="imperial")


@pytest.mark.parametrize("name", ["recording", "track", "wind", "wind.profile", "flown", "plan", "reach"])
def test_what_holds_arrays_shows_one_line(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    found: object = crabline.debrief("sample_tracks/first_light.gpx", plan="shared/plans/first_light.toml")
    for part in name.split("."):
        found = getattr(found, part)
    assert found is not None
    assert 20 < len(repr(found)) <= 200
    assert "\n" not in repr(found)


def test_bytes_and_open_files_are_tracks_too(tmp_path: Path) -> None:
    path = SAMPLES / "steady_breeze.fit"
    plain = crabline.debrief(path)
    with path.open("rb") as file:
        opened = crabline.debrief(file)
    given = crabline.debrief(path.read_bytes())
    assert plain.document()["winds"] == opened.document()["winds"] == given.document()["winds"]
    assert opened.recording.file == "steady_breeze.fit"
    with pytest.raises(crabline.AnalyserError, match="recording: "):
        crabline.debrief(b"no track at all")


def test_velocity_as_columns_or_as_a_pair() -> None:
    t = np.arange(240.0)
    turned = np.radians(6.0 * t)
    east, north = 10.0 * np.sin(turned) + 3.0, 10.0 * np.cos(turned) - 2.0
    path = (t, np.cumsum(east), np.cumsum(north), 800.0 - 2.7 * t)
    pair = crabline.estimate_wind(*path, velocity=(east, north))
    columns = crabline.estimate_wind(*path, velocity=np.column_stack([east, north]))
    frame = crabline.estimate_wind(*path, velocity=pd.DataFrame({"east": east, "north": north}))
    assert np.array_equal(pair.east, columns.east)
    assert np.array_equal(pair.east, frame.east)
    with pytest.raises(crabline.AnalyserError, match=r"\(n, 2\)"):
        crabline.estimate_wind(*path, velocity=np.zeros((3, 240)))


def test_a_plan_in_the_wind_of_a_jump_takes_its_trim_where_it_has_none() -> None:
    jump = crabline.debrief(SAMPLES / "first_light.gpx")
    quillmere = ROOT / "shared" / "plans" / "quillmere.toml"
    planned = crabline.plan(quillmere, winds=jump)
    assert planned.trim.airspeed_mps == jump.wind.canopy.airspeed_mps
    with pytest.raises(crabline.AnalyserError, match="no wind to plan for"):
        crabline.plan(quillmere)
    with pytest.raises(crabline.AnalyserError, match="no hand"):
        crabline.plan(quillmere, winds=jump, hand="up")  # type: ignore[arg-type]


def test_one_path_is_no_list_of_letters() -> None:
    path = ROOT / "shared" / "plans" / "first_light.toml"
    one, many = crabline.read_settings(str(path)), crabline.read_settings([path])
    assert one == many
    assert crabline.read_settings(path) == many


def test_what_can_not_be_saved_is_one_line(tmp_path: Path) -> None:
    jump = crabline.debrief(SAMPLES / "steady_breeze.fit")
    with pytest.raises(crabline.AnalyserError, match=r"no writer for \.docx"):
        jump.save(tmp_path / "jump.docx")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", ["mine.gpx", "linked.json", "day.toml.json"])
def test_a_jump_is_saved_over_nothing_it_came_from(name: str, tmp_path: Path) -> None:
    track, plan = tmp_path / "mine.gpx", tmp_path / "day.toml"
    shutil.copy(SAMPLES / "first_light.gpx", track)
    plan.write_text('[pattern]\nhand = "left"\n')
    (tmp_path / "linked.json").symlink_to(track)
    (tmp_path / "day.toml.json").hardlink_to(plan)
    before = track.read_bytes(), plan.read_bytes()
    for jump in (crabline.debrief(track, plan=plan), *crabline.debrief_all(track, plan=[plan])):
        with pytest.raises(crabline.AnalyserError, match="over an input"):
            jump.save(tmp_path / name)
    assert (track.read_bytes(), plan.read_bytes()) == before


def test_plans_and_seasons_are_saved_over_nothing_they_came_from(tmp_path: Path) -> None:
    folder = tmp_path / "tracks"
    folder.mkdir()
    track = folder / "mine.gpx"
    shutil.copy(SAMPLES / "first_light.gpx", track)
    plan = tmp_path / "day.json"
    shutil.copy(ROOT / "shared" / "plans" / "first_light.toml", plan)
    drawn, run = crabline.plan(plan), crabline.season(folder, jobs=1)
    (tmp_path / "o.csv").symlink_to(track)
    before = track.read_bytes(), plan.read_bytes()
    with pytest.raises(crabline.AnalyserError, match="over an input"):
        drawn.save(plan)
    with pytest.raises(crabline.AnalyserError, match="over an input"):
        run.save(tmp_path / "o.csv")
    with pytest.raises(crabline.AnalyserError, match="logbook reads"):
        run.save(folder / "logbook.csv")
    assert (track.read_bytes(), plan.read_bytes()) == before
    run.save(tmp_path / "season.csv")


@pytest.mark.slow
def test_the_bits_of_a_debrief_do_not_depend_on_the_threads_of_the_linear_algebra() -> None:
    """Every digit of the wind's covariance and the whole document, in processes that start with one, two and five threads."""
    asked = (
        "import hashlib, json, numpy as np, analyser, threadpoolctl\n"
        f"jump = analyser.debrief({str(SAMPLES / 'first_light.gpx')!r})\n"
        "flown = jump.samples(); bits = jump.profile.covariance.tobytes() + json.dumps(jump.document()).encode()\n"
        "t = np.arange(400.0); wind = analyser.estimate_wind(t, 90 * np.sin(t / 9) + 3 * t, 90 * np.cos(t / 9), 900 - 2 * t)\n"
        "print(hashlib.sha256(bits + wind.covariance.tobytes()).hexdigest())\n"
        "print(max(found['num_threads'] for found in threadpoolctl.threadpool_info()))\n"
    )
    found = {}
    for threads in ("1", "2", "5"):
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": threads}
        done = subprocess.run(
            [sys.executable, "-c", asked], capture_output=True, text=True, env=environment, check=True
        )
        bits, after = done.stdout.split()
        found[threads] = bits
        assert after == threads or int(after) == min(int(threads), os.cpu_count() or 1)
    assert len(set(found.values())) == 1
