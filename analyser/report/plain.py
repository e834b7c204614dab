"""Foreign text made harmless for a terminal and for HTML, and times as people read them."""

from __future__ import annotations

import unicodedata
from datetime import UTC, datetime, timedelta

from analyser.localtime import local_iso, zone_at

__all__ = ["escape", "plain", "two_clocks", "utc_minute"]

_HIDDEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def plain(text: str | None, limit: int = 400) -> str:
    """``text`` without control, format or direction characters, cut at ``limit`` characters."""
    if not text:
        return ""
    kept = "".join(
        "\N{REPLACEMENT CHARACTER}" if unicodedata.category(c) in _HIDDEN else c for c in text[: limit + 1]
    )
    return kept if len(kept) <= limit else kept[: limit - 1] + "…"


def escape(text: object) -> str:
    """Text for HTML: markup escaped, control characters (terminal escapes, bidirectional overrides) replaced."""
    import html

    shown = str(text)
    if not shown.isprintable():
        shown = "".join(
            c if c.isprintable() or c == "\N{NO-BREAK SPACE}" else "\N{REPLACEMENT CHARACTER}" for c in shown
        )
    return html.escape(shown)


def utc_minute(seconds: float) -> str:
    """``2026-06-14 10:12 UTC``."""
    return (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=seconds)).strftime("%Y-%m-%d %H:%M UTC")


def two_clocks(seconds: float, lat_deg: float, lon_deg: float) -> str:
    """``2026-06-14 10:12 UTC (12:12 local time)`` at a place; only UTC where its zone is not known or has the same clock."""
    utc = utc_minute(seconds)
    local = local_iso(seconds - seconds % 60.0, zone_at(lat_deg, lon_deg))
    if local is None or local[:16].replace("T", " ") == utc[:16]:
        return utc
    clock = local[11:16] if local[:10] == utc[:10] else f"{local[:10]} {local[11:16]}"
    return f"{utc} ({clock} local time)"
