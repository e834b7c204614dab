"""A miss this jumper never made before is chance, one made every time a habit: told alike by season, pages, a single debrief and Python."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from pattern_cases import uniform
from worlds.followed import PlanErrors, fly_plan

from analyser import api
from analyser.batch.run import run_season
from analyser.batch.update import Pages
from analyser.errors import InputError
from analyser.flight import Trim
from analyser.logbook import Logbook
from analyser.logbook.earlier import earlier_of
from analyser.pattern import Pattern
from analyser.plan import plan_pattern
from analyser.settings import PatternSetup
from analyser.synthetic.air import Air
from analyser.synthetic.setup import FIRST_DAY_UTC_S
from analyser.synthetic.write import gpx_bytes

LATE = PlanErrors(base_late_m=30.0)
DAY_S = 86_400.0
JUMPS = 5


def plan_text(target: tuple[float, float], wind_mps: float) -> str:
    """What the jumper types: target, trim, pattern, wind."""
    return (
        f"[jumper]\nname = 'Ines Marrow'\n[site]\ntarget = [{target[0]!r}, {target[1]!r}]\n"
        "[canopy]\nairspeed_mps = 11.0\nsink_mps = 4.6\nairspeed_sd_mps = 0.2\nsink_sd_mps = 0.1\n"
        "[pattern]\nhand = 'left'\nlanding_deg = 0\ndownwind_m = 305\nbase_m = 183\nfinal_m = 91\n"
        f"[[wind]]\nagl_m = 0\nspeed_mps = {wind_mps}\nfrom_deg = 0\n[[wind]]\nagl_m = 600\nspeed_mps = {wind_mps}\nfrom_deg = 0\n"
    )


def drawn(wind_mps: float) -> Pattern:
    """The gates of that plan."""
    setup = PatternSetup(hand="left", landing_deg=0.0, downwind_m=305.0, base_m=183.0, final_m=91.0)
    trim = Trim(11.0, 4.6, 30.0, 100.0)
    return plan_pattern(setup, trim, uniform(wind_mps, 0.0), hand="left", landing_deg=0.0)


def write_season(folder: Path, late: set[int]) -> None:
    """Jumps day after day after the same plan; those in ``late`` turn onto base 30 m too low."""
    heights = np.arange(0.0, 4001.0, 10.0)
    air = Air(heights, np.zeros_like(heights), np.full_like(heights, -4.0), gust_sd=0.3)
    for number in range(JUMPS):
        plan = drawn(4.0)
        jump = fly_plan(
            [(g.name, g.agl_m, g.east_m, g.north_m, g.track_deg) for g in plan.gates],
            landing_deg=0.0,
            airspeed_mps=11.0,
            sink_mps=4.6,
            air=air,
            seed=3_310_000 + number,
            errors=LATE if number in late else PlanErrors(),
            gusts=True,
            lat_deg=50.0,
            lon_deg=1.0,
            elevation_m=100.0,
            start_utc_s=FIRST_DAY_UTC_S + number * DAY_S,
        )
        (folder / f"day{number}.gpx").write_bytes(gpx_bytes(jump.fixes, name=f"day {number}"))
        target = (jump.truth.target_lat, jump.truth.target_lon)
    (folder / "logbook.toml").write_text(plan_text(target, 4.0))


def advice_in(book: Path) -> dict[str, list[dict[str, object]]]:
    """The advice of every jump in a logbook, by the day's file."""
    with Logbook(book) as logbook:
        rows = list(logbook.rows())
        documents = [json.loads(str(logbook.document(str(r["sha256"]), 1))) for r in rows]
    return {Path(str(r["file"])).name: d["advice"] for r, d in zip(rows, documents, strict=True)}


@pytest.fixture(scope="module")
def once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A season in which the last jump alone was late."""
    folder = tmp_path_factory.mktemp("once")
    write_season(folder, {JUMPS - 1})
    run_season([folder], jobs=1)
    return folder


@pytest.fixture(scope="module")
def always(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A season in which every jump was late."""
    folder = tmp_path_factory.mktemp("always")
    write_season(folder, set(range(JUMPS)))
    run_season([folder], jobs=1)
    return folder


LAST = f"day{JUMPS - 1}.gpx"


@pytest.mark.slow
def test_what_happened_once_is_chance_and_what_happens_always_a_habit(once: Path, always: Path) -> None:
    alone = api.debrief(once / LAST, plan=once / "logbook.toml").advice
    assert (alone[0].kind, alone[0].gate) == ("turn height", "base")
    chance = advice_in(once / "logbook.sqlite")[LAST]
    assert [a["kind"] for a in chance] == ["nothing"]
    assert str(chance[0]["text"]).startswith(f"The {JUMPS - 1} earlier jumps in the logbook do not show this")
    habit = advice_in(always / "logbook.sqlite")[LAST]
    assert (habit[0]["kind"], habit[0]["gate"]) == ("turn height", "base")
    assert habit[0]["habit_share"] > 0.9


@pytest.mark.slow
@pytest.mark.parametrize("which", ["once", "always"])
def test_a_single_debrief_with_the_logbook_says_the_same(which: str, request: pytest.FixtureRequest) -> None:
    folder = request.getfixturevalue(which)
    for name, advice in advice_in(folder / "logbook.sqlite").items():
        found = api.debrief(folder / name, plan=folder / "logbook.toml", logbook=folder / "logbook.sqlite")
        assert json.loads(json.dumps(found.document()["advice"])) == advice


@pytest.mark.slow
def test_pages_and_the_order_of_runs_change_nothing(once: Path, tmp_path: Path) -> None:
    whole = advice_in(once / "logbook.sqlite")
    book, pages = tmp_path / "grown.sqlite", tmp_path / "pages"
    folder = tmp_path / "tracks"
    folder.mkdir()
    (folder / "logbook.toml").write_text((once / "logbook.toml").read_text())
    names = sorted(whole, reverse=True)
    for later in (names[:1], names[1:3], names[3:]):
        for name in later:
            (folder / name).write_bytes((once / name).read_bytes())
        run_season([folder], logbook=book, jobs=1, pages=Pages(pages, "metric"))
    assert advice_in(book) == whole
    shown = [
        p for p in pages.glob("*.html") if "do not show this: it was chance" in p.read_text(encoding="utf-8")
    ]
    assert len(shown) == sum("do not show this" in str(a[0]["text"]) for a in whole.values()) > 0
    (folder / "day0.gpx").unlink()
    run_season([folder], logbook=book, jobs=1, forget=True, pages=Pages(pages, "metric"))
    assert str(advice_in(book)[LAST][0]["text"]).startswith(f"The {JUMPS - 2} earlier jumps")


@pytest.mark.slow
def test_two_devices_on_one_jump_are_no_earlier_jump_and_a_missing_logbook_is_one_line(once: Path) -> None:
    with Logbook(once / "logbook.sqlite") as book:
        landed = api.debrief(once / LAST, plan=once / "logbook.toml")
        moment = landed.track.start_utc_s + landed.landing.t_s
        assert book.earlier("Ines Marrow", moment).jumps == JUMPS - 1
        assert book.earlier("Ines Marrow", moment + 30.0).jumps == JUMPS - 1
        assert book.earlier("Somebody Else", moment).jumps == 0
    with pytest.raises(InputError, match="there is no such logbook"):
        api.debrief(once / LAST, logbook=once / "nowhere.sqlite")


@pytest.mark.slow
def test_a_budget_without_parts_is_no_jump_to_learn_from() -> None:
    rows = [{"cause": "wind", "along_m": 3.0, "across_m": 0.0, "parts": []}]
    parts = [{"cause": "entry", "parts": [{"part": "place", "along_m": 4.0, "across_m": -2.0}]}]
    found = earlier_of([rows, parts, []])
    assert (found.jumps, dict(found.parts)) == (1, {("entry", "place"): [(4.0, -2.0)]})
