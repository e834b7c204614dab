"""The public names, for notebooks and scripts."""

from __future__ import annotations

from analyser.batch.run import run_season
from analyser.debrief import Debrief, debrief, debrief_all
from analyser.errors import AnalyserError
from analyser.importers.read import read
from analyser.legs import find_legs
from analyser.logbook.export import load_frame
from analyser.phases import find_phases
from analyser.plan import plan_pattern
from analyser.report.document import to_document
from analyser.report.pictures.figures import figure
from analyser.report.values import to_json
from analyser.settings import Canopy, PatternSetup, Settings, Site
from analyser.settings.toml import read_settings
from analyser.synthetic.scenario import record_jump
from analyser.track import build_track
from analyser.wind.circle import fit_circle
from analyser.wind.estimate import estimate_wind_arrays as estimate_wind
from analyser.wind.profile import WindProfile

__all__ = [
    "AnalyserError",
    "Canopy",
    "Debrief",
    "PatternSetup",
    "Settings",
    "Site",
    "WindProfile",
    "build_track",
    "debrief",
    "debrief_all",
    "estimate_wind",
    "figure",
    "find_legs",
    "find_phases",
    "fit_circle",
    "load_frame",
    "plan_pattern",
    "read",
    "read_settings",
    "record_jump",
    "run_season",
    "to_document",
    "to_json",
]
