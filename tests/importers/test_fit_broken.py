"""FIT: the right answer or one clear error on every broken file."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
from effort import no_hang
from fitfile import EPOCH, NAMES, FitFile, fall, good
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analyser.errors import AnalyserError, FormatError, NoFixesError
from analyser.importers.fit import read_fit
from analyser.importers.raw import RawFixes

SAMPLES = Path(__file__).resolve().parents[2] / "sample_tracks"
REAL = Path(__file__).resolve().parents[2] / "shared" / "real" / "fit"
SEMI = 180.0 / 2**31


def codes(raw: RawFixes) -> set[str]:
    return {n.code for n in raw.notes}


# ---- broken ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("options", "code"),
    [
        ({"wrong_crc": True}, "wrong-crc"),
        ({"length": 0}, "length-missing"),
        ({"length": 10**6}, "file-cut"),
        ({"length": 0, "crc_bytes": 0}, "length-missing"),
        ({"crc_bytes": 0}, "crc-missing"),
        ({"crc_bytes": 1}, "crc-missing"),
        ({"header_crc": 0x1234}, None),
        ({"header": 20}, None),
    ],
)
def test_every_record_of_a_badly_closed_file_is_kept(options: dict[str, int], code: str | None) -> None:
    raw = read_fit(FitFile().table(fall(50), NAMES).build(**options))
    assert len(raw) == 50
    assert codes(raw) == ({code} if code else set())


def test_a_cut_file_keeps_its_beginning_at_every_length() -> None:
    data = good(8)
    record = 1 + 4 * 5
    start = 14 + 6 + 3 * 5
    for size in range(len(data)):
        complete = min(8, max(0, (size - start) // record))
        if complete == 0:
            with pytest.raises((FormatError, NoFixesError)):
                read_fit(data[:size])
        else:
            raw = read_fit(data[:size])
            assert len(raw) == complete
            assert codes(raw) & {"file-cut", "crc-missing"}


def test_message_without_definition_ends_the_reading() -> None:
    fit = FitFile().table(fall(10), NAMES)
    fit.data(9, b"xx").table(fall(10, start=1_780_001_000.0), NAMES)
    raw = read_fit(fit.build())
    assert len(raw) == 10
    assert "file-cut" in codes(raw)


def test_fixes_without_position_or_time_stay_as_not_a_number() -> None:
    rows = fall(10)
    rows[2]["position_lat"] = None
    rows[3]["timestamp"] = None
    raw = read_fit(FitFile().table(rows, NAMES).build())
    assert np.isnan(raw.lat_deg[2])
    assert np.isnan(raw.time_s[3])
    assert np.isfinite(raw.time_s[2])


@pytest.mark.parametrize(
    ("data", "error"),
    [
        (b"\x0e\x20\x00\x00\x00\x00\x00\x00.FIT", NoFixesError),
        (b"\x05" + good()[1:], FormatError),
        (FitFile().build(), NoFixesError),
        (FitFile().table(fall(9), ["timestamp", "enhanced_altitude"]).build(), NoFixesError),
    ],
    ids=["header only", "header size", "no message", "no position"],
)
def test_refused(data: bytes, error: type[AnalyserError]) -> None:
    with pytest.raises(error) as caught:
        read_fit(data)
    assert "\n" not in str(caught.value)


def test_empty_messages_and_endless_definitions_are_left() -> None:
    empty = FitFile().define(0, 99, [])
    empty.body += bytes(9_000_000)
    with no_hang(), pytest.raises(FormatError, match="empty messages"):
        read_fit(_unchecked(empty))
    many = FitFile()
    for i in range(6000):
        many.define(0, i, [])
    with no_hang(), pytest.raises(FormatError, match="without end"):
        read_fit(_unchecked(many))


def _unchecked(fit: FitFile) -> bytes:
    """The file without its checksum (the test writer's own is slow)."""
    return struct.pack("<BBHI4s", 12, 0x20, 2158, len(fit.body), b".FIT") + bytes(fit.body)


def test_hundreds_of_fields() -> None:
    fields = [(253, 4, 0x86), (0, 4, 0x85), (1, 4, 0x85)] + [(i, 8, 0x8F) for i in range(100, 252)]
    fit = FitFile().define(0, 20, fields)
    for row in fall(12):
        fit.data(
            0,
            struct.pack(
                "<Iii",
                int(row["timestamp"]) - EPOCH,
                round(row["position_lat"] / SEMI),
                round(row["position_long"] / SEMI),
            )
            + bytes(8 * 152),
        )
    assert len(read_fit(fit.build())) == 12


# ---- hypothesis --------------------------------------------------------------------------------------------------------

field = st.tuples(
    st.integers(0, 255),
    st.integers(0, 9),
    st.sampled_from([0, 1, 2, 7, 13, 0x83, 0x84, 0x85, 0x86, 0x88, 0x89, 0x8E, 0x99]),
)
piece = st.one_of(
    st.builds(
        lambda local, message, fields, dev: ("define", local, message, fields, dev),
        st.integers(0, 15),
        st.sampled_from([0, 20, 20, 20, 23, 160, 206, 207, 209, 65000]),
        st.lists(field, max_size=8),
        st.none()
        | st.lists(st.tuples(st.integers(0, 255), st.integers(0, 9), st.integers(0, 3)), max_size=3),
    ),
    st.builds(lambda local, raw: ("data", local, raw), st.integers(0, 15), st.binary(max_size=40)),
    st.builds(lambda raw: ("raw", raw), st.binary(max_size=6)),
    st.just(("good",)),
)


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(piece, max_size=12),
    st.booleans(),
    st.sampled_from([0, 1, 2]),
    st.none() | st.integers(0, 2000),
    st.none() | st.integers(0, 400),
)
def test_only_our_errors_escape(
    pieces: list[tuple[object, ...]], big: bool, crc_bytes: int, length: int | None, cut: int | None
) -> None:
    fit = FitFile(big_endian=big)
    for kind, *rest in pieces:
        if kind == "define":
            fit.define(*rest)
        elif kind == "data":
            fit.data(*rest)
        elif kind == "raw":
            fit.body += rest[0]
        else:
            fit.table(fall(5), NAMES)
    data = fit.build(crc_bytes=crc_bytes, length=length)[:cut]
    try:
        raw = read_fit(data)
    except AnalyserError:
        return
    assert len(raw) > 0
    assert np.any(np.isfinite(raw.lat_deg))
    for values in (raw.time_s, raw.altitude_m, raw.speed_mps, raw.lon_deg):
        assert values.shape == raw.lat_deg.shape
        assert not np.any(np.isinf(values))
