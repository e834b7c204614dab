"""Families of whole made-up jumps that differ in kind, each with its truth, for trials of the analysis.

``from worlds.families import FAMILIES, make_jump``; ``make_jump(family, seed)`` gives a :class:`WorldJump`: a ``recording`` as an
importer would hand it over, and a ``truth`` (:class:`WorldTruth`). The same family and seed give the same jump. Families:

``ours``
    today's samples and ensemble of record (``analyser.synthetic``), put into the same form.
``glider``
    a point-mass glider with lift and drag as functions of brakes and risers, added mass, roll lag; its phugoid is the equations'.
``parafoil``
    six degrees of freedom with the published coefficients of a test vehicle; the receiver hangs under the wing and swings.
``kinematic``
    no forces: tables of speed and sink by brakes, slow openings, a wandering airspeed.

The last ones share air, pilots and receivers with each other and with nothing else: of the package they use only ``Recording``
and the series that turns metres into degrees. None of their numbers was chosen by what an estimator makes of them.
"""

from .jump import WorldGate, WorldJump, WorldPhase, WorldTruth
from .make import FAMILIES, OPEN_STYLES, make_jump

__all__ = ["FAMILIES", "OPEN_STYLES", "WorldGate", "WorldJump", "WorldPhase", "WorldTruth", "make_jump"]
