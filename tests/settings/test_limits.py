"""Plans and tables too large or too odd to be meant: one line each, before memory or time is spent on them."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import pytest

from analyser.errors import SettingsError
from analyser.logbook.table import MOST_CORRECTIONS, read_table
from analyser.logbook.toml_keys import LOGBOOK_KEYS
from analyser.settings.read_keys import parse_given
from analyser.settings.schema import PLAN_KEYS
from analyser.settings.toml import read_settings
from analyser.settings.winds import read_winds

POINT = "[49.72, -107.93], "
LONG = "9" * 400
PLANS = {
    "many winds": (
        "[[wind]]\nagl_ft = 0\nspeed_kt = 8\nfrom_deg = 235\n" * 501,
        r"more than 500 \[\[wind\]\]",
    ),
    "many areas": (f"[[site.keep_out]]\nbelow_ft = 9\npolygon = [{POINT * 3}]\n" * 501, "more than 500"),
    "many points": (
        f"[[site.keep_out]]\nbelow_ft = 9\npolygon = [{POINT * 2001}]\n",
        "more than 2,000 points",
    ),
    "a deep key": (".".join("a" * 40_000) + " = 1", "more than 20 names"),
    "a deep table": (f"[{'.'.join('a' * 40_000)}]", "more than 20 names"),
    "a deep value": ("[site]\nname = {" + ".".join("a" * 5_000) + " = 1}", "must be a text"),
    "a long number": (f"[site]\nelevation_m = {LONG}", "finite number"),
    "a long position": (f"[site]\ntarget = [{LONG}, 1]", "latitude, longitude"),
    "a long part of a position": (f"[site]\ntarget = [1, -{LONG}]", "latitude, longitude"),
}


@pytest.mark.parametrize("name", PLANS)
def test_a_plan_out_of_all_measure_is_one_line_and_little_memory(name: str) -> None:
    text, words = PLANS[name]
    tracemalloc.start()
    try:
        with pytest.raises(SettingsError, match=words) as caught:
            parse_given(text, "plan.toml", PLAN_KEYS)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert "\n" not in str(caught.value)
    assert peak < 20_000_000


def test_what_a_person_writes_is_far_below_every_limit(tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    dots = "…" + "." * 60
    winds = "".join(f"[[wind]]\nagl_ft = {i}\nspeed_kt = 8\nfrom_deg = 235\n" for i in range(0, 5000, 100))
    plan.write_text(f'[site]\nname = "Quillmere {dots}"\n{winds}', encoding="utf-8")
    assert read_settings([plan]).site.name == f"Quillmere {dots}"


def test_a_table_of_winds_has_a_limit_that_is_said(tmp_path: Path) -> None:
    table = tmp_path / "winds.csv"
    table.write_text("agl_ft,speed_kt,from_deg\n" + "".join(f"{i},8,235\n" for i in range(2001)))
    with pytest.raises(SettingsError, match="more than 2000 rows"):
        read_winds(table)


def test_corrections_have_a_limit_that_is_said(tmp_path: Path) -> None:
    table = tmp_path / "logbook.csv"
    table.write_text("file,note\n" + "a.gpx,x\n" * (MOST_CORRECTIONS + 1))
    with pytest.raises(SettingsError, match="more than 20,000 lines"):
        read_table(table)
    with pytest.raises(SettingsError, match="more than 20,000"):
        parse_given('[[jump]]\nfile = "a"\n' * (MOST_CORRECTIONS + 1), "logbook.toml", LOGBOOK_KEYS)
    with pytest.raises(SettingsError, match="whole number"):
        parse_given(f'[[jump]]\nfile = "a"\njump = {LONG}\n', "logbook.toml", LOGBOOK_KEYS)
