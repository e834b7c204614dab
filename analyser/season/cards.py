"""Canopy cards: the trim of each canopy, pooled over its jumps, as a plan file."""

from __future__ import annotations

import json
import math
import re
import unicodedata
from collections.abc import Iterator

from analyser.season.pooling import Pooled
from analyser.season.summarise import GroupSeason, Season

__all__ = ["LEAST_CARD", "canopy_card", "canopy_cards", "slug"]

LEAST_CARD = 5  # ours: jumps with a measured trim below which no card is written


def canopy_cards(season: Season, *, private: bool = False) -> Iterator[tuple[str, str]]:
    """File name and text of a card for every jumper's canopy with at least five measured trims.

    ``private`` numbers jumpers and canopies instead of naming them.
    """
    taken: set[str] = set()
    for number, jumper in enumerate(season.jumpers, 1):
        for index, group in enumerate(jumper.groups, 1):
            if group.trim is None or group.trim.airspeed.n < LEAST_CARD:
                continue
            who, what = (None, None) if private else (jumper.name, group.canopy)
            part = f"part-{group.part}" if group.part else ""
            words = (slug(who or f"jumper {number}"), slug(what or f"canopy {index}"), part)
            stem = "-".join(filter(None, words))
            name = stem
            while name in taken:
                name += "-x"
            taken.add(name)
            yield f"{name}.toml", canopy_card(group, what or f"canopy {index}")


def canopy_card(group: GroupSeason, name: str) -> str:
    """A plan file with the pooled trim of one canopy. Raises ValueError where the group has none.

    The standard deviations are those of one further jump's trim: the error of the mean and the scatter between jumps.
    """
    if group.trim is None:
        raise ValueError("a group without a measured trim has no canopy card")
    airspeed, sink = group.trim.airspeed, group.trim.sink
    loading = group.trim.wing_loading
    lines = [
        f"# Trim at sea-level density, pooled over {airspeed.n} jumps. Name this file with --plan, or under cards in logbook.toml.",
        f"# Glide {group.trim.glide:.2f}." + (f" Wing loading {loading:.2f} lb/ft2." if loading else ""),
        f"# Mean airspeed {_mean(airspeed)}, mean sink {_mean(sink)}; the deviations below are those of a single jump.",
        "[canopy]",
        f"name = {json.dumps(name, ensure_ascii=False)}",
        f"airspeed_mps = {airspeed.mean:.2f}",
        f"airspeed_sd_mps = {_single(airspeed):.2f}",
        f"sink_mps = {sink.mean:.2f}",
        f"sink_sd_mps = {_single(sink):.2f}",
    ]
    return "\n".join(lines) + "\n"


def _mean(pooled: Pooled) -> str:
    return f"{pooled.mean:.2f} m/s (standard error {max(pooled.se, 0.005):.2f})"


def _single(pooled: Pooled) -> float:
    """Rounded up, so that no card claims more than it knows."""
    return math.ceil(pooled.single_sd * 100.0) / 100.0


def slug(text: str) -> str:
    """A text as a part of a file name: small letters, digits and dashes, at most 40."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40] or "unnamed"
