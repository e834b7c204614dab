"""Bulletins of winds aloft as they were issued or published, with what their publishers say they mean.

The lines of stations are a selection; the spaces are those of the bulletins, which leave the lowest heights blank.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from analyser.errors import SettingsError
from analyser.settings.aloft import AloftRow, read_aloft
from analyser.settings.reports import read_report
from analyser.settings.winds import read_winds

FOOT, KNOT = 0.3048, 1852 / 3600  # exact definitions
LOW = "FT  3000    6000    9000   12000   18000   24000  30000  34000  39000"

# National Weather Service, product FD1 of 31 January 2026, as api.weather.gov gave it (a work of the government of the United States)
JANUARY = f"""
000
FBUS31 KWNO 310158
FD1US1
DATA BASED ON 310000Z
VALID 310600Z   FOR USE 0200-0900Z. TEMPS NEG ABV 24000

{LOW}
ABR 1914 1716-09 1808-14 9900-18 3633-29 3562-39 359251 359859 840464
ALS                      3113-08 3444-17 3452-28 337043 337454 337764
AMA      0708    3011-05 3324-11 3453-21 3366-32 359645 850754 349862
BIH      9900    9900+07 2613+03 3020-14 3031-26 282843 283652 274863
H61 3008 2727+07 2643+02 2649-03 2680-13 7503-21 750837 751647 762358
2XG 2512 2327+03 2532-04 2447-07 2463-20 7505-26 753939 755348 755359
"""
# the same, 15 April 2026
APRIL = f"""
000
FBUS31 KWNO 151359
FD1US1
DATA BASED ON 151200Z
VALID 151800Z   FOR USE 1400-2100Z. TEMPS NEG ABV 24000

{LOW}
ABI      2516+14 2321+09 2225+01 2360-13 2265-24 227740 229350 732456
ALS                      3111-05 3016-20 3114-32 342747 352353 263355
"""
# open tests of two other decoders (SwiftMETAR, preflight), which say what they read in them
THIRD = f"""
000
FBUS31 KWNO 032000
FD1US1
DATA BASED ON 031800Z
VALID 040000Z   FOR USE 2000-0300Z. TEMPS NEG ABV 24000

{LOW}
ABI      0517+06 3209+02 3221-05 2941-18 2953-31 295947 288253 770853
ABQ              3325+03 3427-02 3343-16 3347-30 355547 354956 285561
ABR 3214 3431-04 3540-09 3536-15 3431-28 3335-41 312756 323555 344353
"""
HIGH = """
000
FBUS37 KWNO 032000
FD8US7
DATA BASED ON 031800Z
VALID 040000Z   FOR USE 2000-0300Z. TEMPS NEG ABV 24000

FT   45000  53000
ABI 288454 275466
ABQ 295159 284862
"""
FOURTH = f"""000
FBUS31 KWNO 061958
FD1US1
DATA BASED ON 061800Z
VALID 070000Z   FOR USE 2000-0300Z. TEMPS NEG ABV 24000

{LOW}
ABI      1942+11 2430+11 2538+03 2564-13 2585-22 750237 751843 268947
ABQ              2438+02 2441-07 2571-18 2488-29 742538 743840 742844
ABR 0508 3510-05 3017-08 2925-14 2841-26 2768-33 268850 278952 278346"""

# bulletin, station, feet: direction, knots, °C
READ = [
    (THIRD, "ABI", 6000, 50, 17, 6),
    (THIRD, "ABI", 9000, 320, 9, 2),
    (THIRD, "ABI", 12000, 320, 21, -5),
    (THIRD, "ABI", 39000, 270, 108, -53),
    (THIRD, "ABQ", 9000, 330, 25, 3),
    (THIRD, "ABR", 3000, 320, 14, None),
    (THIRD, "ABR", 6000, 340, 31, -4),
    (THIRD, "ABR", 39000, 340, 43, -53),
    (HIGH, "ABI", 45000, 280, 84, -54),
    (HIGH, "ABI", 53000, 270, 54, -66),
    (FOURTH, "ABI", 6000, 190, 42, 11),
    (FOURTH, "ABR", 3000, 50, 8, None),
    # by hand after the rules of the code: from 100 kt on 50 is added to the tens of degrees; 9900 is light and variable
    (JANUARY, "ABR", 3000, 190, 14, None),
    (JANUARY, "ABR", 12000, None, 0, -18),
    (JANUARY, "ABR", 39000, 340, 104, -64),
    (JANUARY, "ALS", 12000, 310, 13, -8),
    (JANUARY, "AMA", 6000, 70, 8, None),
    (JANUARY, "AMA", 9000, 300, 11, -5),
    (JANUARY, "AMA", 34000, 350, 107, -54),
    (JANUARY, "BIH", 6000, None, 0, None),
    (JANUARY, "BIH", 9000, None, 0, 7),
    (JANUARY, "H61", 24000, 250, 103, -21),
    (JANUARY, "2XG", 39000, 250, 153, -59),
    (APRIL, "ABI", 39000, 230, 124, -56),
    (APRIL, "ALS", 18000, 300, 16, -20),
]


def row(text: str, station: str, feet: int) -> AloftRow | None:
    rows = read_aloft(text, station)[2]
    return next((r for r in rows if round(r.msl_m / FOOT) == feet), None)


@pytest.mark.parametrize(("text", "station", "feet", "direction", "knots", "temperature"), READ)
def test_groups(
    text: str, station: str, feet: int, direction: int | None, knots: int, temperature: int | None
) -> None:
    found = row(text, station, feet)
    assert found is not None
    assert (found.from_deg, found.temperature_c) == (direction, temperature)
    assert found.speed_mps == pytest.approx(knots * KNOT)


@pytest.mark.parametrize(
    ("text", "station", "feet"),
    [
        (THIRD, "ABI", 3000),
        (THIRD, "ABQ", 3000),
        (THIRD, "ABQ", 6000),
        (JANUARY, "ALS", 9000),
        (APRIL, "ABI", 3000),
    ],
)
def test_a_height_that_is_left_blank_has_no_wind(text: str, station: str, feet: int) -> None:
    assert row(text, station, feet) is None


def test_validity_and_field() -> None:
    """Alamosa lies at 7,539 ft: its first height, 12,000 ft above the sea, is 4,461 ft above the field."""
    found = read_report(JANUARY, elevation_m=7539 * FOOT, station="ALS")
    assert found.when == "valid 310600Z for use 0200-0900Z"
    assert found.points[0].agl_m == pytest.approx(4461 * FOOT)
    assert found.points[0].from_deg == 310.0


@pytest.mark.parametrize("heights", ["3000    6000    9000    6000    9000", "3000    9000    9000"])
def test_heights_that_do_not_rise_are_one_line(tmp_path: Path, heights: str) -> None:
    path = tmp_path / "aloft.txt"
    path.write_text(f"FT  {heights}\nXXX 2410 2415+05 2520+01\n")
    with pytest.raises(SettingsError, match="line 1: the heights of the bulletin do not rise"):
        read_winds(path, elevation_m=212.0)
