"""Debrief: what is known of one jump. It grows stage by stage and is never changed in place; Finding: one sentence about it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, Literal

from analyser.compare import GateDifference
from analyser.flight import Trim
from analyser.holding import Stretch
from analyser.importers.recording import Recording
from analyser.pattern import Pattern
from analyser.phases import Phases
from analyser.plan.jump import Plan
from analyser.reach import Reach
from analyser.replay import Advice, BudgetRow, PlanCheck
from analyser.replay.sink import Brakes
from analyser.score import Landing
from analyser.settings import Settings
from analyser.track import Track
from analyser.wind.estimate import WindEstimate
from analyser.wind.layers import LayerMean
from analyser.wind.profile import WindProfile

__all__ = ["Debrief", "Finding", "Level", "Values"]

Level = Literal["good", "note", "caution"]
Values = dict[str, float | str | None]


@dataclass(frozen=True, slots=True)
class Finding:
    """A stable ``code``, a level, a neutral sentence, and its evidence (SI numbers with sds).

    ``text`` is a template over ``evidence`` (see :func:`analyser.sentences.fill`), to be shown through
    :func:`analyser.findings.render`; ``metres`` ranks the causes of the miss, ``group`` says what belongs together.
    """

    code: str
    level: Level
    text: str
    evidence: Values = field(default_factory=dict)
    metres: float = 0.0
    group: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Debrief:
    """Everything known about one jump, in SI units.

    None or empty where a stage had nothing to say; ``reasons`` says why, by the name of what is lacking. The frame's origin
    is the target where one was given (``has_target``), else the landing point. ``jump`` of ``jumps`` in the recording, from 1;
    0 where it holds none. ``plan`` was drawn for the assumed wind, or for the recovered one where none was assumed; ``matched``
    is the same for the hand that was flown: what the flight is set against.
    """

    recording: Recording
    track: Track
    phases: Phases
    settings: Settings = field(default_factory=Settings)
    jump: int = 1
    jumps: int = 1
    has_target: bool = False
    wind: WindEstimate | None = None
    flown: Pattern | None = None
    landing: Landing | None = None
    trim: Trim | None = None
    plan: Plan | None = None
    redrawn: Plan | None = None
    matched: Plan | None = None
    comparison: tuple[GateDifference, ...] = ()
    reach: Reach | None = None
    holding: tuple[Stretch, ...] = ()
    brakes: Brakes | None = None
    budget: tuple[BudgetRow, ...] = ()
    plan_outcome: PlanCheck | None = None
    advice: tuple[Advice, ...] = ()
    into_wind_error_deg: float | None = None
    into_wind_error_sd_deg: float | None = None
    layer_mean: LayerMean | None = None
    findings: tuple[Finding, ...] = ()
    reasons: dict[str, str] = field(default_factory=dict)

    def knowing(self, **found: Any) -> Debrief:
        """The same jump with more known: fields by their names."""
        return replace(self, **found)

    def lacking(self, what: str, why: str) -> Debrief:
        """The same jump without something, and the reason."""
        return replace(self, reasons={**self.reasons, what: why})

    @property
    def profile(self) -> WindProfile | None:
        """The recovered wind by height; None where it is undetermined at every height."""
        if self.wind is None or all(s == "undetermined" for s in self.wind.profile.status):
            return None
        return self.wind.profile

    @property
    def planned(self) -> Pattern | None:
        """The planned pattern of the hand that was flown."""
        return self.matched.pattern if self.matched else None

    @property
    def canopy_fixes(self) -> tuple[int, int] | None:
        """The fixes (start, stop) of the canopy flight, up to the touchdown where there is one; None without a canopy flight."""
        canopy = self.phases.canopy()
        if canopy is None:
            return None
        landed = self.phases.landing_index
        return canopy.start, canopy.stop if landed is None else landed + 1
