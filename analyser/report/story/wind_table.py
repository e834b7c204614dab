"""Which heights stand in every table of winds."""

from __future__ import annotations

from analyser.wind.profile import WindProfile

__all__ = ["wind_heights"]

MOST_ROWS = 14
STEPS_M = (50.0, 100.0, 200.0, 500.0, 1000.0)


def wind_heights(*profiles: WindProfile) -> list[float]:
    """The heights of every table of winds [m]: what all profiles reach, in the finest round step that keeps the table short."""
    top = min((float(p.agl_m[-1]) for p in profiles), default=-1.0)
    step = next((s for s in STEPS_M if top / s < MOST_ROWS), STEPS_M[-1])
    return [k * step for k in range(int(top // step) + 1)] if top >= 0.0 else []
