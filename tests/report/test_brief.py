"""The three lines on top: where the landing was, why, what to do; what else they say when something is odd."""

from __future__ import annotations

import io
import math
from dataclasses import replace

import pytest
from fake_debrief import bare_debrief, fake_debrief, no_jump
from rich.console import Console

from analyser.debrief import Debrief
from analyser.jump import Finding
from analyser.replay import BudgetRow
from analyser.report.page.pages import render_page
from analyser.report.story.brief import OTHER_AXIS_DEG, brief
from analyser.report.story.jump import tell_jump
from analyser.report.story.lessons import lessons
from analyser.report.terminal import print_story
from analyser.units import DISPLAY_SYSTEMS


@pytest.fixture(scope="module")
def jump() -> Debrief:
    """A landing 50 m past the target and 20 m right of it, flying 240°, as the plan has it."""
    made = fake_debrief()
    assert made.landing is not None
    return replace(made, landing=landed(made, 240.0))


def landed(debrief: Debrief, deg: float) -> object:
    along, across = 50.0, 20.0
    a = math.radians(240.0)
    east, north = along * math.sin(a) + across * math.cos(a), along * math.cos(a) - across * math.sin(a)
    turn = math.radians(deg - 240.0)
    seen = (
        along * math.cos(turn) + across * math.sin(turn),
        across * math.cos(turn) - along * math.sin(turn),
    )
    return replace(
        debrief.landing,  # type: ignore[type-var]
        east_m=east,
        north_m=north,
        offset_m=math.hypot(along, across),
        offset_sd_m=2.5,
        along_m=seen[0],
        across_m=seen[1],
        along_sd_m=3.0,
        across_sd_m=4.0,
        landing_deg=deg,
    )


def lines(debrief: Debrief, units: str = "metric") -> dict[str, str]:
    taught = lessons(debrief.findings, debrief.advice, debrief.reasons)
    return {name: text.text(DISPLAY_SYSTEMS[units]) for name, text in brief(debrief, taught)}


def test_the_lines_come_in_their_order_with_the_direction_in_degrees(jump: Debrief) -> None:
    told = lines(jump)
    assert list(told) == ["Where", "Why", "Next time"]
    assert told["Where"] == (
        "You landed 53.9 ± 2.5 m from the target: 50.0 ± 3.0 m long, 20 ± 4 m right, looking along your landing direction, 240°."
    )
    assert lines(jump, "us")["Where"].startswith("You landed 177 ± 8 ft from the target: 164 ± 10 ft long")
    assert told["Next time"].startswith("Beginning the turn onto final 14 ± 4 m higher")


@pytest.mark.parametrize(("off", "said"), [(OTHER_AXIS_DEG - 1.0, False), (OTHER_AXIS_DEG + 1.0, True)])
def test_another_direction_than_planned_is_said_where_it_matters(
    jump: Debrief, off: float, said: bool
) -> None:
    turned = replace(jump, landing=landed(jump, 240.0 + off))
    where = lines(turned)["Where"]
    assert ("Along the planned direction, 240°: 50.0 ± 2.5 m long, 20.0 ± 2.5 m right." in where) is said
    assert f"{240 + off:.0f}°" in where


def test_a_poor_recording_is_said_first(jump: Debrief) -> None:
    poor = replace(jump, track=replace(jump.track, quality=replace(jump.track.quality, grade="poor")))
    assert next(iter(lines(poor))) == "Recording"


def test_without_a_target_or_a_jump_the_reason_stands_there() -> None:
    assert lines(bare_debrief())["Where"].startswith("No target given")
    (only,) = tell_jump(no_jump()).brief
    assert only[1].text() == "No jump was found in this recording: no canopy flight found."


def test_one_reason_is_said_once() -> None:
    """Without a target there is no cause, no advice and no chapter that would only say so again."""
    bare = bare_debrief()
    assert "Next time" not in lines(bare)
    story = tell_jump(bare)
    out = io.StringIO()
    print_story(story, DISPLAY_SYSTEMS["uk"], Console(file=out, width=80))
    assert " ".join(out.getvalue().split()).count("No target given: without one") == 1
    assert "metres" not in {c.anchor for c in story.chapters}


def test_brief_prints_the_head_and_these_lines_only(jump: Debrief) -> None:
    out = io.StringIO()
    print_story(tell_jump(jump), DISPLAY_SYSTEMS["uk"], Console(file=out, width=80), brief=True)
    text = out.getvalue()
    assert [name for name in ("Where", "Why", "Next time") if f"\n  {name}" in text] == [
        "Where",
        "Why",
        "Next time",
    ]
    assert "WHAT WENT WELL" not in text
    assert len(text.splitlines()) < 16


def test_the_page_links_its_chapters_and_keeps_the_lines_back_while_it_asks(jump: Debrief) -> None:
    page = render_page(jump, recollect=True)
    assert page.index('<main id="story" class="veiled">') < page.index('id="brief"')
    for chapter in tell_jump(jump).chapters:
        assert f'href="#{chapter.anchor}"' in page
        assert f'id="{chapter.anchor}"' in page


def cause(along: float, across: float, sd: float = 4.0) -> Finding:
    said = {"signed_along_m": along, "signed_across_m": across, "along_sd_m": sd, "across_sd_m": sd}
    return Finding("base_turn_high", "note", "A cause.", said, metres=math.hypot(along, across))


@pytest.mark.parametrize(
    ("metres", "named"),
    [
        ((40.0, 20.0), True),
        ((45.0, -5.0), True),
        ((0.0, 90.0), False),  # without it the landing would lie farther off
        ((-60.0, 0.0), False),
        ((5.0, 0.0), False),
    ],
)
def test_the_main_reason_is_a_cause_that_leads_to_where_the_landing_was(
    jump: Debrief, metres: tuple[float, float], named: bool
) -> None:
    told = lines(replace(jump, findings=(cause(*metres),), budget=jump.budget[:1]))["Why"]
    assert (told == "A cause.") is named
    if not named:
        assert told.startswith("No single cause ")
        there = metres[0] >= 0.0 and math.hypot(*metres) > 8.0
        assert ("The largest that is clear: A cause." in told) is there, (
            "what points away or is not clear is not told"
        )


def test_a_leg_whose_cause_is_named_is_not_called_uncertain(jump: Debrief) -> None:
    """The named cause of the same row does not lead to the landing: it is told as the largest, and not that nothing is known."""
    row = BudgetRow("base leg", 45.0, 3.0, 9.0, 12.0)
    one = replace(cause(-60.0, 0.0), evidence=cause(-60.0, 0.0).evidence | {"row": "base leg"})
    told = lines(replace(jump, findings=(one,), budget=(row,)))["Why"]
    assert told == "No single cause is clear enough to explain the miss.", "what points away is not told"
    back = replace(row, cause="final leg", along_m=-60.0)
    told = lines(replace(jump, findings=(one,), budget=(row, back)))["Why"]
    assert told == "No single cause explains the miss: several partly cancelled each other."


def test_a_row_that_others_took_back_is_no_reason(jump: Debrief) -> None:
    """Without 400 m along, the landing would lie farther off than it does."""
    row = BudgetRow("downwind leg", 400.0, 3.0, 9.0, 12.0)
    told = lines(replace(jump, findings=(), budget=(row,)))["Why"]
    assert told == "No single cause is larger than its error."


def test_a_row_beyond_its_error_is_the_reason_where_no_part_of_it_is(jump: Debrief) -> None:
    row = BudgetRow("downwind leg", 45.0, 3.0, 9.0, 12.0)
    told = lines(replace(jump, findings=(), budget=(row,)))["Why"]
    assert told == "The downwind leg brought 45 ± 9 m long. What did it there is too uncertain to say."
    vague = replace(row, along_sd_m=30.0)
    assert (
        lines(replace(jump, findings=(), budget=(vague,)))["Why"]
        == "No single cause is larger than its error."
    )


def test_a_pattern_flown_straight_in_is_the_reason(jump: Debrief) -> None:
    assert jump.flown is not None
    final = jump.flown.gate("final")
    straight = replace(jump.flown, kind="straight in", gates=(final,))
    told = lines(replace(jump, flown=straight, findings=(), budget=jump.budget[:1]))["Why"]
    assert told.startswith("You flew straight in from ")
    assert told.endswith(" without the planned crosswind, downwind and base legs.") or told.endswith(
        " downwind and base legs."
    )
    lost = Finding("entry_out_of_reach", "note", "", {"lost_agl_m": 990.0})
    told = lines(replace(jump, flown=straight, findings=(lost,), budget=jump.budget[:1]))["Why"]
    assert told.startswith(
        "From 990 m down the entry was out of reach in full flight. You flew straight in from "
    )
