"""What a season may say: planted habits are found, nothing is said about jumpers without one, few jumps stay silent."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.stats
from effort import few_or
from season_made import HABITS, season

from analyser.logbook import Logbook, Result
from analyser.logbook.scan import Found
from analyser.season.clear import ALPHA, judge
from analyser.season.figures import (
    accuracy,
    by_condition,
    causes,
    currency,
    gates,
    rolling,
    trim,
    turn_height,
)
from analyser.season.jumps import Jumps, read_jumps
from analyser.season.questions import Question, ask
from analyser.season.robust import Level
from analyser.season.summarise import Season, _sd, group_jumps, questions_of, summarise
from analyser.season.talks import talks
from analyser.season.words import day, say, subject
from analyser.units import DISPLAY_SYSTEMS

Rows = dict[str, list[dict[str, Any]]]
METRIC = DISPLAY_SYSTEMS["metric"]


def test_the_error_of_a_level_is_the_standard_deviation_of_students_t() -> None:
    """Against SciPy's distribution; below two degrees of freedom it has none, and the plain error stands."""
    for df in (5.0, 12.0, 60.0):
        assert _sd(Level(3.0, 2.0, df, 9)) == pytest.approx(2.0 * scipy.stats.t(df).std())


def claims_of(rows: Rows) -> dict[str, list[Question]]:
    asked: list[Question] = []
    for name, mine in rows.items():
        jumps, _ = read_jumps(mine)
        asked += questions_of(name, list(group_jumps(jumps)))
    found: dict[str, list[Question]] = {name: [] for name in rows}
    for question in judge(asked):
        if question.claimed:
            found[str(question.jumper)].append(question)
    return found


def is_final_low(q: Question) -> bool:
    return q.code == "turn height" and q.evidence["gate"] == "final" and q.value < 0


def found_all(claims: dict[str, list[Question]]) -> bool:
    return (
        any(is_final_low(q) for q in claims["Ada Low"])
        and any(q.code in ("wind", "wind cause") and q.value < 0 for q in claims["Ben Gust"])
        and any(q.code == "trim" and q.value > 0 for q in claims["Cy Swap"])
        and any(
            q.code in ("distance", "steadiness", "together") and q.value < 0 for q in claims["Dee Better"]
        )
    )


@pytest.mark.slow
@pytest.mark.parametrize("seasons", few_or(40, 8))
def test_planted_habits_are_found_and_nothing_is_said_about_the_others(seasons: int) -> None:
    found = silent = 0
    for seed in range(100, 100 + seasons):
        claims = claims_of(season(seed, named=False))
        found += found_all(claims)
        silent += not claims["Eve Plain"] and not claims["Flo Plain"]
    assert found >= math.floor(0.9 * seasons)  # 18 of 20
    assert silent >= math.floor(0.95 * seasons)


@pytest.mark.slow
@pytest.mark.parametrize("seasons", few_or(120, 12))
def test_where_nobody_has_a_habit_five_seasons_in_a_hundred_say_anything_at_most(seasons: int) -> None:
    nobody = dict.fromkeys(HABITS, "none")
    wrong = sum(
        any(claims_of(season(seed, 30, habits=nobody)).values()) for seed in range(200, 200 + seasons)
    )
    assert wrong / seasons <= ALPHA + 2 * math.sqrt(ALPHA / seasons)


@pytest.mark.slow
def test_the_sizes_found_are_those_planted() -> None:
    values = [
        q.value for seed in range(300, 312) for q in claims_of(season(seed))["Ada Low"] if is_final_low(q)
    ]
    assert np.mean(values) == pytest.approx(-50 * 0.3048, abs=1.5)


def test_nothing_is_said_below_ten_jumps() -> None:
    for seed in range(5):
        assert not any(claims_of(season(seed, 9)).values())


def test_named_canopies_are_never_pooled() -> None:
    jumps, _ = read_jumps(season(1)["Cy Swap"])
    parts = list(group_jumps(jumps))
    assert [(name, part, len(mine)) for name, part, mine, _ in parts] == [
        ("Slim 170", 0, 25),
        ("Wide 230", 0, 25),
    ]
    slim, wide = (trim(mine) for _, _, mine, _ in parts)
    assert slim is not None
    assert wide is not None
    assert slim.airspeed.mean == pytest.approx(11.5, abs=0.2)
    assert wide.airspeed.mean == pytest.approx(9.5, abs=0.2)
    assert 0.04 < wide.airspeed.single_sd < 0.3


def test_an_unnamed_change_of_canopy_splits_the_jumps() -> None:
    jumps, _ = read_jumps(season(1, named=False)["Cy Swap"])
    parts = list(group_jumps(jumps))
    assert [(name, part) for name, part, _, _ in parts] == [(None, 1), (None, 2)]
    assert abs(len(parts[0][2]) - 25) <= 1


def made(n: int, **columns: Iterable[object]) -> Jumps:
    base = season(2, n)["Eve Plain"]
    for name, values in columns.items():
        for row, value in zip(base, values, strict=True):
            row[name] = value
    return read_jumps(base)[0]


def test_accuracy_of_a_known_scatter() -> None:
    rng = np.random.default_rng(3)
    along, across = rng.normal(-18, 10, 400), rng.normal(0, 10, 400)
    jumps = made(400, along_m=along, across_m=across)
    found = accuracy(jumps)
    assert found is not None
    assert found.along.value == pytest.approx(-18, abs=1.6)
    assert found.along_sd == pytest.approx(10, rel=0.15)
    # half of a circular normal scatter lies within 1.1774 σ, 95 % within 2.4477 σ (closed form: sqrt(-2 ln(1 - p)))
    assert found.own_r50[0] == pytest.approx(11.774, rel=0.1)
    assert found.own_r50[1] <= 11.774 <= found.own_r50[2]
    assert found.r50[0] > found.own_r50[0]
    assert found.r95 is not None
    assert found.shares[100.0][0] == 1.0
    assert found.shares[10.0][0] == pytest.approx(
        float(np.mean(np.hypot(jumps["along_m"], jumps["across_m"]) <= 10))
    )
    assert accuracy(made(9)) is None
    few = accuracy(made(15))
    assert few is not None
    assert few.r95 is None


def test_conditions_hold_every_jump_once_and_stay_silent_below_ten() -> None:
    jumps = made(60)
    found = by_condition(jumps)
    for kind in ("wind", "hand", "site", "final turn"):
        assert sum(band.n for band in found[kind]) == 60
        for band in found[kind]:
            assert (band.along is None) == (band.n < 10)
    speeds = jumps["wind_speed_mps"]
    knots = 1852 / 3600
    assert found["wind"][0].n == int(np.sum(speeds < 5 * knots))


def test_the_parts_of_the_causes_add_up_to_the_whole_miss() -> None:
    found = causes(made(40))
    assert sum(s.part for s in found) == pytest.approx(1.0)
    for share in found:
        assert share.low <= share.part <= share.high
    assert causes(made(9)) == ()


def test_the_slope_of_physics_stands_beside_the_fitted_one() -> None:
    # published arithmetic: a turn 10 m higher moves the landing by 10 (V - w) / sink: V 10 m/s, sink 4 m/s, wind 2.5 m/s → 18.8 m
    rng = np.random.default_rng(4)
    n = 200
    error = rng.normal(0, 15, n)
    jumps = made(
        n,
        final_agl_error_m=error,
        along_m=1.875 * error + rng.normal(0, 10, n),
        airspeed_mps=[10.0] * n,
        sink_mps=[4.0] * n,
        headwind_mps=[2.5] * n,
        final_turn_agl_sd_m=[0.5] * n,
    )
    found = turn_height(jumps)
    assert found is not None
    assert found.predicted == pytest.approx(1.875)
    low, high = found.fitted.slope.interval()
    assert low <= 1.875 <= high
    assert high - low < 0.5
    assert found.reliability == pytest.approx(1.0, abs=0.01)
    assert turn_height(made(9)) is None


def test_gates_tell_level_spread_and_the_error_of_one_height() -> None:
    rows = {g.gate: g for g in gates(made(60))}
    assert set(rows) == {"downwind", "base", "final"}
    assert rows["final"].planned_m == pytest.approx(91.44)
    assert rows["final"].measured_sd == pytest.approx(5.0)
    assert rows["final"].spread == pytest.approx(9.4, rel=0.35)


def test_nothing_is_asked_of_turn_heights_without_a_plan() -> None:
    rows = season(3, 40)["Eve Plain"]
    for row in rows:
        row["plan"] = None
    asked = list(ask(read_jumps(rows)[0]))
    assert asked
    assert not {"turn height", "steadiness"} & {q.code for q in asked}


def test_rolling_median_waits_for_ten() -> None:
    x = np.arange(15.0)
    x[3] = np.nan
    found = rolling(x)
    assert np.all(np.isnan(found[:10]))
    assert found[10] == np.median(np.delete(x[:11], 3))
    assert found[14] == np.median(x[5:15])


def test_currency_counts_months_and_the_longest_gap() -> None:
    t0 = 1_900_000_000.0
    found = currency(np.array([t0, t0 + 86400, t0 + 41 * 86400]))
    assert found is not None
    assert found.n == 3
    assert found.longest_gap_days == pytest.approx(40)
    assert found.gap_from_s == t0 + 86400
    assert sum(found.per_month.values()) == 3
    assert currency(np.array([])) is None


def test_what_does_not_count_is_left_out_and_said() -> None:
    rows = season(5, 20)["Eve Plain"]
    rows[0]["excluded"] = "overflow field on request"
    rows[1]["kind"], rows[1]["reason"] = "no jump", None
    rows[3]["kind"], rows[3]["reason"] = "no jump", "it climbs by 80 m on the way down"
    rows[2]["grade"] = "poor"
    twin = rows[5] | {"sha256": "second receiver", "landing_lat": rows[5]["landing_lat"] + 1e-4}
    rows.insert(6, twin)
    jumps, left = read_jumps(rows)
    assert len(jumps) == 16
    assert {row.reason: row.count for row in left} == {
        "a poor recording": 1,
        "a second recording of the same jump": 1,
        "excluded by hand": 1,
        "no jump in the recording": 1,
        "no jump in the recording: it climbs by 80 m on the way down": 1,
    }


def test_two_jumpers_landing_together_are_two_jumps() -> None:
    rows = season(5, 12)["Eve Plain"]
    nameless = [row | {"jumper": None} for row in rows]
    near = nameless[4] | {"sha256": "b", "landing_lat": nameless[4]["landing_lat"] + 3e-4}
    jumps, _ = read_jumps(sorted([*nameless, near], key=lambda r: r["landing_utc"]))
    assert len(jumps) == 13
    twin = nameless[4] | {"sha256": "b", "landing_lat": nameless[4]["landing_lat"] + 3e-5}
    assert len(read_jumps(sorted([*nameless, twin], key=lambda r: r["landing_utc"]))[0]) == 12


# --- sentences -----------------------------------------------------------------------------------------------------


def question(code: str, value: float, **evidence: float | str) -> Question:
    return Question(
        code, 50, value, value - 7.0, value + 7.0, 8.0, 1e-6, dict(evidence), "Ada", "Wide 230", 1e-4, True
    )


SENTENCES = [
    (question("bias along", -18.0), "lands 18 ± 7 m short of the target on the whole (50 jumps)"),
    (question("bias across", 18.0), "lands 18 ± 7 m right of the target on the whole (50 jumps)"),
    (question("turn height", -15.0, gate="final"), "turns to final 15 ± 7 m lower than planned (50 jumps)"),
    (
        question("change", -18.0, since_s=1_939_000_000.0, n_before=30, n_after=20),
        "since 12 June 2031 lands 18 ± 7 m shorter than before (30 jumps before, 20 since)",
    ),
    (
        question("wind", -20.0, edge_mps=10 * 1852 / 3600, n_strong=14),
        "in 5.1 m/s of wind and more lands 20 ± 7 m shorter than in less (14 of 50 jumps)",
    ),
    (question("hand", 20.0, axis="across"), "right-hand patterns end 20 ± 7 m further right than left-hand ones (50 jumps)"),
    (question("site", 20.0, site="Larkmoor"), "at Larkmoor lands 20 ± 7 m longer than elsewhere (50 jumps)"),
    (
        question("canopy", 20.0, first="Wide 230", second="Slim 170"),
        "with Slim 170 lands 20 ± 7 m longer than with Wide 230 (50 jumps)",
    ),
    (
        question("together", -25.0, first_r50_m=60.0, last_r50_m=35.0, first_m=20.0, last_m=8.0),
        "landings and turn heights taken together scatter less than at first: half of the landings lie within 35 m of the target now, "
        "60 m at first; turn heights scatter by 8 m now, 20 m at first (50 jumps)",
    ),
    (
        question("steadiness", -12.0, first_m=20.0, last_m=8.0),
        "turn heights scatter by 8 m about their own level now, 20 m at first: the scatter shrank (50 jumps)",
    ),
    (
        question("distance", -20.0, first_r50_m=45.0, last_r50_m=25.0),
        "half of the landings lie within 25 m of the target now, 45 m at first: the distance shrank (50 jumps)",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("asked", "text"), SENTENCES)
def test_sentences(asked: Question, text: str) -> None:
    assert say(asked, METRIC) == text
    assert subject(asked)
    hidden = say(asked, METRIC, dates=False)
    for name in ("Larkmoor", "Wide 230", "Slim 170", "2031"):
        assert name not in hidden


def test_every_question_that_is_asked_has_its_sentence() -> None:
    asked: list[Question] = []
    for named in (True, False):
        for mine in season(6, named=named).values():
            asked += questions_of("x", list(group_jumps(read_jumps(mine)[0])))
    assert {q.code for q in asked} >= {
        "bias along",
        "turn height",
        "change",
        "distance",
        "wind",
        "hand",
        "trim",
    }
    for q in asked:
        assert say(q, METRIC)
        assert subject(q)


def test_days_do_not_depend_on_the_locale() -> None:
    assert day(0.0) == "1 January 1970"


# --- a whole logbook ------------------------------------------------------------------------------------------------


def fill(book: Path, rows: Rows) -> None:
    with Logbook(book) as logbook:
        for row in (row for mine in rows.values() for row in mine):
            own = {k: v for k, v in row.items() if k not in ("file", "sha256", "jump")}
            logbook.put_results(
                row["file"], row["sha256"], Found(Path(row["file"]), 1, 1, 1), "k", [Result(1, own, "{}")]
            )


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Season]:
    book = tmp_path_factory.mktemp("season") / "logbook.sqlite"
    fill(book, season(0))
    with Logbook(book) as logbook:
        return book, summarise(logbook)


def test_a_logbook_gives_the_same_claims_as_its_rows(whole: tuple[Path, Season]) -> None:
    expected = {name: sorted(q.code for q in qs) for name, qs in claims_of(season(0)).items()}
    assert {str(j.name): sorted(q.code for q in j.claims) for j in whole[1].jumpers} == expected
    assert whole[1].jumps == 300
    assert whole[1].questions_asked == sum(len(j.questions) for j in whole[1].jumpers)


def test_biases_are_drawn_together(whole: tuple[Path, Season]) -> None:
    groups = [g for j in whole[1].jumpers for g in j.groups]
    assert len(groups) == 7
    wide = [
        g for g in groups if g.canopy == "Wide 230"
    ]  # the only one who flies the other canopy is drawn to nobody
    assert [g.shrunk for g in groups if g not in wide] == [None]
    raw = [g.accuracy.along.value for g in wide if g.accuracy]
    drawn = [g.shrunk[0] for g in wide if g.shrunk]
    assert len(raw) == len(drawn) == 6
    assert np.std(drawn) < np.std(raw)
    assert np.argmin(drawn) == np.argmin(raw)


def test_talks_come_in_order_of_the_latest_jump(whole: tuple[Path, Season]) -> None:
    lines = talks(whole[1])
    assert {str(t.jumper.name) for t in lines} == set(HABITS)
    last = [t.jumper.currency.last_s for t in lines if t.jumper.currency]
    assert last == sorted(last, reverse=True)
    assert {str(t.jumper.name) for t in lines if t.topic} >= {"Ada Low", "Ben Gust"}
    better = next(t for t in lines if t.jumper.name == "Dee Better")
    assert better.topic is None  # coming nearer to the target is no reason for a talk before others


def test_the_summary_is_the_same_every_time(whole: tuple[Path, Season]) -> None:
    from analyser.report.documents.season import to_season_document

    with Logbook(whole[0]) as logbook:
        again = summarise(logbook)
    first, second = (json.dumps(to_season_document(s)) for s in (whole[1], again))
    assert first == second
