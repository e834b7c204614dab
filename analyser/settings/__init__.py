"""Site, Jumper, Canopy, PatternSetup, Method, Settings: what the user may set, in SI units, checked when made."""

from analyser.settings.method import Method
from analyser.settings.model import (
    PRESETS,
    Air,
    Canopy,
    Jumper,
    KeepOut,
    LandingArea,
    LandingDirection,
    PatternSetup,
    Settings,
    Site,
    SitePicture,
    WindPoint,
    WindReport,
)
from analyser.settings.rule_thresholds import Threshold
from analyser.settings.standards import STANDARDS, AccuracyStandard

__all__ = [
    "PRESETS",
    "STANDARDS",
    "AccuracyStandard",
    "Air",
    "Canopy",
    "Jumper",
    "KeepOut",
    "LandingArea",
    "LandingDirection",
    "Method",
    "PatternSetup",
    "Settings",
    "Site",
    "SitePicture",
    "Threshold",
    "WindPoint",
    "WindReport",
]
