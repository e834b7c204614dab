"""crabline: the debrief of a parachute landing, from its GPS track, on the ground.

The public names are in :mod:`analyser.api`; importing the package itself loads nothing heavy.
"""

from analyser._version import __version__

__all__ = ["__version__"]
