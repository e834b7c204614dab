"""FIT: same fixes as the reference libraries on good files; the right answer or one clear error on every broken one."""

from __future__ import annotations

import struct
import warnings
from datetime import UTC, datetime
from pathlib import Path

import fitdecode
import fitparse
import numpy as np
import pytest
from fitfile import EPOCH, GPS, NAMES, FitFile, crc, fall, good
from fitparse.profile import MESSAGE_TYPES

from analyser.errors import NoFixesError
from analyser.importers.fit import FIT_EPOCH_S, read_fit
from analyser.importers.fit_chain import crc16
from analyser.importers.raw import RawFixes

SAMPLES = Path(__file__).resolve().parents[2] / "sample_tracks"
REAL = Path(__file__).resolve().parents[2] / "shared" / "real" / "fit"
SEMI = 180.0 / 2**31


def codes(raw: RawFixes) -> set[str]:
    return {n.code for n in raw.notes}


def row_of(values: dict[str, object]) -> tuple[object, ...]:
    """(time, lat, lon, altitude, speed) of a reference library's record; arrays give their first."""

    def first(*names: str) -> object:
        found = (values.get(n) for n in names)
        return next((x[0] if isinstance(x, tuple) else x for x in found if x is not None), None)

    stamp = values.get("timestamp")
    when = stamp.replace(tzinfo=UTC).timestamp() if isinstance(stamp, datetime) else None
    lat, lon = first("position_lat"), first("position_long")
    return (
        when,
        None if lat is None else lat * SEMI,
        None if lon is None else lon * SEMI,
        first("enhanced_altitude", "altitude"),
        first("enhanced_speed", "speed"),
    )


def by_fitparse(data: bytes) -> np.ndarray:
    fitparse.records.DEV_TYPES.clear()
    rows = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            for message in fitparse.FitFile(data, check_crc=False).get_messages("record"):
                rows.append(row_of(message.get_values()))
        except fitparse.utils.FitParseError:
            pass
    return np.array(rows, dtype=float).reshape(-1, 5)


def by_fitdecode(data: bytes, message: str = "record") -> np.ndarray:
    rows = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            with fitdecode.FitReader(data, check_crc=fitdecode.CrcCheck.DISABLED) as reader:
                for frame in reader:
                    if isinstance(frame, fitdecode.FitDataMessage) and frame.name == message:
                        rows.append(
                            row_of({f.name: f.value for f in frame.fields if f.field_def is not None})
                        )
        except fitdecode.FitError:
            pass
    return np.array(rows, dtype=float).reshape(-1, 5)


def ours(data: bytes) -> np.ndarray:
    raw = read_fit(data)
    return np.stack([raw.time_s, raw.lat_deg, raw.lon_deg, raw.altitude_m, raw.speed_mps], axis=1)


# ---- the reference libraries agree -------------------------------------------------------------------------------------


@pytest.mark.parametrize("big_endian", [False, True])
def test_same_fixes_as_both_libraries(big_endian: bool) -> None:
    data = good(200, big_endian=big_endian)
    for reference in (by_fitparse(data), by_fitdecode(data)):
        np.testing.assert_allclose(ours(data), reference, rtol=0, atol=1e-9)
    assert len(ours(data)) == 200


@pytest.mark.parametrize(
    "path", sorted(REAL.glob("*.fit")) or [None], ids=lambda p: p.name if p else "absent"
)
def test_real_files(path: Path | None) -> None:
    """Open files of other sports (python-fitparse, tests/files, MIT): what fitparse reads up to its first error, we read."""
    if path is None:
        pytest.skip("the shared real FIT files are not beside the repository")
    data = path.read_bytes()
    expected = max(by_fitparse(data), by_fitdecode(data), key=len)
    if not np.any(np.isfinite(expected[:, 1])):
        with pytest.raises(NoFixesError, match=r"without a position|no record"):
            read_fit(data)
        return
    found = ours(data)
    np.testing.assert_allclose(found[: len(expected)], expected, rtol=0, atol=1e-9)


@pytest.mark.parametrize(
    "path", sorted(SAMPLES.glob("*.fit")) or [None], ids=lambda p: p.name if p else "absent"
)
def test_sample_tracks_as_fitdecode_reads_them(path: Path | None) -> None:
    if path is None:
        pytest.skip("no sample tracks yet")
    data = path.read_bytes()
    expected = max(by_fitdecode(data, "gps_metadata"), by_fitdecode(data, "record"), key=len)
    found = ours(data)
    np.testing.assert_allclose(found[:, 1:3], expected[:, 1:3], rtol=0, atol=1e-9)
    np.testing.assert_allclose(
        np.floor(found[:, 0] + 1e-6), expected[:, 0], rtol=0
    )  # fractions stand in a field beside
    raw = read_fit(data)
    height = raw.altitude_m if raw.gps_altitude_m is None else raw.gps_altitude_m
    np.testing.assert_allclose(height, expected[:, 3], atol=1e-9)


def test_epoch_and_checksum_against_the_references() -> None:
    assert datetime(1989, 12, 31, tzinfo=UTC).timestamp() == FIT_EPOCH_S == EPOCH
    assert (
        crc16(b"123456789") == 0xBB3D
    )  # check value of CRC-16/ARC in the RevEng catalogue of CRC algorithms
    for size in (0, 1, 2, 7, 1000, 1001):
        data = np.random.default_rng(size).integers(0, 256, size, dtype=np.uint8).tobytes()
        assert crc16(data) == crc(data) == fitparse.records.Crc.calculate(data)


def test_gps_metadata_fields_are_the_profiles() -> None:
    """The test writer's field numbers and scales against fitparse's profile (FIT SDK 20.8)."""
    for name, (number, base, scale, offset) in GPS.items():
        known = MESSAGE_TYPES[160].fields.get(number)
        assert known is None or (known.name == name and (known.offset or 0) == offset)
        if known is not None and "position" not in name:
            assert (known.scale or 1) == scale
            assert known.type.name in (base, "date_time")


# ---- odd but good ------------------------------------------------------------------------------------------------------


def test_short_header_and_unknown_messages() -> None:
    fit = FitFile().define(3, 0xFF00, [(0, 4, 0x86)]).data(3, b"\1\2\3\4").table(fall(30), NAMES)
    assert len(read_fit(fit.build(header=12))) == 30
    assert not read_fit(fit.build(header=12)).notes


def test_enhanced_altitude_wins_over_an_overflown_short_one() -> None:
    rows = fall(20)
    for row in rows:
        row["altitude"] = None
        row["enhanced_altitude"] = 13_500.2
    data = FitFile().table(rows, [*NAMES, "altitude"]).build()
    np.testing.assert_allclose(read_fit(data).altitude_m, 13_500.2)
    rows[3]["enhanced_altitude"], rows[3]["altitude"] = None, 1234.4
    assert read_fit(FitFile().table(rows, [*NAMES, "altitude"]).build()).altitude_m[3] == pytest.approx(
        1234.4
    )


def test_enhanced_speed_wins_over_an_overflown_short_one() -> None:
    rows = fall(20)
    for row in rows:
        row["speed"], row["enhanced_speed"] = 4.0, 71.5
    rows[3]["speed"], rows[3]["enhanced_speed"] = 6.5, None
    speed = read_fit(FitFile().table(rows, [*NAMES, "speed"]).build()).speed_mps
    assert speed[3] == pytest.approx(6.5)
    np.testing.assert_allclose(np.delete(speed, 3), 71.5)


def test_a_stamp_of_an_early_year_is_a_date_and_no_time_of_the_device() -> None:
    """Counts of seconds below 0x10000000 (2 July 1998) are from the device's start (FIT profile, type date_time)."""
    for start in (EPOCH + 0x10000000, 1_100_000_000):
        data = FitFile().table(fall(20, start=float(start)), NAMES).build()
        assert read_fit(data).time_s[0] == start
    early = FitFile().table(fall(20, start=float(EPOCH + 0x0FFFFF00)), NAMES).build()
    assert np.isnan(read_fit(early).time_s).all()


def test_altitude_as_an_array_takes_the_first() -> None:
    rows = fall(20)
    for row in rows:
        row["enhanced_altitude"] = [812.2, 99.0]
    data = FitFile().table(rows, NAMES, counts={"enhanced_altitude": 2}).build()
    np.testing.assert_allclose(read_fit(data).altitude_m, 812.2)


def test_compressed_time_stamps() -> None:
    """Stamps of five bits that roll over every 32 s, against both libraries."""
    rows = fall(100)
    fit = FitFile().table(rows[:1], NAMES)
    fit.define(1, 20, [(0, 4, 0x85), (1, 4, 0x85), (78, 4, 0x86)])
    paused = [*range(1, 40), *range(60, 100)]  # a pause of 21 s, less than the 32 s that five bits can tell
    for i in paused:
        row = rows[i]
        place = struct.pack(
            "<iiI",
            round(row["position_lat"] / SEMI),
            round(row["position_long"] / SEMI),
            round((row["enhanced_altitude"] + 500) * 5),
        )
        fit.data(1, place, compressed_offset=int(rows[0]["timestamp"] - EPOCH + i) & 31)
    data = fit.build()
    assert np.diff(read_fit(data).time_s).tolist() == [1.0] * 39 + [21.0] + [1.0] * 39
    np.testing.assert_allclose(ours(data)[:, :4], by_fitparse(data)[:, :4], rtol=0, atol=1e-9)


def test_chained_files_and_trailing_bytes() -> None:
    first, second = good(30), FitFile().table(fall(30, start=1_780_009_000.0), NAMES).build()
    raw = read_fit(first + second)
    assert len(raw) == 60
    assert len(set(raw.segment.tolist())) == 2
    assert not raw.notes
    raw = read_fit(first + b"garbage" * 9)
    assert len(raw) == 30
    assert codes(raw) == {"trailing-bytes"}
    cut = read_fit(first + second[:-100])
    assert 30 < len(cut) < 60
    assert "file-cut" in codes(cut)


@pytest.mark.parametrize("described", [True, False])
def test_developer_fields_are_stepped_over(described: bool) -> None:
    """With and without the description that names them (fitparse gives up without)."""
    fit = FitFile()
    if described:
        fit.define(1, 207, [(3, 1, 0x02)]).data(1, b"\0")
        fit.define(2, 206, [(0, 1, 2), (1, 1, 2), (2, 1, 2), (3, 4, 7)]).data(2, b"\0\0\1hum\0")
    fit.define(0, 20, [(253, 4, 0x86), (0, 4, 0x85), (1, 4, 0x85), (78, 4, 0x86)], developer=[(0, 1, 0)])
    for row in fall(25):
        fit.data(
            0,
            struct.pack(
                "<IiiIB",
                int(row["timestamp"]) - EPOCH,
                round(row["position_lat"] / SEMI),
                round(row["position_long"] / SEMI),
                round((row["enhanced_altitude"] + 500) * 5),
                7,
            ),
        )
    data = fit.build()
    assert len(read_fit(data)) == 25
    if described:
        np.testing.assert_allclose(ours(data)[:, :4], by_fitparse(data)[:, :4], atol=1e-9)


def test_wrong_field_sizes_cost_the_field_only() -> None:
    """A two-byte field of three bytes and one of no bytes stand in real files; fitparse refuses those."""
    fit = FitFile().define(
        0, 20, [(253, 4, 0x86), (0, 4, 0x85), (1, 4, 0x85), (78, 4, 0x86), (6, 3, 0x84), (3, 0, 0x02)]
    )
    for row in fall(25):
        fit.data(
            0,
            struct.pack(
                "<IiiI3s",
                int(row["timestamp"]) - EPOCH,
                round(row["position_lat"] / SEMI),
                round(row["position_long"] / SEMI),
                round((row["enhanced_altitude"] + 500) * 5),
                b"abc",
            ),
        )
    raw = read_fit(fit.build())
    assert len(raw) == 25
    assert np.all(np.isfinite(raw.lat_deg))


def gps_rows(n: int, stamp: int, *, utc: int | None = None, hz: int = 10) -> list[dict[str, object]]:
    return [
        {
            "timestamp": stamp + i // hz,
            "timestamp_ms": 1000 * (i % hz) // hz,
            "position_lat": 47.0 + i * 1e-6,
            "position_long": 8.0,
            "enhanced_altitude": 900.0 - i * 0.4,
            "enhanced_speed": 9.0,
            "utc_timestamp": None if utc is None else utc - EPOCH + i // hz,
            "velocity": [3.0, -4.0, -5.0],
        }
        for i in range(n)
    ]


def test_gps_metadata_gives_tenths_velocity_and_climb() -> None:
    names = ["timestamp", "timestamp_ms", "position_lat", "position_long", "enhanced_altitude", "velocity"]
    fit = FitFile().table(gps_rows(80, 1_780_000_000), names, message=160, known=GPS, counts={"velocity": 3})
    raw = read_fit(fit.build())
    np.testing.assert_allclose(np.diff(raw.time_s), 0.1, atol=1e-6)
    np.testing.assert_allclose(raw.speed_mps, 5.0)
    np.testing.assert_allclose(raw.course_deg, np.degrees(np.arctan2(3.0, -4.0)))
    assert raw.climb_mps is not None
    np.testing.assert_allclose(raw.climb_mps, -5.0)
    assert raw.altitude_source == "gps"


def test_gps_metadata_in_the_time_of_the_device() -> None:
    """Stamps that count from the start of the device are set by the UTC stamps beside them."""
    names = [
        "timestamp",
        "timestamp_ms",
        "position_lat",
        "position_long",
        "enhanced_altitude",
        "utc_timestamp",
    ]
    fit = FitFile().table(gps_rows(40, 5000, utc=1_780_000_000), names, message=160, known=GPS)
    raw = read_fit(fit.build())
    assert raw.time_s[0] == pytest.approx(1_780_000_000, abs=1e-6)
    np.testing.assert_allclose(np.diff(raw.time_s), 0.1, atol=1e-6)
    assert codes(raw) == {"system-time"}


def test_barometer_is_told_and_its_height_set_beside_the_satellites() -> None:
    rows = fall(60)
    names = ["timestamp", "timestamp_ms", "position_lat", "position_long", "enhanced_altitude"]
    fit = FitFile().define(2, 23, [(25, 1, 0), (1, 1, 2)]).data(2, b"\5\4").table(rows, NAMES)
    fit.table(gps_rows(600, int(rows[0]["timestamp"])), names, message=160, known=GPS, local=1)
    raw = read_fit(fit.build())
    assert raw.altitude_source == "barometric"
    assert raw.gps_altitude_m is not None
    assert raw.altitude_m[100] == pytest.approx(rows[10]["enhanced_altitude"], abs=0.2)
    assert raw.gps_altitude_m[100] == pytest.approx(860.0, abs=0.2)
    late = gps_rows(200, int(rows[0]["timestamp"]) + 55)
    beyond = FitFile().define(2, 23, [(25, 1, 0), (1, 1, 2)]).data(2, b"\5\4").table(rows, NAMES)
    height = read_fit(beyond.table(late, names, message=160, known=GPS, local=1).build()).altitude_m
    assert np.flatnonzero(np.isfinite(height)).tolist() == list(
        range(71)
    )  # 3 s after the last reading, at 59 s
    assert read_fit(good()).altitude_source == "unknown"


def test_device_is_named() -> None:
    fit = (
        FitFile()
        .define(1, 0, [(1, 2, 0x84), (2, 2, 0x84)])
        .data(1, struct.pack("<HH", 255, 7))
        .table(fall(9), NAMES)
    )
    assert read_fit(fit.build()).device == "development 7"
