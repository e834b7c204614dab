"""Settings from plan files: units, merging, and what is said about every kind of mistake."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.errors import AnalyserError, SettingsError
from analyser.settings import PRESETS, STANDARDS, AccuracyStandard, Settings
from analyser.settings.contradictions import inside
from analyser.settings.toml import parse_settings, parse_target, read_settings
from analyser.settings.toml_lines import key_lines, line_of

FULL = """\
[site]
name = "Larkmoor"
target = [52.1, -1.5]
elevation_m = 212
min_final_turn_ft = 200
[[site.direction]]
landing_deg = 240
hand = "left"
[[site.direction]]
landing_deg = 60
hand = "right"
[[site.keep_out]]
name = "runway"
below_ft = 1000
polygon = [
  [52.2, -1.5],
  [52.2, -1.4],
  [52.3, -1.4],
]
[jumper]
name = "A. Learner"
[canopy]
name = "Wide 230"
area_ft2 = 230
exit_weight_lb = 205
airspeed_mps = 10.5
sink_mps = 4.2
[pattern]
hand = "left"
landing_deg = 240
crosswind_ft = 1200
downwind_ft = 1000
base_ft = 600
final_ft = 300
[[wind]]
agl_ft = 0
speed_kt = 8
from_deg = 235
[[wind]]
agl_ft = 1000
speed_kt = 12
from_deg = 250
"""


def test_a_full_plan_is_read_in_si_units() -> None:
    s = parse_settings(FULL)
    assert s.site.target == (52.1, -1.5)
    assert s.site.elevation_m == 212.0
    # exact definitions: 1 ft = 0.3048 m, 1 lb = 0.45359237 kg, 1 kt = 1852 m/h (BIPM SI brochure; international yard and pound, 1959)
    assert s.site.min_final_turn_m == pytest.approx(60.96)
    assert s.canopy.area_m2 == pytest.approx(230 * 0.3048**2)
    assert s.canopy.exit_weight_kg == pytest.approx(205 * 0.45359237)
    assert s.canopy.wing_loading_lb_ft2 == pytest.approx(205 / 230)
    assert s.pattern.heights_m == pytest.approx(
        {"crosswind": 365.76, "downwind": 304.8, "base": 182.88, "final": 91.44}
    )
    assert s.wind[1].speed_mps == pytest.approx(12 * 1852 / 3600)
    assert s.site.directions[1].hand == "right"
    assert s.site.keep_outs[0].below_m == pytest.approx(304.8)
    assert len(s.site.keep_outs[0].polygon) == 3


@pytest.mark.parametrize(
    ("key", "value", "si"),
    [
        ("airspeed_kt", 20.0, 20 * 1852 / 3600),
        ("airspeed_mph", 20.0, 20 * 0.44704),
        ("airspeed_kmh", 36.0, 10.0),
        ("airspeed_mps", 10.0, 10.0),
    ],
)
def test_every_speed_unit(key: str, value: float, si: float) -> None:
    assert parse_settings(f"[canopy]\n{key} = {value}").canopy.airspeed_mps == pytest.approx(si)


def test_an_empty_plan_gives_the_defaults() -> None:
    s = parse_settings("")
    assert s.pattern == PRESETS["1000-600-300 ft"][0]
    assert s.site.target is None


def test_wing_loading_of_a_printed_example() -> None:
    # 195 lb under 169 ft² = 1.15 lb/ft²: worked example of a canopy owner's manual (2018), page 14
    text = "[canopy]\narea_ft2 = 169\nexit_weight_lb = 195"
    assert parse_settings(text).canopy.wing_loading_lb_ft2 == pytest.approx(1.15, abs=0.005)


@pytest.mark.parametrize("name", list(PRESETS))
def test_presets_by_name(name: str) -> None:
    s = parse_settings(f'[pattern]\npreset = "{name}"')
    assert s.pattern == PRESETS[name][0]
    assert s.pattern.preset == name


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", ()),
        ('[pattern]\nhand = "left"', ()),
        ('[pattern]\npreset = "300-200-100 m"', ("downwind", "base", "final")),
        ("[pattern]\nbase_ft = 550", ("downwind", "base", "final")),
        ("[pattern]\ncrosswind_ft = 1200", ("crosswind", "downwind", "base", "final")),
    ],
)
def test_the_legs_that_were_meant_are_known_where_heights_were_given(
    text: str, told: tuple[str, ...]
) -> None:
    assert parse_settings(text).pattern.told == told


def test_heights_beside_a_preset_replace_it_and_its_name() -> None:
    s = parse_settings('[pattern]\npreset = "900-600-300 ft"\nfinal_ft = 350')
    assert s.pattern.downwind_m == pytest.approx(900 * 0.3048)
    assert s.pattern.final_m == pytest.approx(350 * 0.3048)
    assert s.pattern.preset is None


MISTAKES = [
    ("[pattern]\n\ndownwnd_ft = 900", 3, ["unknown key pattern.downwnd_ft", "did you mean downwind_ft"]),
    ("[patern]\nbase_ft = 1", 1, ["unknown key patern", "did you mean pattern"]),
    ("[Pattern]\nbase_ft = 1", 1, ["unknown key Pattern", "did you mean pattern?"]),
    ("[canopy]\nsnik_kmh = 9", 2, ["unknown key canopy.snik_kmh", "did you mean sink_kmh?"]),
    ("[standards]\nx = 1", 1, ["unknown key standards", "did you mean standard in [site]?"]),
    ("[weather]\nx = 1", 1, ["unknown key weather; known here: site, jumper, canopy, pattern, wind"]),
    ("[jumper]\nlicence = 1", 2, ["unknown key jumper.licence; known here: name"]),
    (
        "[pattern]\nangle_deg = 1",
        2,
        ["known here: preset, hand, landing_deg, crosswind_ft/_m, downwind_ft/_m"],
    ),
    ("[site]\ndownwind_ft = 900", 2, ["unknown key site.downwind_ft", "belongs to [pattern]"]),
    ("[pattern]\nbase = 600", 2, ["pattern.base has no unit", "base_ft or base_m"]),
    ("[pattern]\nbase_kt = 600", 2, ["no known unit for a height", "base_ft or base_m"]),
    ("[canopy]\nairspeed_sd = 1", 2, ["canopy.airspeed_sd has no unit", "airspeed_sd_mps"]),
    ("[canopy]\narea_ft2 = 230\narea_m2 = 21", 2, ["canopy.area_ft2 and canopy.area_m2", "twice"]),
    ("[site]\ntarget = [91.0, 4.0]", 2, ["latitude 91 is beyond ±90"]),
    ("[site]\ntarget = [120.0, 14.0]", 2, ["swapped"]),
    ("[site]\ntarget = [50.0, 181.0]", 2, ["longitude 181 is beyond ±180"]),
    ("[site]\ntarget = [50.0]", 2, ["must be [latitude, longitude]"]),
    ("[site]\ntarget = [true, 4.0]", 2, ["must be [latitude, longitude]"]),
    ("[site]\nelevation_m = nan", 2, ["must be a finite number"]),
    ("[site]\nelevation_m = -inf", 2, ["must be a finite number"]),
    ('[site]\nelevation_m = "212"', 2, ["must be a number"]),
    ("[site]\nelevation_m = true", 2, ["must be a number"]),
    (f"[site]\nelevation_m = 1{'0' * 400}", 2, ["must be a finite number"]),
    ("[site]\nelevation_m = 99999", 2, ["out of range"]),
    ("[site]\nname = 5", 2, ["must be a text in quotes"]),
    ('[site]\nname = "a\\nb"', 2, ["one line"]),
    ("\na.b.c = 5", 2, ["unknown key a"]),
    ('site.nmae = "x"', 1, ["unknown key site.nmae"]),
    ('[[site.standard]]\nname = "club ring"\nradius_m = 40', 1, ["has no source"]),
    ("site = 5", 1, ["site must be a table"]),
    ("[canopy]\n[canopy.name]\nx = 1", 2, ["must be a text"]),
    ('[pattern]\nhand = "both"', 2, ["must be one of", "as flown"]),
    ('[pattern]\npreset = "900-600"', 2, ["is not known", "1000-600-300 ft"]),
    ("[wind]\nagl_ft = 0", 1, ["must be a list of tables", "[[wind]]"]),
    ("[[wind]]\nagl_ft = 0\nspeed_kt = 5", 2, ["wind[0] has no from_deg"]),
    ("[[wind]]\nagl_ft = 0\nspeed_kt = 5\nfrom_deg = 361", 4, ["out of range"]),
    ("[[wind]]\nagl_ft = 0\nspeed_kt = -5\nfrom_deg = 36", 3, ["out of range"]),
    ("[[site.keep_out]]\nbelow_ft = 5\npolygon = [[1, 2], [3, 4]]", 3, ["at least three"]),
    ("[[site.keep_out]]\nbelow_ft = 5\npolygon = [[1, 2], [3, 4],\n[95, 4]]", 3, ["beyond ±90"]),
    ("[site]\ntarget = [1, 2", None, ["not valid TOML", "Unclosed array", "the key of line 2"]),
    ("[site]\na = 1\n[site]\nb = 1", None, ["not valid TOML", "line 3"]),
    ("a = " + "[" * 5000 + "]" * 5000, None, ["not valid TOML"]),
]


@pytest.mark.parametrize(("text", "line", "parts"), MISTAKES)
def test_a_mistake_is_named_with_key_line_rule_and_help(
    text: str, line: int | None, parts: list[str]
) -> None:
    with pytest.raises(SettingsError) as caught:
        parse_settings(text, "plan.toml")
    message = str(caught.value)
    assert message.startswith("plan.toml: ")
    if line is not None:
        assert f"line {line}: " in message
    for part in parts:
        assert part in message
    assert "\n" not in message


WINDS = "[[wind]]\nagl_ft = {}\nspeed_kt = 5\nfrom_deg = 200\n"

CONTRADICTIONS = [
    ("[pattern]\ndownwind_ft = 500\nbase_ft = 600", ["gates out of order", "downwind_ft = 500 ft", "base_ft = 600 ft"]),
    ("[pattern]\nbase_ft = 1100", ["gates out of order", "downwind at 1000 ft (the default)"]),
    ("[pattern]\ncrosswind_ft = 1000", ["gates out of order", "crosswind_ft = 1000 ft"]),
    ("[pattern]\nfinal_ft = 150", ["below", "lowest final turn of 200 ft"]),
    ("[pattern]\nfinal_ft = 300\n[site]\nmin_final_turn_ft = 400", ["min_final_turn_ft = 400 ft"]),
    ("".join(WINDS.format(h) for h in (0, 1000, 500)), ["wind[2].agl_ft = 500 ft is out of order"]),
    ("".join(WINDS.format(h) for h in (0, 1000, 1000)), ["twice"]),
    (FULL.replace("[52.2, -1.5]", "[52.0, -1.6]").replace("[52.2, -1.4]", "[52.0, -1.3]"), ["target lies inside", "runway"]),
    (FULL.replace("speed_kt = 8", "speed_kt = 22"), ["not below the airspeed", "stay on the ground"]),
    (FULL.replace("landing_deg = 240\ncross", "landing_deg = 150\ncross"), ["none of the landing directions", "240, 60"]),
    (FULL.replace('hand = "left"\nlanding', 'hand = "right"\nlanding'), ["contradicts the site", "left-handed"]),
]  # fmt: skip


@pytest.mark.parametrize(("text", "parts"), CONTRADICTIONS)
def test_a_plan_that_contradicts_itself_is_explained(text: str, parts: list[str]) -> None:
    with pytest.raises(SettingsError) as caught:
        parse_settings(text, "plan.toml")
    for part in parts:
        assert part in str(caught.value)


METRES = {"crosswind": 365, "downwind": 305, "base": 183, "final": 91}


def gates(site: str = "", **heights: int) -> str:
    return f"[site]\n{site}\n[pattern]\n" + "\n".join(f"{name}_ft = {h}" for name, h in heights.items())


@pytest.mark.parametrize(
    ("text", "rest"),
    [
        (gates(**METRES), "is below the lowest final turn of 200 ft (the default)"),
        (gates("min_final_turn_ft = 250", **METRES), "is below site.min_final_turn_ft = 250 ft"),
        (gates("min_final_turn_m = 80", **METRES), "is below site.min_final_turn_m = 80 m"),
        (gates(final=91), "is below the lowest final turn of 200 ft (the default)"),
        (gates(downwind=305, base=183), "is not above final at 300 ft (the default)"),
    ],
)
def test_gates_in_metres_typed_as_feet_are_asked_about(text: str, rest: str) -> None:
    with pytest.raises(SettingsError) as caught:
        parse_settings(text, "plan.toml")
    message = str(caught.value)
    assert rest in message
    assert "; were metres typed as feet (" in message
    assert "Otherwise " in message
    assert "\n" not in message


def test_the_question_shows_the_first_gate_in_both_units() -> None:
    with pytest.raises(
        SettingsError, match=r"\(365 m = 1198 ft\)\? Otherwise plan the final turn at or above"
    ):
        parse_settings(gates(**METRES))


@pytest.mark.parametrize(
    "text",
    [
        gates(final=150),
        gates(crosswind=1200, downwind=1000, base=600, final=91),
        gates("min_final_turn_ft = 400", **METRES),
        gates(downwind=1000, base=1100),
        gates(**METRES | {"final": 61, "base": 50}),
        "[pattern]\nfinal_m = 30",
    ],
)
def test_gates_that_are_no_pattern_in_metres_either_hear_no_question(text: str) -> None:
    with pytest.raises(SettingsError) as caught:
        parse_settings(text)
    assert "metres typed" not in str(caught.value)


def test_a_strong_wind_above_the_final_is_no_contradiction() -> None:
    assert parse_settings(FULL.replace("speed_kt = 12", "speed_kt = 25")).wind[-1].agl_m == pytest.approx(
        304.8
    )


def test_the_standards_of_a_site_stand_in_place_of_the_published_ones() -> None:
    text = '[[site.standard]]\nname = "club ring"\nradius_ft = 100\nsource = "notice board, 2026"\n'
    assert parse_settings(text).standards == (AccuracyStandard("club ring", 30.48, "notice board, 2026"),)
    assert parse_settings("").standards == STANDARDS


def test_a_falling_list_of_winds_is_sorted() -> None:
    heights = [w.agl_m for w in parse_settings("".join(WINDS.format(h) for h in (3000, 1000, 0))).wind]
    assert heights == sorted(heights)


def write(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


def test_later_files_win_key_by_key_and_the_target_option_beats_all(tmp_path: Path) -> None:
    first = write(tmp_path / "site.toml", FULL)
    second = write(
        tmp_path / "day.toml", "[pattern]\nbase_m = 200\n[site]\ntarget = [52.11, -1.5]\n" + WINDS.format(0)
    )
    s = read_settings([first, second])
    assert s.pattern.base_m == 200.0
    assert s.pattern.final_m == pytest.approx(91.44)
    assert s.site.target == (52.11, -1.5)
    assert len(s.wind) == 1
    assert read_settings([second, first]).site.target == (52.1, -1.5)
    assert read_settings([first, second], target=(50.0, 1.0)).site.target == (50.0, 1.0)


def test_a_later_preset_replaces_earlier_heights(tmp_path: Path) -> None:
    first = write(tmp_path / "a.toml", "[pattern]\nbase_ft = 700")
    second = write(tmp_path / "b.toml", '[pattern]\npreset = "300-200-100 m"')
    assert read_settings([first, second]).pattern.base_m == 200.0
    assert read_settings([second, first]).pattern.base_m == pytest.approx(700 * 0.3048)


def test_a_contradiction_between_files_names_the_later_one(tmp_path: Path) -> None:
    first = write(tmp_path / "a.toml", "[pattern]\ndownwind_ft = 900")
    second = write(tmp_path / "b.toml", "[pattern]\nbase_ft = 950")
    with pytest.raises(SettingsError, match=r"b\.toml: line 2: gates out of order.*900 ft.*950 ft"):
        read_settings([first, second])


def test_the_default_final_rises_to_the_lowest_of_the_site(tmp_path: Path) -> None:
    raised = read_settings([write(tmp_path / "a.toml", "[site]\nmin_final_turn_ft = 400")]).pattern
    assert raised.final_m == pytest.approx(400 * 0.3048)
    assert raised.preset is None
    kept = read_settings([write(tmp_path / "b.toml", "[site]\nmin_final_turn_ft = 250")]).pattern
    assert kept.final_m == pytest.approx(300 * 0.3048)
    with pytest.raises(SettingsError, match=r"d\.toml: line 2.*not above site\.min_final_turn_ft = 700 ft"):
        read_settings([write(tmp_path / "d.toml", "[site]\nmin_final_turn_ft = 700")])
    with pytest.raises(SettingsError, match="below"):
        read_settings(
            [
                write(
                    tmp_path / "c.toml",
                    '[site]\nmin_final_turn_ft = 400\n[pattern]\npreset = "1000-600-300 ft"',
                )
            ]
        )


def test_a_file_that_can_not_be_read(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="no such file; check the path"):
        read_settings([tmp_path / "none.toml"])
    with pytest.raises(SettingsError, match="not a plain file"):
        read_settings([tmp_path])
    (tmp_path / "latin.toml").write_bytes(b'[site]\nname = "\xe9"')
    with pytest.raises(SettingsError, match="not UTF-8"):
        read_settings([tmp_path / "latin.toml"])
    (tmp_path / "bom.toml").write_bytes(b'\xef\xbb\xbf[site]\r\nname = "x"\r\n')
    assert read_settings([tmp_path / "bom.toml"]).site.name == "x"
    with pytest.raises(SettingsError):
        read_settings(["a\0b"])


@pytest.mark.parametrize("text", ["52.1,-1.5", " 52.1 , -1.5 ", "52.1 -1.5", "+52.1,-1.5"])
def test_target_option(text: str) -> None:
    assert parse_target(text) == (52.1, -1.5)


@pytest.mark.parametrize("text", ["", "52.1", "a,b", "91,0", "0,181", "nan,0", "1,2,3", "52,1,1,5"])
def test_target_option_refused(text: str) -> None:
    with pytest.raises(SettingsError):
        parse_target(text)


def outcome(text: str) -> str:
    """Empty for settings, else the words of the refusal; anything but an AnalyserError fails the test."""
    try:
        assert isinstance(parse_settings(text), Settings)
    except AnalyserError as error:
        return str(error)
    return ""


@given(st.text(max_size=300))
@settings(max_examples=150, deadline=None)
def test_any_text_is_settings_or_a_settings_error(text: str) -> None:
    assert "\n" not in outcome(text)


VALUES = st.one_of(
    st.floats().map(
        lambda x: {math.inf: "inf", -math.inf: "-inf"}.get(x, "nan" if math.isnan(x) else repr(x))
    ),
    st.integers().map(str),
    st.sampled_from(['"x"', "true", "[]", "[1, 2]", "{a = 1}", "[[1,2],[3,4],[5,6]]", "1979-05-27"]),
)


@given(
    st.lists(st.tuples(st.sampled_from(["[site]", "[canopy]", "[[wind]]", "[pattern]", "[[site.keep_out]]"]),
                       st.sampled_from(["target", "agl_ft", "speed_kt", "from_deg", "base_ft", "base_m", "sink_mps", "polygon", "below_ft", "hand"]),
                       VALUES), max_size=6)
)  # fmt: skip
@settings(max_examples=300, deadline=None)
def test_any_value_of_any_key_is_taken_or_refused_in_words(rows: list[tuple[str, str, str]]) -> None:
    text = "\n".join(f"{table}\n{key} = {value}" for table, key, value in rows)
    assert "\n" not in outcome(text)


def test_lines_of_keys_skip_strings_comments_and_arrays() -> None:
    text = 'a = """\n[x]\nb = 1\n"""\n[t] # c = 1\nlist = [ # [\n  [1, 2],\n  "]",\n]\n[[r]]\nq."d e" = 1\n[[r]]\nq = 2'
    lines = key_lines(text)
    assert lines == {
        "a": 1,
        "t": 5,
        "t.list": 6,
        "r[0]": 10,
        "r[0].q": 11,
        "r[0].q.d e": 11,
        "r[1]": 12,
        "r[1].q": 13,
    }
    assert line_of(lines, "r[1].q[3].z") == 13
    assert line_of(lines, "nothing") is None


@given(st.floats(-80, 80), st.floats(-180, 180), st.floats(-0.9, 0.9), st.floats(-0.9, 0.9))
def test_a_square_holds_what_lies_within_its_half_width(lat: float, lon: float, dy: float, dx: float) -> None:
    def wrapped(x: float) -> float:
        return (x + 180.0) % 360.0 - 180.0

    square = tuple((lat + b * 0.5, wrapped(lon + a * 0.5)) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1)))
    expected = max(abs(dx), abs(dy)) < 0.5
    if abs(max(abs(dx), abs(dy)) - 0.5) > 1e-6:
        assert inside(lat + dy, wrapped(lon + dx), square) is expected
