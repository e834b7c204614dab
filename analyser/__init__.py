"""crabline: the debrief of a parachute landing, from its GPS track, on the ground.

The public names load when they are first used; importing the package itself loads nothing heavy. They win over the
submodules of the same word (``debrief``, ``plan``, ``season``), which ``from analyser.debrief import …`` still reaches.
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

from analyser._version import __version__

if TYPE_CHECKING:
    from analyser.api import *

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
    "__version__",
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


class _Package(ModuleType):
    def __setattr__(self, name: str, value: Any) -> None:
        """Python hangs every loaded submodule on its package; those named as a public name would hide it."""
        if not (isinstance(value, ModuleType) and name in __all__):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module("analyser.api"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
