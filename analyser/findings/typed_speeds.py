"""Questions about the canopy's typed speeds, asked before the winds are looked for: they hold a typed speed against the track's own."""

from __future__ import annotations

import numpy as np

from analyser.atmosphere import true_airspeed_factor
from analyser.findings.model import Values
from analyser.findings.thresholds import FINDINGS
from analyser.jump import Debrief, Question
from analyser.units import KNOT_MPS

__all__ = ["typed_airspeed", "typed_sink"]


def typed_airspeed(x: Debrief) -> Question | None:
    """The question about a typed airspeed that the track contradicts; None where it fits or the track does not show one.

    Parameters
    ----------
    x : Debrief
        With track and phases.

    Returns
    -------
    Question or None
    """
    typed, found = x.settings.canopy.airspeed_mps, _seen_airspeed(x)
    if typed is None or found is None or abs(typed / found - 1.0) <= FINDINGS.contradicted:
        return None
    values: Values = {"typed_mps": typed, "seen_mps": found}
    text = (
        "The plan gives the canopy {typed_mps:speed~} of airspeed; the track shows about {seen_mps:speed~}."
    )
    return Question("airspeed", text + _slip(typed, found), values)


def typed_sink(x: Debrief) -> Question | None:
    """The question about a typed sink in another unit than m/s; None where it fits or the track does not show one.

    Brakes, turns and rising air move the sink of a whole flight, so only a slip of the unit is asked about.

    Parameters
    ----------
    x : Debrief
        With track and phases.

    Returns
    -------
    Question or None
    """
    typed, found = x.settings.canopy.sink_mps, _seen_sink(x)
    if typed is None or found is None or typed / found - 1.0 <= FINDINGS.sink_contradicted:
        return None
    values: Values = {"typed_mps": typed, "seen_mps": found}
    text = "The plan gives the canopy {typed_mps:speed~} of sink; the track shows about {seen_mps:speed~}."
    return Question("sink", text + _slip(typed, found), values)


def _slip(typed: float, found: float) -> str:
    knots = abs(typed * KNOT_MPS / found - 1.0) < FINDINGS.unit_within
    return " Were knots typed as m/s?" if knots else " Which is right?"


def _seen_sink(x: Debrief) -> float | None:
    """Median sink under canopy at sea-level density [m/s]; None without fixes enough."""
    canopy = x.phases.canopy()
    if canopy is None:
        return None
    part = slice(canopy.start, canopy.stop)
    up, agl = x.track.v_up[part], x.track.agl_m[part]
    good = np.isfinite(up) & np.isfinite(agl)
    if np.count_nonzero(good) < FINDINGS.least_fixes:
        return None
    sink = float(np.median(-up[good] / true_airspeed_factor(x.air_altitude_m + agl[good])))
    return sink if sink > 0.5 else None


def _seen_airspeed(x: Debrief) -> float | None:
    """Sea-level airspeed as the radius of the circle through the ground velocities under canopy, each brought to sea-level
    density (Kåsa's fit) [m/s]; None where the courses span too little of it."""
    canopy = x.phases.canopy()
    if canopy is None:
        return None
    part = slice(canopy.start, canopy.stop)
    east, north, agl = x.track.v_east[part], x.track.v_north[part], x.track.agl_m[part]
    good = np.isfinite(east) & np.isfinite(north) & np.isfinite(agl)
    if np.count_nonzero(good) < FINDINGS.least_fixes:
        return None
    thin = true_airspeed_factor(x.air_altitude_m + agl[good])
    east, north = east[good] / thin, north[good] / thin
    rows = np.stack([2.0 * east, 2.0 * north, np.ones_like(east)], axis=1)
    a, b, c = np.linalg.lstsq(rows, east**2 + north**2, rcond=None)[0]
    around = np.sort(np.degrees(np.arctan2(east - a, north - b)))
    gap = float(np.max(np.diff(np.append(around, around[0] + 360.0))))
    radius = float(np.sqrt(max(c + a * a + b * b, 0.0)))
    return radius if 360.0 - gap > FINDINGS.headings_deg and radius > 3.0 else None
