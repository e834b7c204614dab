"""Whether winds of one load agree, over a logbook: what is a load, which pairs count, and that no document is read twice."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analyser.load.thresholds import LOAD
from analyser.logbook import Logbook
from analyser.logbook.book import Result
from analyser.logbook.jump_columns import WHO, jump_row
from analyser.logbook.scan import Found
from analyser.season.loads import LoadsAgreement, _told, loads_agreement

START = 1_780_000_000.0


def iso(seconds: float) -> str:
    return datetime.fromtimestamp(seconds, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def document(
    exit_s: float, wind: tuple[float, float], *, lat: float = 47.0, sd: float = 0.5, **more: Any
) -> dict[str, Any]:
    """What a season takes of a debrief: phases, landing, winds at the heights that are compared and others."""
    t = START + exit_s
    phases = [
        {"phase": name, "start_utc": iso(t + a), "end_utc": iso(t + b), "start_agl_m": high, "end_agl_m": 0.0}
        for name, a, b, high in (("free fall", 0, 50, 4000.0), ("canopy", 50, 250, 1000.0))
    ]
    winds = [
        {
            "agl_m": h,
            "east_mps": wind[0],
            "north_mps": wind[1],
            "sd_east_mps": sd,
            "sd_north_mps": sd,
            "correlation": 0.0,
        }
        for h in (*LOAD.heights_m, 150.0)
    ]
    landing = {"utc": iso(t + 250 + exit_s % 7), "lat": lat + 1e-4 * (exit_s % 11), "lon": 9.0}
    return {"kind": "jump", "phases": phases, "winds": winds, "landing": landing} | more


def book_of(path: Path, documents: list[dict[str, Any]]) -> Logbook:
    book = Logbook(path)
    who = dict.fromkeys(WHO)
    for k, one in enumerate(documents):
        sha = f"{k:064d}"
        row = who | jump_row(one)
        book.put_results(
            f"{k}.gpx", sha, Found(Path(f"{k}.gpx"), 1, 1, 1), "s", [Result(1, row, json.dumps(one))]
        )
    return book


def test_pairs_of_one_load_are_compared_at_every_height(tmp_path: Path) -> None:
    near = [document(10.0 * k, (3.0 + 0.1 * k, 0.0)) for k in range(4)]
    with book_of(tmp_path / "a.sqlite", near) as book:
        assert loads_agreement(book) == LoadsAgreement(1, 4, 6 * len(LOAD.heights_m), 6 * len(LOAD.heights_m))


def test_who_disagrees_is_counted(tmp_path: Path) -> None:
    """A fourth one 6 m/s away (8 sd of a difference): his three pairs fail at every height."""
    far = [document(10.0 * k, (3.0 + (6.0 if k == 3 else 0.0), 0.0)) for k in range(4)]
    with book_of(tmp_path / "a.sqlite", far) as book:
        found = loads_agreement(book)
    assert (found.pairs, found.within) == (6 * len(LOAD.heights_m), 3 * len(LOAD.heights_m))
    assert found.share == 0.5


def test_other_times_fields_doubles_and_shared_winds_do_not_count(tmp_path: Path) -> None:
    alone = document(0.0, (3.0, 0.0))
    others = [
        document(300.0, (3.0, 0.0)),  # another run
        document(5.0, (3.0, 0.0), lat=48.0),  # another field
        document(4.0, (3.0, 0.0)) | {"landing": alone["landing"]},  # the same body
        document(20.0, (3.0, 0.0), wind_shared={"jumpers": 5}),
    ]
    with book_of(tmp_path / "a.sqlite", [alone, *others]) as book:
        assert loads_agreement(book).pairs == 0


def test_winds_are_kept_until_the_document_changes(tmp_path: Path) -> None:
    with book_of(tmp_path / "a.sqlite", [document(10.0 * k, (3.0, 0.0)) for k in range(3)]) as book:
        first = loads_agreement(book)
        read: list[tuple[str, int]] = []
        whole = book.document
        book.document = lambda sha, jump: read.append((sha, jump)) or whole(sha, jump)  # type: ignore[method-assign]
        assert loads_agreement(book) == first
        assert read == []
        new = document(20.0, (13.0, 0.0))
        sha = f"{2:064d}"
        row = dict.fromkeys(WHO) | jump_row(new)
        book.put_results("2.gpx", sha, Found(Path("2.gpx"), 1, 2, 2), "s", [Result(1, row, json.dumps(new))])
        assert loads_agreement(book).within == first.within - 2 * len(LOAD.heights_m)
        assert read == [(sha, 1)]


def test_right_errors_give_95_and_halved_ones_far_less(tmp_path: Path) -> None:
    for name, said, low, high in (("right", 1.0, 0.93, 0.99), ("halved", 0.5, 0.0, 0.85)):
        rng = np.random.default_rng(5)
        documents = [
            document(4000.0 * load + 10.0 * k, tuple(rng.normal(3.0, 0.6, 2)), sd=0.6 * said)  # type: ignore[arg-type]
            for load in range(40)
            for k in range(4)
        ]
        with book_of(tmp_path / f"{name}.sqlite", documents) as book:
            share = loads_agreement(book).share
        assert share is not None
        assert low <= share <= high


def test_what_is_told_of_a_wind_counted_by_hand() -> None:
    """Errors of 2 m/s east and 0.5 m/s north, correlated by 0.4: covariance 4, 0.4, 0.25. The canopy flight lasts 200 s from 1,000 m down."""
    one = document(0.0, (3.0, -1.0))
    for row in one["winds"]:
        row |= {"sd_east_mps": 2.0, "sd_north_mps": 0.5, "correlation": 0.4}
    exit_s, winds = _told(one)
    assert exit_s == START
    assert [row[0] for row in winds] == list(LOAD.heights_m)
    for agl_m, east, north, covariance, when in winds:
        assert (east, north) == (3.0, -1.0)
        assert covariance == pytest.approx([4.0, 0.4, 0.25])
        assert when == pytest.approx(START + 250.0 - 0.2 * agl_m)
