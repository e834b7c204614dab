"""What a finding is, and everything a rule may look at."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from analyser.compare import GateDifference
from analyser.flight import Trim
from analyser.holding import Stretch
from analyser.pattern import Pattern
from analyser.phases import Phases
from analyser.reach import Reach
from analyser.replay import BudgetRow, PlanCheck
from analyser.replay.sink import Brakes
from analyser.score import Landing
from analyser.settings import Settings
from analyser.track import Track
from analyser.wind.profile import WindProfile

__all__ = ["Finding", "FindingInputs", "Level", "Values", "clearly"]

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
class FindingInputs:
    """What the rules look at; everything but the settings may be missing, and a rule without its inputs stays silent.

    ``canopy`` the fixes of the canopy flight (start, stop); ``plan_wind`` the wind the plan was made for.
    """

    settings: Settings
    track: Track | None = None
    phases: Phases | None = None
    wind: WindProfile | None = None
    trim: Trim | None = None
    flown: Pattern | None = None
    plan: Pattern | None = None
    plan_wind: WindProfile | None = None
    winds_from: Literal["plan", "track"] | None = None
    comparison: tuple[GateDifference, ...] = ()
    landing: Landing | None = None
    budget: tuple[BudgetRow, ...] = ()
    plan_check: PlanCheck | None = None
    reach: Reach | None = None
    stretches: tuple[Stretch, ...] = ()
    brakes: Brakes | None = None
    canopy: tuple[int, int] | None = None


def clearly(value: float, sd: float | None, threshold: float, certainty: float) -> bool:
    """Whether a value lies beyond its threshold by ``certainty`` standard deviations."""
    return value - certainty * (sd or 0.0) > threshold
