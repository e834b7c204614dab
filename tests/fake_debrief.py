"""Hand-made debriefs for the report tests: plausible numbers put together by plain kinematics, nothing estimated."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
from fake_flight import START_S, TARGET, fake_track, fake_wind

from analyser.compare import compare
from analyser.debrief import Debrief
from analyser.findings import Finding
from analyser.flight import Trim
from analyser.holding import name_stretches
from analyser.importers.recording import Recording
from analyser.pattern import Gate, Leg, Pattern, Turn, to_landing_frame
from analyser.phases import Phase, Phases
from analyser.plan import plan_pattern
from analyser.plan.jump import Plan
from analyser.reach import find_reach
from analyser.replay import Advice, BudgetRow, would_the_plan_have_worked
from analyser.score import Landing, Standard
from analyser.settings import Canopy, Jumper, KeepOut, Settings, Site, WindPoint
from analyser.track import Track
from analyser.wind.profile import WindProfile


def _gate(track: Track, name: Any, agl: float, heading: float, canopy: Phase) -> Gate:
    part = slice(canopy.start, canopy.stop)
    i = canopy.start + int(np.argmin(np.abs(track.agl_m[part] - agl)))
    return Gate(
        name,
        float(track.agl_m[i]),
        float(track.east_m[i]),
        float(track.north_m[i]),
        heading,
        heading,
        float(track.t_s[i]),
        3.2,
        2.5,
    )


def fake_flown(track: Track, phases: Phases) -> Pattern:
    """A left box pattern as in CANOPY_HEADINGS."""
    canopy = phases.canopy()
    assert canopy is not None
    rows = [("downwind", 330.0, 60.0), ("base", 165.0, 330.0), ("final", 79.0, 240.0)]
    gates = tuple(_gate(track, n, h, hd, canopy) for n, h, hd in rows)
    ends = [g.t_s for g in gates[1:]] + [phases.landing_s]
    legs = []
    for g, end in zip(gates, ends):
        assert g.t_s is not None
        assert end is not None
        low = float(np.interp(end, track.t_s, track.agl_m))
        turn = Turn(g.t_s, g.t_s + 5, g.agl_m, g.agl_m - 21, -90.0, 18.0, 20.0)
        legs.append(
            Leg(
                g.name,
                g.t_s,
                end,
                g.agl_m,
                3.2,
                g.agl_m - 21,
                low,
                g.heading_deg,
                g.track_deg + 4,
                4.0,
                9.0,
                9.0 * (end - g.t_s),
                0.9,
                turn,
            )
        )
    return Pattern("three-leg", "left", 240.0, tuple(legs), gates, 0.93)


TRIM = Trim(10.1, 4.05, elevation_m=612.0, airspeed_sd_mps=0.25, sink_sd_mps=0.1)


def planned(settings: Settings, wind: WindProfile) -> Pattern:
    """The plan for a wind, by the package's own planner (checked in its own tests)."""
    return plan_pattern(settings.pattern, TRIM, wind, hand="left", landing_deg=240.0)


def fake_settings() -> Settings:
    """The invented field."""
    box = ((47.3036, 11.9), (47.3042, 11.9), (47.3042, 11.903), (47.3036, 11.903))
    return Settings(
        Site("Larch Hollow", TARGET, 612.0, keep_outs=(KeepOut("runway", 305.0, box),)),
        Jumper("Wren Alder"),
        Canopy("Fieldfare 230", 21.37, 93.0),
        wind=(WindPoint(0.0, 3.0, 235.0), WindPoint(600.0, 5.0, 245.0)),
    )


def fake_debrief(**changes: Any) -> Debrief:
    """A full debrief; ``changes`` replace fields."""
    track, phases = fake_track()
    settings = fake_settings()
    wind = fake_wind()
    assumed = settings.wind_profile
    canopy = phases.canopy()
    assert assumed is not None
    assert canopy is not None
    flown, plan, new = fake_flown(track, phases), planned(settings, assumed), planned(settings, wind.profile)
    entry = flown.gates[0]
    entry_index = track.index(entry.t_s or 0.0)
    zeros = np.zeros(len(track))
    recording = Recording(
        track.t_s + START_S,
        zeros + 47.3,
        zeros + 11.9,
        track.agl_m + 612.0,
        zeros,
        zeros,
        device="Lapwing logger",
        name="Saturday, second load",
        file="larch.gpx",
        sha256="ab" * 32,
    )
    landing = landing_of(track, phases)
    result = Debrief(
        recording,
        track,
        phases,
        settings,
        has_target=True,
        wind=wind,
        flown=flown,
        landing=landing,
        plan=Plan(plan, assumed, "plan", TRIM),
        matched=Plan(plan, assumed, "plan", TRIM),
        redrawn=Plan(new, wind.profile, "track", TRIM),
        comparison=compare(flown, plan),
        reach=find_reach(track, canopy.start, canopy.stop, wind.profile, TRIM, entry=plan.gates[0]),
        holding=name_stretches(track, canopy.start, entry_index, wind.profile, TRIM),
        budget=budget_of(landing),
        plan_outcome=would_the_plan_have_worked(plan, TRIM, wind.profile, redrawn=new),
        advice=ADVICE,
        into_wind_error_deg=6.0,
        into_wind_error_sd_deg=9.0,
        findings=FINDINGS,
    )
    return replace(result, **changes)


def bare_debrief(reason: str = "headings within 20° of one line") -> Debrief:
    """A jump of which little could be known: no wind, no legs, no plan, no target."""
    reasons = dict.fromkeys(("winds", "legs", "plan", "budget", "advice"), reason)
    reasons["target"] = "no target given: without one, how far from it you landed is not known"
    full = fake_debrief()
    assert full.landing is not None
    landing = replace(
        full.landing,
        offset_m=None,
        offset_sd_m=None,
        along_m=None,
        across_m=None,
        bearing_deg=None,
        standards=(),
        score_text="",
    )
    return replace(
        full,
        settings=Settings(),
        wind=None,
        flown=None,
        plan=None,
        matched=None,
        redrawn=None,
        comparison=(),
        landing=landing,
        budget=(),
        advice=(),
        findings=(),
        reasons=reasons,
        has_target=False,
        into_wind_error_deg=None,
        into_wind_error_sd_deg=None,
        plan_outcome=None,
        reach=None,
        holding=(),
    )


def no_jump() -> Debrief:
    """A walk."""
    full = bare_debrief()
    phases = Phases((full.phases.intervals[-1],), "no jump", "no canopy flight found", None, None, False)
    return replace(full, phases=phases, landing=None, jump=0, jumps=0)


def landing_of(track: Track, phases: Phases) -> Landing:
    """Where the fake flight ends."""
    i = phases.landing_index
    assert i is not None
    e, n = float(track.east_m[i]), float(track.north_m[i])
    along, across = to_landing_frame(e, n, 240.0)
    standards = (Standard("ring of a published licence", 20.0, "made up for the test", None),)
    text = "Within 30 m; which of the published rings it meets the position error leaves open."
    offset = math.hypot(e, n)
    return Landing(
        float(track.t_s[i]),
        e,
        n,
        47.2998,
        11.9002,
        6.4,
        4.1,
        offset,
        3.5,
        along,
        across,
        146.0,
        standards,
        text,
    )


def budget_of(landing: Landing) -> tuple[BudgetRow, ...]:
    """Made-up causes that add up to the landing."""
    assert landing.along_m is not None
    assert landing.across_m is not None
    rows = (
        BudgetRow("wind", -28.0, 4.0, 6.0, 5.0),
        BudgetRow("entry", 12.0, -20.0, 4.0, 4.0),
        BudgetRow("downwind leg", 5.0, 3.0, 3.0, 3.0),
        BudgetRow("base leg", -3.0, 11.0, 3.0, 4.0),
    )
    along = landing.along_m - sum(r.along_m for r in rows)
    across = landing.across_m - sum(r.across_m for r in rows)
    return (*rows, BudgetRow("final leg", along, across, 4.0, 2.0))


ADVICE = (
    Advice(
        "final",
        14.0,
        None,
        None,
        "Beginning the turn onto final 14 m higher would have ended on the target.",
        None,
        "Beginning the turn onto final {change_agl_m:height} higher would have ended on the target.",
        {"change_agl_m": 14.0, "change_agl_sd_m": 4.0},
    ),
    Advice("base", None, None, None, "Turning onto base later.", "keep-out area runway"),
)
FINDINGS = (
    Finding("straight-final", "good", "The last 14 s before touchdown were straight.", {}),
    Finding("hand", "good", "The pattern was flown left hand, as the field asks.", {}),
    Finding(
        "wind-misread",
        "note",
        "The wind over the pattern was stronger than the plan assumed.",
        {},
        18.0,
        "wind",
    ),
    Finding("entry", "note", "The pattern was entered to the left of the planned place.", {}, 20.0, "entry"),
    Finding("off-wind", "caution", "The landing was 6 ± 9° off the wind.", {}),
)
