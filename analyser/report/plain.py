"""Foreign text made harmless for a terminal and for HTML, and times as people read them."""

from __future__ import annotations

import html
import unicodedata
from datetime import UTC, datetime, timedelta

__all__ = ["escape", "plain", "utc_minute"]

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
    return html.escape(
        "".join(
            c if c.isprintable() or c == "\N{NO-BREAK SPACE}" else "\N{REPLACEMENT CHARACTER}"
            for c in str(text)
        )
    )


def utc_minute(seconds: float) -> str:
    """``2026-06-14 10:12 UTC``."""
    return (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=seconds)).strftime("%Y-%m-%d %H:%M UTC")
