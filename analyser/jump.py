"""Debrief: what is known of one jump. It grows stage by stage and is never changed in place; Finding: one sentence about it."""

from __future__ import annotations

import math
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
from analyser.replay.choose_advice import Choice
from analyser.replay.sink import Brakes
from analyser.score import Landing
from analyser.sentences import fill
from analyser.settings import Settings
from analyser.track import Track
from analyser.wind.estimate import WindEstimate
from analyser.wind.layer_means import LayerMean
from analyser.wind.profile import WindProfile

__all__ = ["Debrief", "Finding", "Level", "Question", "SharedWind", "Values"]

Level = Literal["good", "note", "caution"]
Values = dict[str, float | str | None]


@dataclass(frozen=True, slots=True)
class Question:
    """Something odd about the input: a stable ``code``, a question as a template over its evidence (SI numbers)."""

    code: str
    text: str
    evidence: Values = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class SharedWind:
    """That the wind is one of a whole load: of how many ``jumpers``; how many ``pairs`` of their own winds were compared and how many agree
    ``within`` the 95 % error; how much the wind may change in twenty minutes [m/s]; what the errors were ``widened`` by."""

    jumpers: int
    pairs: int
    within: int
    change_mps: float
    widened: float


@dataclass(frozen=True, slots=True)
class Finding:
    """One sentence about a jump; prints as the sentence, in metric units.

    Parameters
    ----------
    code : str
        Stable name.
    level : str
        "good", "note" or "caution".
    text : str
        A template over ``evidence`` (see :func:`analyser.sentences.fill`); of ``Jump.findings``, the sentence itself.
    evidence : dict
        Its numbers in SI units with standard deviations.
    metres : float
        What it moved the landing by [m]; ranks the causes of the miss.
    group : str
        What belongs together.

    Examples
    --------
    >>> print(Finding("on_target", "good", "Landed {miss_m:distance} from the target.", {"miss_m": 3.0, "miss_sd_m": 1.0}))
    Landed 3.0 ± 1.0 m from the target.
    """

    code: str
    level: Level
    text: str
    evidence: Values = field(default_factory=dict)
    metres: float = 0.0
    group: str = ""

    def __str__(self) -> str:
        """The sentence, in metric units."""
        return fill(self.text, self.evidence)


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Debrief:
    """Everything known about one jump, in SI units. It grows stage by stage and is never changed in place.

    Parameters
    ----------
    recording : Recording
        The fixes as read.
    track : Track
        Local metres from the target where one was given (``has_target``), else from the touchdown.
    phases : Phases
        Climb, free fall, opening, canopy, ground.
    settings : Settings
        What was given.
    jump, jumps : int
        Which jump of the recording, from 1, and how many it holds; 0 where it holds none.
    has_target : bool
        Whether the metres count from a target.
    wind : WindEstimate, optional
        ``profile`` and the ``canopy``'s measured trim.
    flown : Pattern, optional
        Legs and gates as flown.
    landing : Landing, optional
        Touchdown, offset from the target, standards.
    trim : Trim, optional
        The trim the wing flew with: as measured or as given, whichever is better known.
    plan, matched, redrawn : Plan, optional
        The plan for the assumed wind, or for the recovered one where none was assumed; the same for the hand that was flown, which
        the flight is set against; the same for an assumed wind once more, for the wind that was there.
    comparison : tuple of GateDifference
        Flown minus planned.
    reach : Reach, optional
        What was within reach in full flight.
    holding : tuple of Stretch
        Named stretches between opening and pattern entry.
    brakes : Brakes, optional
        What the sink on final says about brakes.
    budget : tuple of BudgetRow
        Causes of the miss; they add up to the landing.
    plan_outcome : PlanCheck, optional
        What the plan as made would have done in the wind that was found.
    advice : tuple of Advice
        The first is the one thing to change.
    choices : tuple of Choice
        What the advice was chosen from, so that a logbook can weigh it again.
    into_wind_error_deg, into_wind_error_sd_deg : float, optional
        Heading on final minus straight into the wind, right positive [deg].
    layer_mean : LayerMean, optional
        Mean wind from the ground to 2,000 ft.
    findings : tuple of Finding
        What can be said.
    reasons : dict
        Why something is lacking, by its name.
    shared : SharedWind, optional
        Where ``wind`` is that of the whole load.

    Examples
    --------
    >>> from analyser.debrief import debrief
    >>> jump = debrief("sample_tracks/steady_breeze.fit")
    >>> jump.landing.offset_m is None, jump.reasons["target"]
    (True, 'no target given: without one, how far from it you landed is not known')
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
    choices: tuple[Choice, ...] = ()
    into_wind_error_deg: float | None = None
    into_wind_error_sd_deg: float | None = None
    layer_mean: LayerMean | None = None
    findings: tuple[Finding, ...] = ()
    questions: tuple[Question, ...] = ()
    reasons: dict[str, str] = field(default_factory=dict)
    shared: SharedWind | None = None

    def __repr__(self) -> str:
        """One line of at most 200 characters."""
        name = self.recording.file or "a recording"
        if len(name) > 40:
            name = f"{name[:20]}…{name[-19:]}"
        told = self.phases.reason if self.phases.kind == "no jump" else self._in_short()
        return f"<Debrief of {name}, jump {self.jump} of {self.jumps}: {told[:90]}>"

    def _in_short(self) -> str:
        flown, spot = self.flown, self.landing
        form = f"{flown.hand}-hand {flown.kind}" if flown and flown.hand else "no pattern named"
        if spot is None or spot.along_m is None or spot.across_m is None:
            return f"{form}, {'no landing seen' if spot is None else 'no target'}"
        along = f"{abs(spot.along_m):.0f} m {'long' if spot.along_m > 0.0 else 'short'}"
        across = f"{abs(spot.across_m):.0f} m {'right' if spot.across_m > 0.0 else 'left'}"
        return f"{form}, landed {along} and {across} of the target"

    def knowing(self, **found: Any) -> Debrief:
        """The same jump with more known: fields by their names."""
        return replace(self, **found)

    def lacking(self, what: str, why: str) -> Debrief:
        """The same jump without something, and the reason."""
        return replace(self, reasons={**self.reasons, what: why})

    @property
    def air_altitude_m(self) -> float:
        """The height in the standard atmosphere [m above sea level] whose air the landing area had: its own, where nothing is told of the day."""
        ground = self.track.ground_elevation_m
        told = self.settings.density_altitude_m(ground if math.isfinite(ground) else 0.0)
        return ground if told is None else told

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
    def main_cause(self) -> Finding | None:
        """The largest cause of the miss that lies beyond its error; None where there is none. Its advice is ``advice[0]``."""
        return next((f for f in self.findings if f.metres > 0.0), None)

    @property
    def canopy_fixes(self) -> tuple[int, int] | None:
        """The fixes (start, stop) of the canopy flight, up to the touchdown where there is one; None without a canopy flight."""
        canopy = self.phases.canopy()
        if canopy is None:
            return None
        landed = self.phases.landing_index
        return canopy.start, canopy.stop if landed is None else landed + 1
