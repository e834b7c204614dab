"""find_phases: cut one jump's track into the phases of its flight; split_jumps: cut a day's recording into jumps."""

from analyser.phases.find import (
    PHASE_NAMES,
    Phase,
    PhaseName,
    Phases,
    find_phases,
    split_jumps,
)

__all__ = [
    "PHASE_NAMES",
    "Phase",
    "PhaseName",
    "Phases",
    "find_phases",
    "split_jumps",
]
