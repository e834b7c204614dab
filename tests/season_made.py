"""Made-up rows of a season with planted habits: plain arithmetic on random numbers, nothing shared with the statistics."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from analyser.logbook import Logbook
from analyser.logbook.book import Found, Result
from analyser.logbook.jump_columns import COLUMNS, WHO

FT = 0.3048
HABITS = {
    "Ada Low": "turns final 50 ft low",
    "Ben Gust": "takes strong wind for weaker than it is",
    "Cy Swap": "changes canopy in the middle",
    "Dee Better": "improves",
    "Eve Plain": "none",
    "Flo Plain": "none",
}


def season(
    seed: int, jumps: int = 50, *, named: bool = True, habits: dict[str, str] | None = None
) -> dict[str, list[dict[str, Any]]]:
    """Jumper → rows in order of landing; ``named`` says whether the logbook knows the canopies."""
    rng = np.random.default_rng(seed)
    return {name: _jumper(rng, name, habit, jumps, named) for name, habit in (habits or HABITS).items()}


def _jumper(rng: np.random.Generator, name: str, habit: str, n: int, named: bool) -> list[dict[str, Any]]:
    start = datetime(2031, 4, 1, 9, tzinfo=UTC)
    days = np.sort(rng.uniform(0, 180, n))
    return [_jump(rng, name, habit, i, n, start + timedelta(days=float(days[i])), named) for i in range(n)]


def _jump(
    rng: np.random.Generator, name: str, habit: str, i: int, n: int, when: datetime, named: bool
) -> dict[str, Any]:
    late = i >= n // 2
    second = "canopy" in habit and late
    airspeed, sink = (11.5, 4.9) if second else (9.5, 3.9)
    wind = float(rng.gamma(4.0, 1.35))
    skill = 1.0 if "improves" not in habit else 2.6 - 2.2 * i / n
    height_error = skill * rng.normal(0.0, 8.0) - (50 * FT if "low" in habit else 0.0)
    misread = rng.normal(0.0, 0.7) * skill
    if "strong wind" in habit and wind > 10 * 1852 / 3600:
        misread += 1.6
    slope = (airspeed - wind) / sink
    wind_along = -misread * 22.0
    final_along = height_error * slope
    entry_along = skill * rng.normal(0.0, 10.0)
    noise = rng.normal(0.0, 8.0)
    row: dict[str, Any] = dict.fromkeys((*WHO, *COLUMNS))
    along = wind_along + final_along + entry_along + noise
    across = float(skill * rng.normal(0.0, 14.0))
    row |= {
        "file": f"{name}/{i:03d}.gpx",
        "sha256": f"{name}-{i:03d}",
        "jump": 1,
        "jumper": name,
        "canopy": ("Slim 170" if second else "Wide 230") if named else None,
        "site": "Larkmoor",
        "plan": "field.toml",
        "landing_utc": when.isoformat(timespec="seconds").replace("+00:00", "Z"),
        "landing_lat": 50.0 + along / 111_000,
        "landing_lon": 1.0 + across / 70_000,
        "kind": "jump",
        "format": "gpx",
        "grade": "good",
        "hand": "left" if rng.random() < 0.6 else "right",
        "pattern": "box",
        "along_m": float(along),
        "across_m": across,
        "offset_m": float(np.hypot(along, across)),
        "offset_sd_m": 4.0,
        "airspeed_mps": float(airspeed + rng.normal(0.0, 0.25)),
        "airspeed_sd_mps": 0.2,
        "sink_mps": float(sink + rng.normal(0.0, 0.12)),
        "sink_sd_mps": 0.1,
        "wind_speed_mps": wind,
        "wind_from_deg": float(rng.uniform(0, 360)),
        "headwind_mps": wind,
        "landing_deg": 250.0,
        "final_planned_agl_m": 300 * FT,
        "final_turn_agl_m": 300 * FT + height_error,
        "final_turn_agl_sd_m": 5.0,
        "final_agl_error_m": float(height_error + rng.normal(0.0, 5.0)),
        "base_planned_agl_m": 600 * FT,
        "base_agl_error_m": float(
            skill * rng.normal(0.0, 8.0) + rng.normal(0.0, 5.0) + (60 * FT if "base" in habit else 0.0)
        ),
        "downwind_planned_agl_m": 1000 * FT,
        "downwind_agl_error_m": float(skill * rng.normal(0.0, 8.0) + rng.normal(0.0, 5.0)),
    }  # fmt: skip
    parts = {
        "wind": wind_along,
        "entry": entry_along,
        "downwind_leg": 0.0,
        "base_leg": noise,
        "final_leg": final_along,
    }
    for cause, metres in parts.items():
        row[f"cause_{cause}_along_m"] = float(metres)
        row[f"cause_{cause}_across_m"] = across if cause == "entry" else 0.0
    return row


def fill(book: Path, rows: dict[str, list[dict[str, Any]]]) -> None:
    """A logbook of these rows and one failure."""
    with Logbook(book) as logbook:
        for row in (row for mine in rows.values() for row in mine):
            own = {k: v for k, v in row.items() if k not in ("file", "sha256", "jump")}
            found = Found(Path(row["file"]), 1, 1, 1)
            logbook.put_results(row["file"], row["sha256"], found, "k", [Result(1, own, "{}")])
        logbook.put_failure(
            "secret.gpx", "f" * 64, Found(Path("secret.gpx"), 1, 1, 1), "k", "no fix in it, secret"
        )
