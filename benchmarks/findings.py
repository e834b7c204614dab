"""Findings against the truth of made-up jumps: how often does a rule speak where it is not true, and how often is it silent where it is?

Run: python benchmarks/findings.py [JUMPS] [FIRST_SEED]. Half of the jumps from the ensemble of record, half with a hard pattern.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Callable

import numpy as np
import tests_path  # noqa: F401
from worlds.hard_patterns import hard_jump

from analyser.debrief import Debrief, debrief_recording
from analyser.pattern import to_landing_frame
from analyser.settings import Method, Settings, Site
from analyser.synthetic.scenario import record_jump
from analyser.synthetic.truth import SyntheticJump, Truth

METHOD = Method()
FLARE_M = METHOD.flare_height.value


def _between(truth: Truth, low: float, high: float) -> np.ndarray:
    """Unwrapped true heading between two heights [deg]."""
    use = (truth.agl_m >= low) & (truth.agl_m <= high)
    return np.degrees(np.unwrap(np.radians(truth.heading_deg[use])))


def low_turn(truth: Truth) -> bool:
    """The heading changes by more than the threshold below 100 ft."""
    heading = _between(truth, FLARE_M, METHOD.low_turn.value)
    return float(np.ptp(heading)) > METHOD.low_turn_change.value


def full_turn(truth: Truth) -> bool:
    """One turn below 1,000 ft that does not stop for two seconds and adds up to a full one."""
    heading = _between(truth, FLARE_M, METHOD.no_spiral_below.value)
    rate = np.gradient(heading, 0.1)
    for way in (1.0, -1.0):
        total = pause = 0.0
        for value in way * rate:
            pause = pause + 0.1 if value < 6.0 else 0.0
            total = total + value * 0.1 if pause < 2.0 else 0.0
            if total >= METHOD.full_turn.value:
                return True
    return False


def _final(truth: Truth) -> tuple[float, float] | None:
    """Heading change of the turn onto final and seconds from its end to the landing."""
    gate = truth.gate("final")
    if gate is None:
        return None
    t = truth.t_utc_s
    end = float(np.interp(-gate.end_agl_m, -truth.agl_m, t))
    heading = np.degrees(np.unwrap(np.radians(truth.heading_deg)))
    change = float(np.interp(end, t, heading) - np.interp(gate.utc_s, t, heading))
    return change, float(t[-1] - end)


def _off_wind(truth: Truth) -> float | None:
    """Air heading before the flare against straight into the wind at 30 m [deg]; None in light wind."""
    east, north = (float(w) for w in truth.wind(30.0))
    if np.hypot(east, north) <= METHOD.light_wind.value:
        return None
    heading = float(np.median(_between(truth, FLARE_M, 25.0)))
    into = np.degrees(np.arctan2(-east, -north))
    return abs(float((heading - into + 180.0) % 360.0 - 180.0))


def _past(truth: Truth) -> bool:
    gate = truth.gate("final")
    if gate is None or truth.landing_deg is None:
        return False
    return to_landing_frame(gate.east_m, gate.north_m, truth.landing_deg)[0] > 0.0


def _wind_share(truth: Truth) -> float:
    top = truth.gates[0].agl_m if truth.gates else 300.0
    heights = np.linspace(0.0, top, 13)
    return float(np.max(np.hypot(*truth.wind(heights)) / truth.airspeed_mps))


RULES: dict[str, Callable[[Truth], bool | None]] = {
    "low_turn": low_turn,
    "full_turn_low": full_turn,
    "final_turn_below_minimum": lambda t: (g := t.gate("final")) is not None and g.agl_m < 60.96,
    "large_last_turn": lambda t: (f := _final(t)) is not None and abs(f[0]) > METHOD.last_turn.value,
    "short_final": lambda t: (f := _final(t)) is not None and f[1] < METHOD.straight_before_touchdown.value,
    "straight_final": lambda t: (
        (f := _final(t)) is not None and f[1] > METHOD.straight_before_touchdown.value
    ),
    "into_wind": lambda t: None if (o := _off_wind(t)) is None else o <= METHOD.into_wind.value,
    "landed_across_wind": lambda t: (o := _off_wind(t)) is not None and METHOD.into_wind.value < o <= 135.0,
    "landed_down_wind": lambda t: (o := _off_wind(t)) is not None and o > 135.0,
    "past_target": _past,
    "wind_near_airspeed": lambda t: _wind_share(t) >= METHOD.strong_wind_ratio.value,
}


def debriefed(jump: SyntheticJump) -> Debrief:
    """The debrief with the target and nothing else."""
    target = (jump.truth.target_lat, jump.truth.target_lon)
    return debrief_recording(jump.recording, Settings(site=Site(target=target)))


def main(jumps: int = 80, first: int = 140_000) -> None:
    """Print the table."""
    counts: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0, 0])
    odd: dict[str, list[str]] = defaultdict(list)
    for i in range(jumps):
        jump = record_jump(first + i) if i % 2 else hard_jump(first + i)
        said = {f.code for f in debriefed(jump).findings}
        for code, rule in RULES.items():
            true = rule(jump.truth)
            if true is None:
                continue
            counts[code][2 * (code in said) + true] += 1
            if code in said and not true:
                odd[code].append(f"{first + i} {' '.join(jump.truth.errors)}")
    print(f"{'finding':26s} true  said  said and true  said, not true")
    for code, (_, missed, false, hit) in counts.items():
        print(
            f"{code:26s} {missed + hit:4d}  {hit + false:4d}  {hit:13d}  {false:14d}   {'; '.join(odd[code][:4])}"
        )


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:3]))
