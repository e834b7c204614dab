"""The planted season: habits are in the truth, and the folders hold what a logbook needs."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest

from analyser.importers.read import read
from analyser.synthetic.season import JUMPERS, Habit, SeasonJump, season, write_season

FOOT, KNOT = 0.3048, 1852.0 / 3600.0


def rows(name: str, jumps: int = 16, seed: int = 4) -> list[SeasonJump]:
    return list(season(seed, jumps, (habit(name),)))


def habit(name: str) -> Habit:
    return next(h for h in JUMPERS if h.name == name)


def along(row: SeasonJump) -> float:
    truth = row.jump.truth
    angle = np.radians(truth.plan_landing_deg)
    return float(
        (truth.landing_east_m or 0.0) * np.sin(angle) + (truth.landing_north_m or 0.0) * np.cos(angle)
    )


def final_ft(row: SeasonJump) -> float:
    gate = row.jump.truth.gate("final")
    assert gate is not None
    return gate.agl_m / FOOT


def test_the_low_turner_turns_low_and_others_do_not() -> None:
    assert np.mean([final_ft(r) for r in rows("Ansa Brill")]) < 270.0
    assert abs(np.mean([final_ft(r) for r in rows("Gil Marant")]) - 300.0) < 20.0


@pytest.mark.slow
def test_strong_wind_is_taken_for_weaker_by_one_only() -> None:
    for name, share in (("Corin Vale", 0.65), ("Fenna Oost", 1.0)):
        seen = []
        for row in rows(name, 24):
            real = float(np.hypot(*row.jump.truth.wind(1000.0 * FOOT)))
            near = float(np.hypot(*row.jump.truth.wind(100.0)))
            if near > 10.0 * KNOT:
                seen.append(row.plan.wind[1][1] * KNOT / real)
        assert len(seen) >= 3
        assert abs(np.mean(seen) - share) < 0.12


def test_canopy_changes_in_the_middle() -> None:
    names = [r.plan.wing.name for r in rows("Dara Quist", 6)]
    assert names == ["Curlew 260"] * 3 + ["Plover 170"] * 3
    speeds = [r.jump.truth.airspeed_mps for r in rows("Dara Quist", 6)]
    assert speeds[0] == 8.9
    assert speeds[-1] == 11.7


def test_one_improves() -> None:
    miss = [
        np.hypot(r.jump.truth.landing_east_m or 0.0, r.jump.truth.landing_north_m or 0.0)
        for r in rows("Elmar Tove", 24)
    ]
    assert np.median(miss[16:]) < 0.7 * np.median(miss[:8])


def test_dates_rise_and_jumps_repeat_exactly() -> None:
    one, two = rows("Fenna Oost", 5), rows("Fenna Oost", 5)
    starts = [r.jump.recording.time_s[0] for r in one]
    assert starts == sorted(starts)
    for a, b in zip(one, two):
        assert np.array_equal(a.jump.recording.lat_deg, b.jump.recording.lat_deg)
        assert a.plan == b.plan


def test_nobody_goes_up_for_a_final_that_stands_still() -> None:
    for row in rows("Elmar Tove", 12, seed=4301):  # whose seventh day drawn first had 21 kt
        at_ground, at_1000_ft = (knots for _, knots, _ in row.plan.wind[:2])
        assert (0.7 * at_ground + 0.3 * at_1000_ft) * KNOT < row.plan.wing.airspeed_mps


def test_folders_of_a_season(tmp_path: Path) -> None:
    tracks = write_season(tmp_path, 6, jumps=2)
    assert len(tracks) == 12
    assert len({p.parent for p in tracks}) == 6
    site = tomllib.loads((tmp_path / "logbook.toml").read_text())
    assert "target" in site["site"]
    for folder in {p.parent for p in tracks}:
        book = tomllib.loads((folder / "logbook.toml").read_text())
        assert book["jumper"]["name"].lower().replace(" ", "_") == folder.name
        assert [row["file"] for row in book["jump"]] == ["001.fit", "002.fit"]
        plan = tomllib.loads((folder / book["jump"][0]["plan"]).read_text())
        assert plan["jumper"]["name"] == book["jumper"]["name"]
    assert len(read(tracks[0])) > 1500
