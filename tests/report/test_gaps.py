"""Reports of debriefs with holes in them: whatever is missing or odd, every report is made and says so."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from fake_debrief import bare_debrief, fake_debrief
from rich.console import Console

from analyser.debrief import Debrief
from analyser.debrief import debrief as made
from analyser.pattern import Pattern
from analyser.replay.sink import Brakes
from analyser.report import files as export
from analyser.report.documents.debrief import to_document
from analyser.report.page.pages import render_comparison, render_page
from analyser.report.pictures.figures import figure, specs
from analyser.report.story.blocks import Chapter, Points, Story, Table, height
from analyser.report.story.holding import Entered, entered_at, holding
from analyser.report.story.jump import tell_jump
from analyser.report.story.two_jumps import tell_two_jumps
from analyser.report.terminal import print_story
from analyser.settings import PatternSetup
from analyser.settings.toml import read_settings
from analyser.units import DISPLAY_SYSTEMS
from analyser.wind.profile import WindProfile

ROOT = Path(__file__).resolve().parents[2]
Change = Callable[[Debrief], Debrief]


def heights_lost(d: Debrief, share: float) -> Debrief:
    agl = d.track.agl_m.copy()
    agl[: int(share * agl.size)] = np.nan
    return replace(d, track=replace(d.track, agl_m=agl))


def no_heights_at_all(d: Debrief) -> Debrief:
    return heights_lost(d, 1.0)


def heights_lost_at_first(d: Debrief) -> Debrief:
    return heights_lost(d, 0.6)


def no_landing(d: Debrief) -> Debrief:
    phases = replace(d.phases, landing_s=None, landing_index=None, complete=False)
    return replace(d, phases=phases, landing=None, reasons={"landing": "the recording stops under canopy"})


def nothing_determined(d: Debrief) -> Debrief:
    assert d.wind is not None
    k = d.wind.profile.agl_m.size
    void = replace(d.wind.profile, status=("undetermined",) * k, reason=("too few headings",) * k)
    trim = replace(d.wind.canopy, airspeed_mps=None, airspeed_sd_mps=None, sink_mps=None, sink_sd_mps=None)
    return replace(d, wind=replace(d.wind, profile=void, canopy=trim))


def one_height(d: Debrief) -> Debrief:
    assert d.wind is not None
    return replace(d, wind=replace(d.wind, profile=WindProfile.from_points([(100.0, 4.0, 240.0)], 0.5)))


def calm(d: Debrief) -> Debrief:
    assert d.wind is not None
    still = WindProfile.from_points([(h, 0.0, 0.0) for h in (0.0, 300.0, 900.0)], 0.4)
    return replace(d, wind=replace(d.wind, profile=still))


def straight_in(d: Debrief) -> Debrief:
    assert d.flown is not None
    legs, gates = d.flown.legs[-1:], d.flown.gates[-1:]
    return replace(d, flown=replace(d.flown, kind="straight in", hand=None, legs=legs, gates=gates))


def gates_without_time(d: Debrief) -> Debrief:
    assert d.flown is not None
    return replace(
        d, flown=replace(d.flown, gates=tuple(replace(g, t_s=None, agl_sd_m=0.0) for g in d.flown.gates))
    )


def plan_without_path(d: Debrief) -> Debrief:
    assert d.plan is not None
    return replace(d, plan=replace(d.plan, pattern=replace(d.plan.pattern, path=())))


def empty_patterns(d: Debrief) -> Debrief:
    nothing = Pattern("other", None, None, reason="nothing like a pattern was flown")
    assert d.plan is not None
    return replace(d, flown=nothing, plan=replace(d.plan, pattern=nothing), redrawn=None, comparison=())


def gates_not_flown(d: Debrief) -> Debrief:
    rows = tuple(
        replace(
            r, flown_agl_m=None, agl_m=None, agl_sd_m=None, along_m=None, across_m=None, lateral_sd_m=None
        )
        for r in d.comparison
    )
    return replace(d, comparison=rows)


def no_errors_known(d: Debrief) -> Debrief:
    track = replace(d.track, agl_sd_m=0.0, position_sd_m=0.0, velocity_sd=0.0)
    return replace(
        d, track=track, budget=tuple(replace(r, along_sd_m=0.0, across_sd_m=0.0) for r in d.budget)
    )


def no_setup(d: Debrief) -> Debrief:
    return replace(d, settings=replace(d.settings, pattern=PatternSetup(preset=None)))


HOLES: list[Change] = [
    no_heights_at_all,
    heights_lost_at_first,
    no_landing,
    nothing_determined,
    one_height,
    calm,
    straight_in,
    gates_without_time,
    plan_without_path,
    empty_patterns,
    gates_not_flown,
    no_errors_known,
    no_setup,
]


@pytest.mark.parametrize("hole", HOLES)
def test_every_report_is_made(hole: Change) -> None:
    odd = hole(fake_debrief())
    made = render_page(odd, recollect=True)
    assert "NaN" not in made.split('id="page-data">')[1].split("</script>")[0]
    assert ">nan" not in made
    json.dumps(specs(odd), allow_nan=False)
    for name in specs(odd):
        assert figure(odd, name, units="us", wind_up=True) is not None
    for make in (export.gpx_text, export.geojson_text, export.winds_csv, export.samples_csv):
        assert "nan" not in make(odd)
    assert render_comparison(odd, fake_debrief())
    out = io.StringIO()
    print_story(tell_jump(odd), DISPLAY_SYSTEMS["us"], Console(file=out, width=80, highlight=False))
    assert max(map(len, out.getvalue().splitlines())) <= 80
    assert "nan" not in out.getvalue()


def test_what_stops_early_says_so() -> None:
    made = render_page(no_landing(fake_debrief()))
    assert "The recording stops under canopy." in made
    assert "seconds from the end" in json.dumps(specs(no_landing(fake_debrief())))


def test_comparison_on_a_terminal() -> None:
    first = fake_debrief()
    evil = replace(fake_debrief(), recording=replace(first.recording, file="\x1b[31mevil\n\u202e.gpx"))
    out = io.StringIO()
    console = Console(file=out, width=80, no_color=True, highlight=False)
    print_story(tell_two_jumps(first, evil), DISPLAY_SYSTEMS["uk"], console)
    text = out.getvalue()
    assert not set(text) & {"\x1b", "\u202e"}
    assert max(map(len, text.splitlines())) <= 80
    assert "turn onto final" in text
    assert " kt" in text
    bare = io.StringIO()
    story = tell_two_jumps(bare_debrief(), bare_debrief())
    print_story(story, DISPLAY_SYSTEMS["us"], Console(file=bare, width=80))
    assert "TWO JUMPS" in bare.getvalue()


def with_margin(share: float) -> Debrief:
    """The smallest margin for the entry is ``share`` of its error, and so is every other."""
    d = fake_debrief()
    assert d.reach is not None
    assert d.reach.entry is not None
    entry = d.reach.entry
    sd = entry.margin_sd_m
    changed = replace(
        entry, margin_m=share * sd, worst_margin_m=share * 20.0, worst_margin_sd_m=20.0, lost_agl_m=None
    )
    return replace(d, reach=replace(d.reach, entry=changed))


@pytest.mark.parametrize(
    ("share", "told", "said"),
    [
        (3.0, True, "The pattern entry stayed within reach in full flight. The least to spare was"),
        (0.9, None, "We cannot say whether the pattern entry stayed within reach: at {at} you had"),
        (-0.9, None, "We cannot say whether the pattern entry stayed within reach: at {at} you were"),
        (-3.0, False, "beyond reach in full flight"),
    ],
)
def test_what_is_in_reach_is_never_claimed_within_its_error(
    share: float, told: bool | None, said: str
) -> None:
    debrief = with_margin(share)
    document = to_document(debrief)["reach"]
    assert document["entry"]["in_reach"] is told
    assert len(document["samples"]["entry_margin_sd_m"]) == len(document["samples"]["entry_margin_m"])
    points = next(block for block in holding(debrief.reach, debrief.holding) if isinstance(block, Points))
    text = " ".join(item.text() for item in points.items)
    at = debrief.reach.entry.worst_agl_m if debrief.reach and debrief.reach.entry else None
    assert said.format(at=height(at).text()) in text
    assert text.count("pattern entry") == 1
    picture = specs(debrief)["reach"]
    names = [trace["name"] for trace in picture["data"]]
    assert ("too uncertain to say" in names) == (told is None)


@pytest.mark.parametrize(
    ("off_m", "leg_m", "blamed", "told"),
    [
        (
            80.0,
            25.0,
            False,
            ["You joined the pattern: at 250 m, on its first leg, you were 25 ± 7 m from the plan."],
        ),
        (
            80.0,
            25.0,
            True,
            [
                "From 600 m on the pattern entry was out of reach in full flight: at 300 m you were 80 ± 7 m from it.",
                "Lower, at 250 m on the first leg, you were 25 ± 7 m from the plan.",
            ],
        ),
        (
            80.0,
            None,
            False,
            [
                "From 600 m on the pattern entry was out of reach in full flight: at 300 m you were 80 ± 7 m from it."
            ],
        ),
        (None, None, False, ["beyond reach in full flight, and out of reach from 600 m on."]),
    ],
    ids=["joined", "joined, but a cause of the miss", "its leg was not flown", "not known"],
)
def test_a_pattern_that_was_joined_is_not_called_beyond_reach(
    off_m: float | None, leg_m: float | None, blamed: bool, told: list[str]
) -> None:
    """Reach asks for the entry's place at its height; a turn cut short joins its leg lower."""
    debrief = with_margin(-3.0)
    goal = replace(debrief.reach.entry, lost_agl_m=600.0)
    reach = replace(debrief.reach, entry=goal)
    entered = Entered(300.0, off_m, None if leg_m is None else 250.0, leg_m, 7.0, blamed, 30.0)
    points = next(b for b in holding(reach, (), entered) if isinstance(b, Points))
    said = [item.text() for item in points.items if "entry" in item.text() or "leg" in item.text()]
    assert len(said) == len(told), said
    assert all(text.endswith(end) for text, end in zip(said, told, strict=True)), said


def test_the_target_was_no_farther_out_of_reach_than_the_flight_landed_from_it() -> None:
    debrief = with_margin(-3.0)
    target = replace(
        debrief.reach.target,
        margin_m=np.full_like(debrief.reach.target.margin_m, -60.0),
        margin_sd_m=np.full_like(debrief.reach.target.margin_m, 20.0),
        worst_margin_m=-60.0,
        worst_margin_sd_m=20.0,
        worst_agl_m=200.0,
        lost_agl_m=500.0,
    )

    def said(landed_m: float) -> str:
        found = next(
            b
            for b in holding(replace(debrief.reach, target=target), (), None, landed_m)
            if isinstance(b, Points)
        )
        return next(item.text() for item in found.items if "target" in item.text() and "reach" in item.text())

    assert "60 ± 20 m beyond reach" in said(90.0)
    assert said(29.0) == "The target was out of reach in full flight from 500 m on."


def test_the_entry_is_that_of_the_plan_as_it_was_made() -> None:
    """Not the redrawn one, and at its own height: the leg that was joined lower is no entry met."""
    settings = read_settings([ROOT / "shared/plans/steady_breeze.toml"])
    found = made(ROOT / "sample_tracks/steady_breeze.fit", settings)
    entered, gate = entered_at(found), found.planned.gates[0]
    assert entered.agl_m == gate.agl_m
    at = (
        int(np.flatnonzero(found.track.agl_m[slice(*found.canopy_fixes)] <= gate.agl_m)[0])
        + found.canopy_fixes[0]
    )
    far = np.hypot(found.track.east_m[at] - gate.east_m, found.track.north_m[at] - gate.north_m)
    assert entered.off_m == pytest.approx(far, abs=12.0)
    assert entered.off_m > entered.leg_off_m + 30.0
    assert found.reach.entry.worst_margin_m < -100.0


def test_the_reach_of_the_target_ends_where_the_final_begins() -> None:
    """Below it nobody turns back: a reserve there would say so."""
    settings = read_settings([ROOT / "shared/plans/late_final.toml"])
    found = made(ROOT / "sample_tracks/late_final.gpx", settings)
    begun = found.flown.gate("final").agl_m
    assert np.isnan(found.reach.target.margin_m[found.reach.agl_m <= begun]).all()
    assert found.reach.target.worst_agl_m > begun
    assert np.isfinite(found.reach.target.margin_m).any()


def test_the_entry_has_an_error_for_each_axis() -> None:
    """The error of the height at which the entry's places are read lies along its leg, not across it."""
    settings = read_settings([ROOT / "shared/plans/steady_breeze.toml"])
    row = made(ROOT / "sample_tracks/steady_breeze.fit", settings).comparison[0]
    assert row.gate == "downwind"
    assert row.along_sd_m > 3.0 * row.across_sd_m  # the downwind leg runs along the landing direction
    assert row.lateral_sd_m >= row.along_sd_m
    assert row.place_agl_m is not None
    assert row.place_agl_m < row.flown_agl_m


def test_a_narrow_terminal_cuts_no_word_of_a_table() -> None:
    """Headings of rows wrap where the others would lose their letters."""
    rows = tuple((f"final turn: higher than planned {i}", "12", "-104 m", "too few", "–") for i in range(3))
    table = Table("by condition", ("condition", "jumps", "along", "across", "spread along"), rows)
    for width in (60, 80):
        out = io.StringIO()
        story = Story("t", "k", "h", chapters=(Chapter("a", "A", (table,)),), command="crabline season")
        print_story(story, DISPLAY_SYSTEMS["us"], Console(file=out, width=width, highlight=False))
        text = out.getvalue()
        assert "…" not in text
        assert all(word in text for word in ("condition", "jumps", "along", "across", "spread", "-104 m"))
        assert max(map(len, text.splitlines())) <= width
        assert ("final turn: higher than planned 1" in text) == (width == 80)


@pytest.mark.parametrize(("sd", "told"), [(8.0, True), (40.0, False)])
def test_brakes_are_told_where_they_stand_out_of_their_error(sd: float, told: bool) -> None:
    d = replace(fake_debrief(), brakes=Brakes(-60.0, sd, 0.7, 0.04, 6.0))
    assert ("Brakes explain" in render_page(d)) is told
    if told:
        story = "sank at 70 ± 4 % of its trim. Brakes explain 60 ± 8 m short of the final leg."
        plain = " ".join(re.sub(r"<[^>]+>", "", render_page(d, units="metric")).split())
        assert story in plain
