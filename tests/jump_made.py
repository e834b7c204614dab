"""A debrief of one jump put together from the parts that a rule is to see."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from pattern_cases import TRIM, track_of

from analyser.importers.recording import Recording
from analyser.jump import Debrief
from analyser.pattern import Pattern
from analyser.phases import Phase, Phases
from analyser.plan.jump import Plan
from analyser.settings import Settings, WindPoint
from analyser.track import Track
from analyser.wind.estimate import CanopyEstimate, WindEstimate
from analyser.wind.profile import WindProfile

NOTHING: tuple[tuple[float, float, float, float], ...] = ((0.0, 0.0, 0.0, 0.0), (1.0, 0.0, 0.0, 0.0))


def jump_made(
    settings: Settings | None = None,
    *,
    track: Track | None = None,
    canopy: tuple[int, int] | None = None,
    wind: WindProfile | None = None,
    plan: Pattern | None = None,
    plan_wind: WindProfile | None = None,
    **known: Any,
) -> Debrief:
    """What is given is known; the canopy flight is the fixes ``canopy``; a ``plan`` was drawn for ``plan_wind`` where there is one."""
    settings, track = settings or Settings(), track or track_of(NOTHING, after_s=0.0)
    if plan_wind is not None:
        settings = replace(settings, wind=points_of(plan_wind))
    drawn = plan and Plan(plan, plan_wind or WindProfile.from_points([(0.0, 0.0, 0.0)]), "plan", TRIM)
    found = Debrief(
        recording_of(track), track, flown_between(canopy), settings, plan=drawn, matched=drawn, **known
    )
    return found if wind is None else in_wind(found, wind)


def in_wind(jump: Debrief, wind: WindProfile) -> Debrief:
    """The same jump in another recovered wind."""
    none = np.zeros(0)
    return replace(jump, wind=WindEstimate(wind, CanopyEstimate(None, None, None, None), none, none))


def points_of(wind: WindProfile) -> tuple[WindPoint, ...]:
    """A wind as a plan gives it."""
    rows = [(float(h), wind.at(float(h))) for h in wind.agl_m]
    return tuple(WindPoint(h, at.speed, at.from_deg) for h, at in rows)


def recording_of(track: Track) -> Recording:
    """Any recording as long as the track: no rule looks at it."""
    zeros = np.zeros(len(track))
    return Recording(track.t_s, zeros, zeros, zeros, zeros, zeros)


def flown_between(canopy: tuple[int, int] | None) -> Phases:
    """A canopy flight of these fixes, and nothing else."""
    flights = () if canopy is None else (Phase("canopy", *canopy, 0.0, 0.0, 0.0, 0.0),)
    return Phases(flights, "jump", "", None, None, False)
