"""jump_row: the JSON document of one jump -> the flat row a season is made of."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any, Final

from analyser.angles import along_across, wind_from_deg
from analyser.pattern import LEG_NAMES

__all__ = ["CAUSES", "COLUMNS", "NUMBERS", "TARGET_MOVED", "WHO", "Row", "document_text", "jump_row"]

Row = dict[str, Any]

CAUSES: Final = ("wind", "entry", "downwind leg", "base leg", "final leg")
LOW_WIND_TOP_M: Final = 150.0  # ours: the winds up to here are averaged to one, that of base and final

WHO: Final = ("jumper", "canopy", "site", "plan", "note", "excluded")
"""Columns that come from ``logbook.toml`` and the tables beside it, not from the track."""

TARGET_MOVED: Final = "its file is gone, and the target has moved since: the landing is left out"
"""Why a jump is excluded whose landing was measured from another target than the one that holds now; all else about it counts."""

_TEXTS: Final = (
    "landing_utc",
    "kind",
    "format",
    "grade",
    "hand",
    "pattern",
    "reason",
    "findings",
    "left_open",
)
_BASIC: Final = (
    "rate_hz", "landing_lat", "landing_lon", "offset_m", "offset_sd_m", "along_m", "across_m", "landing_deg",
    "into_wind_error_deg", "landing_ground_speed_mps", "sink_before_flare_mps", "airspeed_mps", "airspeed_sd_mps",
    "sink_mps", "sink_sd_mps", "glide", "wing_loading_lb_ft2", "wind_speed_mps", "wind_from_deg", "wind_sd_mps",
    "headwind_mps", "opening_agl_m",
)  # fmt: skip


def _gate_columns() -> tuple[str, ...]:
    parts = ("turn_agl_m", "turn_agl_sd_m", "planned_agl_m", "agl_error_m", "along_error_m", "across_error_m")
    return tuple(f"{leg}_{part}" for leg in LEG_NAMES for part in parts)


def _cause_columns() -> tuple[str, ...]:
    parts = ("along_m", "across_m", "along_sd_m", "across_sd_m")
    return tuple(f"cause_{cause.replace(' ', '_')}_{part}" for cause in CAUSES for part in parts)


NUMBERS: Final[tuple[str, ...]] = _BASIC + _gate_columns() + _cause_columns()
COLUMNS: Final[tuple[str, ...]] = _TEXTS + NUMBERS
"""Every column taken from a document, in order: first texts, then numbers (SI; angles in degrees true)."""


def document_text(document: Mapping[str, Any]) -> str:
    """A document as the logbook keeps it: JSON on one line. Raises ValueError for a number that is not finite."""
    return json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def jump_row(document: Mapping[str, Any]) -> Row:
    """One value (text, float or None) for each of ``COLUMNS`` from a document of schema ``crabline.debrief/1``."""
    row: Row = dict.fromkeys(COLUMNS)
    landing, canopy, pattern = (_part(document, n) for n in ("landing", "canopy", "pattern"))
    row |= _pick(_part(document, "source"), "format", "rate_hz")
    row |= _pick(_part(document, "quality"), "grade")
    row |= _pick(landing, "offset_m", "offset_sd_m", "along_m", "across_m", "sink_before_flare_mps")
    row |= _pick(
        canopy, "airspeed_mps", "airspeed_sd_mps", "sink_mps", "sink_sd_mps", "glide", "wing_loading_lb_ft2"
    )
    row |= _pick(pattern, "hand", "landing_deg", "into_wind_error_deg")
    row["kind"] = document.get("kind", "jump")
    row["pattern"] = pattern.get("kind")
    row["landing_utc"] = landing.get("utc") or _part(document, "source").get("last_utc")
    row["landing_lat"], row["landing_lon"] = landing.get("lat"), landing.get("lon")
    row["landing_ground_speed_mps"] = landing.get("ground_speed_mps")
    row["reason"] = landing.get("reason")
    row["findings"] = " ".join(f["code"] for f in document.get("findings", ())) or None
    row["left_open"] = " ".join(f["code"] for f in document.get("left_open", ())) or None
    row["opening_agl_m"] = next(
        (p["start_agl_m"] for p in document.get("phases", ()) if p["phase"] == "canopy"), None
    )
    row |= _low_wind(document.get("winds", ()), row["landing_deg"])
    row |= _gates(document)
    for part in document.get("budget", ()):
        name = f"cause_{part['cause'].replace(' ', '_')}"
        for key in ("along_m", "across_m", "along_sd_m", "across_sd_m"):
            row[f"{name}_{key}"] = part.get(key)
    return {name: row[name] for name in COLUMNS}


def _part(document: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    return document.get(name) or {}


def _pick(part: Mapping[str, Any], *names: str) -> Row:
    return {name: part.get(name) for name in names}


def _gates(document: Mapping[str, Any]) -> Row:
    row: Row = {}
    for leg in document.get("legs", ()):
        row[f"{leg['leg']}_turn_agl_m"] = leg.get("turn_agl_m")
        row[f"{leg['leg']}_turn_agl_sd_m"] = leg.get("turn_agl_sd_m")
    for gate in document.get("comparison", ()):
        name = gate["gate"]
        row[f"{name}_planned_agl_m"] = gate.get("planned_agl_m")
        row[f"{name}_agl_error_m"] = gate.get("agl_m")
        row[f"{name}_along_error_m"] = gate.get("along_m")
        row[f"{name}_across_error_m"] = gate.get("across_m")
    return row


def _low_wind(winds: Any, landing_deg: float | None) -> Row:
    """Mean wind of the lowest heights that have one, and its part against the landing direction."""
    known = [w for w in winds if w.get("east_mps") is not None and w["agl_m"] <= LOW_WIND_TOP_M]
    if not known:
        return {}
    east = math.fsum(w["east_mps"] for w in known) / len(known)
    north = math.fsum(w["north_mps"] for w in known) / len(known)
    variances = [
        ((w.get("sd_east_mps") or 0.0) ** 2 + (w.get("sd_north_mps") or 0.0) ** 2) / 2 for w in known
    ]
    row: Row = {
        "wind_speed_mps": round(math.hypot(east, north), 3),
        "wind_from_deg": round(float(wind_from_deg(east, north)), 1) % 360.0,
        "wind_sd_mps": round(math.sqrt(math.fsum(variances) / len(variances)), 3),
    }
    if landing_deg is not None:
        row["headwind_mps"] = round(-float(along_across(east, north, landing_deg)[0]), 3) + 0.0
    return row
