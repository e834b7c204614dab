"""Counts: what a run over some folders met and did."""

from __future__ import annotations

from dataclasses import dataclass, field

__all__ = ["Counts"]


@dataclass(slots=True)
class Counts:
    """What a run met and did: tracks seen, debriefed now, failed now, failed before and left at that, unchanged, further
    copies, unreadable, missing.
    """

    tracks: int = 0
    debriefed: int = 0
    failed: int = 0
    failed_before: int = 0
    unchanged: int = 0
    copies: int = 0
    unreadable: int = 0
    missing: int = 0
    warnings: list[str] = field(default_factory=list)
