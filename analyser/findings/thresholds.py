"""What findings and questions rest on beyond the rules of ``settings.Method``."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from analyser.thresholds import PRACTICE, number
from analyser.units import FOOT_M

__all__ = ["FINDINGS", "FindingThresholds"]


@dataclass(frozen=True, init=False, repr=False, eq=False)
class FindingThresholds:
    """The numbers of :mod:`analyser.findings`."""

    most_causes: int = number(3, "1", "causes that are named")
    least_share: float = number(0.12, "1", "of the miss: three causes of less leave most of it unsaid")
    minor_axis: float = number(
        0.2, "1", "an axis with a smaller share of the other one's metres is not worth its words"
    )
    most_good: int = number(3, "1", "things done well that are named")
    change_sd_deg: float = number(5.0, "deg", "error of a change of heading, each end")
    surface_m: float = number(30.0, "m", "the wind of the landing is read at this height")
    straight_sd_s: float = number(1.5, "s", "error of the time flown straight before the touchdown")
    slowed: float = number(0.05, "1", "of the sink of full flight: less missing is no brakes")
    track_sd_deg: float = number(2.0, "deg", "error of a leg's track, beside that of the landing direction")
    far_m: float = number(1000.0, "m", "a landing farther from the target was at another place")
    suspect_m: float = number(150.0, "m", "from here on the target may be misplaced")
    block_m: float = number(30.0, "m", "gates that all lie off by the same vector, to within this")
    block_share: float = number(0.35, "1", "or to within this share of its length")
    swapped_m: float = number(
        5000.0, "m", "the landing lies within this of the target with its numbers swapped"
    )
    reversed_deg: float = number(
        150.0, "deg", "a landing so far off the planned direction was flown the other way"
    )
    across_deg: float = number(60.0, "deg", "a landing farther off the planned direction is asked about")
    steady_mps: float = number(2.0, "m/s", "in less wind its direction is no sign of a slip")
    sink_contradicted: float = number(
        0.6, "1", "a typed sink that is larger by more is asked about: brakes, turns and air move less"
    )
    contradicted: float = number(0.3, "1", "a typed airspeed that is off by a larger share is asked about")
    unit_within: float = number(0.2, "1", "a ratio so near that of two units is a wrong unit")
    headings_deg: float = number(200.0, "deg", "circle of headings that must be seen to measure an airspeed")
    least_fixes: int = number(20, "1", "fixes below which none is measured")
    high_gate_m: float = number(500.0, "m", "a planned gate above it was typed in the wrong unit", PRACTICE)
    low_final_m: float = number(100 * FOOT_M, "m", "so was a planned final below it", PRACTICE)
    lost_above_m: float = number(
        150.0,
        "m",
        "an entry lost less far above its height is what its own metres say: half a minute of flight",
    )
    sure_pattern: float = number(0.8, "1", "confidence of the legs from which the plan's heights are doubted")


FINDINGS: Final = FindingThresholds()
