"""What a document says of the plan in the wind that was there: each number under its own name."""

from __future__ import annotations

from types import SimpleNamespace

from analyser.report.documents.holding import outcome_row


def test_the_outcome_of_a_plan_keeps_each_number_under_its_name() -> None:
    known = {
        "east_m": 1.5,
        "north_m": -2.5,
        "along_m": 3.5,
        "across_m": -4.5,
        "along_sd_m": 5.5,
        "across_sd_m": 6.5,
    }
    ellipse = {"semi_major_m": 7.5, "semi_minor_m": 8.5, "major_deg": 40.0}
    gate = {"gate": "base", "along_m": 9.5, "across_m": -10.5}
    check = SimpleNamespace(**known, **ellipse, differences=(SimpleNamespace(**gate),))
    row = outcome_row(SimpleNamespace(plan_outcome=check))  # type: ignore[arg-type]
    assert row == {**known, "ellipse_90": ellipse, "gate_differences": [gate]}
    assert outcome_row(SimpleNamespace(plan_outcome=None)) is None  # type: ignore[arg-type]
