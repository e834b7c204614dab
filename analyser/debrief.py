"""The composer: debrief(path, settings) -> Debrief; the only module that knows the order of the stages."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from analyser.compare import GateDifference
from analyser.findings import Finding
from analyser.importers.recording import Recording
from analyser.pattern import Pattern
from analyser.phases import Phases
from analyser.replay import Advice, BudgetRow
from analyser.score import Landing
from analyser.settings import Settings
from analyser.track import Track
from analyser.wind.estimate import WindEstimate
from analyser.wind.profile import WindProfile

__all__ = ["Debrief", "Plan"]


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """The planned pattern (east/north from the target), the wind it was made for and where that came from."""

    pattern: Pattern
    wind: WindProfile
    winds_from: Literal["plan", "track"]


@dataclass(frozen=True, slots=True, eq=False)
class Debrief:
    """Everything known about one jump, in SI units. None where a stage had nothing to say; ``reasons`` says why (by stage name).

    The frame's origin is the target where one was given (``has_target``), else the landing point.
    """

    recording: Recording
    jump: int
    jumps: int
    settings: Settings
    track: Track
    phases: Phases
    wind: WindEstimate | None
    flown: Pattern | None
    plan: Plan | None
    redrawn: Plan | None
    comparison: tuple[GateDifference, ...]
    landing: Landing | None
    budget: tuple[BudgetRow, ...]
    advice: tuple[Advice, ...]
    findings: tuple[Finding, ...]
    reasons: dict[str, str]
    has_target: bool
    into_wind_error_deg: float | None = None
    into_wind_error_sd_deg: float | None = None
