"""A row of the logbook holds what the document says, column by column; winds and parts of them are reckoned by hand."""

from __future__ import annotations

import math

import pytest

from analyser.logbook.jump_columns import COLUMNS, LOW_WIND_TOP_M, jump_row

NUMBERS = iter(range(1, 10_000))


def numbers(*names: str) -> dict[str, float]:
    return {name: float(next(NUMBERS)) for name in names}


LANDING = numbers("lat", "lon", "ground_speed_mps", "along_m", "across_m", "offset_m") | {
    "utc": "2031-06-01T10:00:00Z",
    "reason": "seen",
}
CANOPY = numbers("airspeed_mps", "airspeed_sd_mps", "sink_mps", "sink_sd_mps", "glide", "wing_loading_lb_ft2")
PATTERN = numbers("into_wind_error_deg") | {"hand": "left", "kind": "four legs", "landing_deg": 30.0}
GATES = {
    name: numbers("planned_agl_m", "agl_m", "along_m", "across_m") for name in ("downwind", "base", "final")
}
TURNS = {name: numbers("turn_agl_m", "turn_agl_sd_m") for name in GATES}
CAUSES = {
    name: numbers("along_m", "across_m", "along_sd_m", "across_sd_m")
    for name in ("wind", "final leg", "downwind leg")
}
# 4 m/s from 60° and 2 m/s from 60°, and one above what counts
WINDS = [
    {
        "agl_m": h,
        "east_mps": -v * math.sin(math.radians(60.0)),
        "north_mps": -v * math.cos(math.radians(60.0)),
        "sd_east_mps": 0.3,
        "sd_north_mps": 0.5,
    }
    for h, v in ((0.0, 2.0), (LOW_WIND_TOP_M, 4.0), (LOW_WIND_TOP_M + 1.0, 40.0))
]
DOCUMENT = {
    "kind": "jump",
    "landing": LANDING,
    "canopy": CANOPY,
    "pattern": PATTERN,
    "findings": [{"code": "low_turn"}, {"code": "zigzag"}],
    "phases": [
        {"phase": "free fall", "start_agl_m": 4000.0},
        {"phase": "canopy", "start_agl_m": 987.0},
        {"phase": "landed", "start_agl_m": 0.0},
    ],
    "winds": [*WINDS, {"agl_m": 50.0, "east_mps": None, "north_mps": None}],
    "legs": [{"leg": name} | turn for name, turn in TURNS.items()],
    "comparison": [{"gate": name} | gate for name, gate in GATES.items()],
    "budget": [{"cause": name} | cause for name, cause in CAUSES.items()],
}


def expected() -> dict[str, object]:
    row: dict[str, object] = {
        "kind": "jump",
        "pattern": "four legs",
        "hand": "left",
        "landing_deg": 30.0,
        "into_wind_error_deg": PATTERN["into_wind_error_deg"],
        "landing_utc": LANDING["utc"],
        "landing_lat": LANDING["lat"],
        "landing_lon": LANDING["lon"],
        "landing_ground_speed_mps": LANDING["ground_speed_mps"],
        "reason": "seen",
        "findings": "low_turn zigzag",
        "opening_agl_m": 987.0,
        "wind_speed_mps": 3.0,
        "wind_from_deg": 60.0,
        "wind_sd_mps": round(math.sqrt((0.3**2 + 0.5**2) / 2.0), 3),
        "headwind_mps": round(3.0 * math.cos(math.radians(30.0)), 3),
    }
    row |= {name: CANOPY[name] for name in CANOPY}
    for name, turn in TURNS.items():
        row |= {f"{name}_turn_agl_m": turn["turn_agl_m"], f"{name}_turn_agl_sd_m": turn["turn_agl_sd_m"]}
    for name, gate in GATES.items():
        row[f"{name}_planned_agl_m"] = gate["planned_agl_m"]
        row |= {f"{name}_{part}_error_m": gate[f"{part}_m"] for part in ("agl", "along", "across")}
    for name, cause in CAUSES.items():
        row |= {f"cause_{name.replace(' ', '_')}_{key}": value for key, value in cause.items()}
    return {name: value for name, value in row.items() if name in COLUMNS}


def test_every_column_is_what_the_document_says() -> None:
    row, told = jump_row(DOCUMENT), expected()
    assert {name: row[name] for name in told} == told
    assert len(told) > 40
    assert tuple(row) == COLUMNS


@pytest.mark.parametrize(
    ("landing_deg", "headwind"), [(60.0, 3.0), (150.0, 0.0), (240.0, -3.0), (105.0, 2.121)]
)
def test_the_part_of_the_wind_against_the_landing(landing_deg: float, headwind: float) -> None:
    row = jump_row(DOCUMENT | {"pattern": PATTERN | {"landing_deg": landing_deg}})
    assert row["headwind_mps"] == pytest.approx(headwind, abs=1e-3)


def test_a_document_without_a_landing_or_winds_leaves_them_open() -> None:
    row = jump_row({"kind": "no jump", "source": {"last_utc": "2031-06-02T00:00:00Z"}})
    assert row["landing_utc"] == "2031-06-02T00:00:00Z"
    assert row["wind_speed_mps"] is row["landing_lat"] is row["opening_agl_m"] is None
