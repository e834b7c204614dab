"""Today's family: the ensemble of record of ``analyser.synthetic`` in the form of a :class:`WorldJump`."""

from __future__ import annotations

import math
from dataclasses import fields

import numpy as np

from analyser.synthetic.scenario import record_jump

from ..ensembles import ambiguous_jump
from .jump import WorldGate, WorldJump, WorldPhase, WorldTruth

__all__ = ["our_jump"]


def our_jump(seed: int, style: str | None = None) -> WorldJump:
    """The jump of that seed of the ensemble of record; with a ``style`` of few headings, of the ensemble that leaves the wind open."""
    jump = record_jump(seed) if style is None else ambiguous_jump(seed, style)
    t = jump.truth
    final = next((g for g in reversed(t.gates)), None)
    wind30 = t.wind(30.0)
    upwind = math.degrees(math.atan2(-float(wind30[0]), -float(wind30[1])))
    off = math.nan if final is None else math.remainder(final.heading_deg - upwind, 360.0)
    last = t.agl_m < (final.end_agl_m if final else 0.0)
    braked = t.brake[last & (t.agl_m > 8.0)]
    held = np.flatnonzero(t.brake[:200] < 0.05)
    names = [f.name for f in fields(WorldTruth) if hasattr(t, f.name) and f.name not in ("phases", "gates")]
    truth = WorldTruth(
        family="ours",
        **{name: getattr(t, name) for name in names},
        gust_up=np.zeros_like(t.agl_m),
        riser=np.zeros_like(t.agl_m),
        phases=tuple(WorldPhase(*p) for p in t.phases),
        gates=tuple(WorldGate(*g) for g in t.gates),
        settled_utc_s=float(t.t_utc_s[held[0]]) if held.size else None,
        final_brake=float(np.mean(braked)) if braked.size else 0.0,
        off_wind_deg=off,
        latency_s=jump.setup.receiver.lag_s,
        sky="power law",
        pilot="",
    )
    return WorldJump(jump.recording, truth)
