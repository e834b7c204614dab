"""Recordings that begin late or end early: the jump as cut, with its truth cut likewise."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from analyser.synthetic.recorder import recording_of
from analyser.synthetic.truth import SyntheticJump, Truth

__all__ = ["cut"]


def cut(jump: SyntheticJump, *, start_utc_s: float = -math.inf, end_utc_s: float = math.inf) -> SyntheticJump:
    """The part of a jump between two moments; opening or landing outside become None, gates outside are left out."""
    kept = (jump.fixes.true_s >= start_utc_s) & (jump.fixes.true_s < end_utc_s)
    fixes = jump.fixes.taken(np.flatnonzero(kept), jump.fixes.faulty[kept])
    return replace(
        jump,
        recording=recording_of(fixes, jump.name),
        fixes=fixes,
        truth=_cut_truth(jump.truth, start_utc_s, end_utc_s),
    )


def _cut_truth(truth: Truth, start: float, end: float) -> Truth:
    inside = (truth.t_utc_s >= start) & (truth.t_utc_s < end)
    flight = {
        name: getattr(truth, name)[inside]
        for name in (
            "t_utc_s", "east_m", "north_m", "agl_m", "air_east", "air_north", "gust_east", "gust_north", "heading_deg",
            "bank_deg", "brake",
        )
    }  # fmt: skip
    phases = tuple(
        p._replace(start_utc_s=max(p.start_utc_s, start), end_utc_s=min(p.end_utc_s, end))
        for p in truth.phases
        if p.end_utc_s > start and p.start_utc_s < end
    )
    landed = truth.landing_utc_s is not None and truth.landing_utc_s < end
    opened = truth.opening_utc_s is not None and truth.opening_utc_s >= start
    return replace(
        truth,
        **flight,
        phases=phases,
        gates=tuple(g for g in truth.gates if start <= g.utc_s < end),
        opening_utc_s=truth.opening_utc_s if opened else None,
        landing_utc_s=truth.landing_utc_s if landed else None,
        landing_lat=truth.landing_lat if landed else None,
        landing_lon=truth.landing_lon if landed else None,
        landing_east_m=truth.landing_east_m if landed else None,
        landing_north_m=truth.landing_north_m if landed else None,
    )
