"""The results of a jump as pandas DataFrames; the unit of a column is the end of its name."""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from analyser.jump import Debrief
from analyser.pattern import Gate
from analyser.report.documents.air import wind_rows
from analyser.report.documents.debrief import to_document
from analyser.report.files.tables import WIND_COLUMNS

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["budget_frame", "gates_frame", "legs_frame", "rows_frame", "samples_frame", "winds_frame"]

WIND = WIND_COLUMNS[:-1]
LEG = (
    "leg",
    "start_utc",
    "end_utc",
    "turn_agl_m",
    "turn_agl_sd_m",
    "end_agl_m",
    "heading_deg",
    "track_deg",
    "crab_deg",
    "ground_speed_mps",
    "length_m",
    "confidence",
)
GATE = ("gate", "agl_m", "agl_sd_m", "east_m", "north_m", "lateral_sd_m", "heading_deg", "track_deg")
PLANNED = ("agl_m", "east_m", "north_m", "heading_deg", "track_deg")
AGAINST = ("agl_m", "along_m", "across_m")
BUDGET = ("cause", "along_m", "along_sd_m", "across_m", "across_sd_m")


def rows_frame(rows: Iterable[Mapping[str, Any]], columns: Iterable[str]) -> pd.DataFrame:
    """Rows as a frame with these columns; numbers as float64 (NaN where there is no value), ``…_utc`` as times with zone."""
    import pandas as pd

    columns = list(columns)
    frame = pd.DataFrame([{c: row.get(c) for c in columns} for row in rows], columns=columns)
    for name in columns:
        if name.endswith("_utc"):
            frame[name] = pd.to_datetime(frame[name], utc=True, format="ISO8601")
        elif name.rpartition("_")[2] in ("m", "mps", "deg", "correlation", "confidence"):
            frame[name] = frame[name].astype("float64")
    return frame


def winds_frame(jump: Debrief) -> pd.DataFrame:
    """One row per height of the recovered wind."""
    return rows_frame(wind_rows(jump.wind.profile) if jump.wind else (), WIND)


def legs_frame(jump: Debrief) -> pd.DataFrame:
    """One row per leg, in the order flown."""
    return rows_frame(to_document(jump)["legs"], LEG)


def gates_frame(jump: Debrief) -> pd.DataFrame:
    """One row per gate flown, beside the planned one and the difference (flown minus planned)."""
    planned = {g.name: g for g in jump.planned.gates} if jump.planned else {}
    against = {row.gate: row for row in jump.comparison}
    rows = []
    for gate in jump.flown.gates if jump.flown else ():
        row = {"gate": gate.name, **_fields(gate, GATE[1:])}
        row |= {f"planned_{k}": v for k, v in _fields(planned.get(gate.name), PLANNED).items()}
        row |= {f"difference_{k}": v for k, v in _fields(against.get(gate.name), AGAINST).items()}
        rows.append(row)
    columns = [*GATE, *(f"planned_{k}" for k in PLANNED), *(f"difference_{k}" for k in AGAINST)]
    return rows_frame(rows, columns)


def _fields(source: Gate | object | None, names: Iterable[str]) -> dict[str, Any]:
    return {name: getattr(source, name, None) for name in names}


def budget_frame(jump: Debrief) -> pd.DataFrame:
    """One row per cause; they add up to the landing."""
    return rows_frame((_fields(row, BUDGET) for row in jump.budget), BUDGET)


def samples_frame(jump: Debrief) -> pd.DataFrame:
    """One row per fix with what was found there: the columns of ``--samples-csv``."""
    import pandas as pd

    from analyser.report.files import samples_csv

    frame = pd.read_csv(io.StringIO(samples_csv(jump)), keep_default_na=True)
    frame["utc"] = pd.to_datetime(frame["utc"], utc=True, format="ISO8601")
    return frame
