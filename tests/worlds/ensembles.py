"""Ensembles beside the one of record: harsher air and receivers, and jumps whose track leaves the wind open."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from analyser.synthetic.air import Air, VerticalCell
from analyser.synthetic.holding import AMBIGUOUS_STYLES
from analyser.synthetic.scenario import build
from analyser.synthetic.setup import Setup, draw_setup, into_wind_deg
from analyser.synthetic.truth import SyntheticJump

__all__ = ["AMBIGUOUS_KINDS", "ambiguous_jump", "harsh_jump"]

AMBIGUOUS_KINDS = ("one line", *AMBIGUOUS_STYLES)


def harsh_jump(seed: int, **overrides: Any) -> SyntheticJump:
    """What the model of an estimator does not know: air that rises and sinks by up to 1 m/s for 10 to 40 s, a wind that changes
    by 2 m/s during the flight (a new direction or more of it), a built-in turn, a receiver that lags by a second."""
    rng = np.random.default_rng(np.random.SeedSequence([seed, 31]))
    setup = draw_setup(seed)
    side = 1.0 if rng.random() < 0.5 else -1.0
    changed = replace(
        setup,
        air=_restless(rng, setup.air),
        canopy=replace(setup.canopy, built_in_turn_dps=side * float(rng.uniform(1.0, 4.0))),
        receiver=replace(setup.receiver, lag_s=1.0, name="harsh"),
        errors=("harsh",),
    )
    return build(replace(changed, **overrides))


def _restless(rng: np.random.Generator, air: Air) -> Air:
    cells, t = [], float(rng.uniform(5.0, 40.0))
    while t < 600.0:
        seconds = float(rng.uniform(10.0, 40.0))
        cells.append(VerticalCell(t, seconds, float(rng.uniform(-1.0, 1.0))))
        t += seconds + float(rng.uniform(5.0, 50.0))
    angle = float(rng.uniform(0.0, 2.0 * math.pi))
    start = float(rng.uniform(20.0, 80.0))
    return replace(
        air,
        cells=tuple(cells),
        change_east=2.0 * math.sin(angle),
        change_north=2.0 * math.cos(angle),
        change_start_s=start,
        change_end_s=start + float(rng.uniform(60.0, 180.0)),
    )


def ambiguous_jump(seed: int, kind: str | None = None, **overrides: Any) -> SyntheticJump:
    """A jump whose headings leave the wind open at some or all heights.

    "one line": no turn from opening to landing; "straight on": one heading down to the pattern; "there and back": two opposite
    headings (a mirror solution) down to the pattern; "two headings": a few degrees either side of one heading, never more.
    No control check. ``kind`` None takes them in turn.
    """
    kind = AMBIGUOUS_KINDS[seed % len(AMBIGUOUS_KINDS)] if kind is None else kind
    setup = draw_setup(seed)
    rng = np.random.default_rng(np.random.SeedSequence([seed, 37]))
    heading = (into_wind_deg(setup.air, 500.0) + float(rng.choice([0.0, 90.0, 180.0, 35.0]))) % 360.0
    setup = replace(setup, check=False, open_heading_deg=heading, errors=(f"ambiguous: {kind}",))
    if kind == "one line":
        return build(
            replace(_one_line(setup, heading), **overrides),
            lambda legs: tuple(replace(leg, counts=False, heading_deg=heading) for leg in legs),
        )
    return build(replace(setup, style=kind, **overrides))


def _one_line(setup: Setup, heading_deg: float) -> Setup:
    return replace(
        setup,
        style="straight on",
        legs=("final",),
        landing_deg=heading_deg,
        approach_deg=heading_deg,
        planned_m=(90.0,),
        flown_m=(90.0,),
        heading_errors_deg=(0.0,),
    )
