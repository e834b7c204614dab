"""Counts as words: 8 of 12 jumps, and on which days."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Final

from analyser.report.story.blocks import Sentence, distance
from analyser.season.facts import WELL_RING_M, Count

__all__ = ["counted", "days_of", "of_text", "share_of", "under"]

MOST_DAYS: Final = 6


def counted(count: Count, lead: str = "") -> Sentence:
    """What was counted, as the heading of a row."""
    if count.name.startswith("within"):
        return Sentence("{lead}within {ring} of the target", {"lead": lead, "ring": distance(WELL_RING_M)})
    return Sentence("{lead}{name}", {"lead": lead, "name": count.name})


def under(canopy: str | None, place: int, private: bool) -> str:
    """The words that jumps of one canopy alone were counted; ``place`` its number among the jumper's canopies."""
    if private:
        return f"Under canopy {place}:"
    return f"Under {canopy}:" if canopy else "Under the canopy not named:"


def share_of(count: Count) -> Sentence:
    """One count as a sentence."""
    if count.name.startswith("within"):
        return Sentence(
            "Landed within {ring} of the target in {hits} of {of} jumps.",
            {"ring": distance(WELL_RING_M), "hits": str(count.hits), "of": str(count.of)},
        )
    name = count.name[:1].upper() + count.name[1:]
    return Sentence(
        "{name} in {hits} of {of} jumps.", {"name": name, "hits": str(count.hits), "of": str(count.of)}
    )


def of_text(count: Count) -> str:
    """8 of 12, and how many the errors leave open."""
    if count.of == 0:
        return "–"
    more = f" ({count.left_open} open)" if count.left_open else ""
    return f"{count.hits} of {count.of}{more}"


def days_of(count: Count, private: bool) -> str:
    """The latest days on which it was so."""
    if private or not count.days_s:
        return "–"
    days = [datetime.fromtimestamp(t, UTC).date().isoformat() for t in count.days_s]
    more = f" and {len(days) - MOST_DAYS} before" if len(days) > MOST_DAYS else ""
    return ", ".join(days[-MOST_DAYS:]) + more
