"""The public names, for notebooks and scripts; ``import analyser as crabline`` gives the same ones."""

from __future__ import annotations

from analyser.api.jumps import Jump, debrief, debrief_all
from analyser.api.plans import PlannedPattern, plan
from analyser.api.schemas import schema
from analyser.api.seasons import SeasonRun, season
from analyser.api.winds import estimate_wind
from analyser.errors import AnalyserError
from analyser.importers.read import read
from analyser.jump import Debrief, Finding
from analyser.legs import find_legs
from analyser.logbook.export import load_frame
from analyser.phases import find_phases
from analyser.plan import plan_pattern
from analyser.settings import Canopy, PatternSetup, Settings, Site
from analyser.settings.toml import read_settings
from analyser.synthetic.scenario import record_jump
from analyser.track import build_track
from analyser.wind.circle import fit_circle
from analyser.wind.profile import WindProfile

__all__ = [
    "AnalyserError",
    "Canopy",
    "Debrief",
    "Finding",
    "Jump",
    "PatternSetup",
    "PlannedPattern",
    "SeasonRun",
    "Settings",
    "Site",
    "WindProfile",
    "build_track",
    "debrief",
    "debrief_all",
    "estimate_wind",
    "find_legs",
    "find_phases",
    "fit_circle",
    "load_frame",
    "plan",
    "plan_pattern",
    "read",
    "read_settings",
    "record_jump",
    "schema",
    "season",
]
