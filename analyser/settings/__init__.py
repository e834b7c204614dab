"""Site, Jumper, Canopy, PatternSetup, Method: what the user may set, in SI units, checked when made."""

from analyser.settings.model import (
    PRESETS,
    STANDARDS,
    AccuracyStandard,
    Air,
    Canopy,
    Jumper,
    KeepOut,
    LandingDirection,
    Method,
    PatternSetup,
    Settings,
    Site,
    SitePicture,
    Threshold,
    WindPoint,
    WindReport,
)

__all__ = [
    "PRESETS",
    "STANDARDS",
    "AccuracyStandard",
    "Air",
    "Canopy",
    "Jumper",
    "KeepOut",
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
