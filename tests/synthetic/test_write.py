"""Writers read back by other people's readers, and the demo tracks rebuilt."""

from __future__ import annotations

import io
import json
from pathlib import Path

import fitdecode
import fitparse
import gpxpy
import numpy as np
import pytest
from worlds.receivers import RECEIVERS

from analyser.errors import OutputError
from analyser.importers.read import read
from analyser.synthetic.demo import FIELD
from analyser.synthetic.kinds import kind_jump
from analyser.synthetic.samples import SITE_FILE, sample_names, write_sample, write_samples
from analyser.synthetic.write import fit_bytes, fit_crc, gpx_bytes, truth_bytes

ROOT = Path(__file__).resolve().parents[2]
SEMICIRCLE = 180.0 / 2**31


@pytest.mark.parametrize("receiver", ["plain", "1 Hz", "static hold", "no height", "leap back"])
def test_gpx_read_back_by_gpxpy(receiver: str) -> None:
    fixes = kind_jump(5, "hop-and-pop", receiver=RECEIVERS[receiver]).fixes
    data = gpx_bytes(fixes, name="a <b> & c")
    track = gpxpy.parse(data.decode()).tracks[0]
    points = track.segments[0].points
    assert track.name == "a <b> & c"
    assert len(points) == len(fixes)
    assert [p.latitude for p in points] == fixes.lat_deg.tolist()
    assert [p.longitude for p in points] == fixes.lon_deg.tolist()
    assert np.array([p.time.timestamp() for p in points]) == pytest.approx(fixes.time_s, abs=5e-4)
    heights = np.array([np.nan if p.elevation is None else p.elevation for p in points])
    assert heights == pytest.approx(fixes.altitude_m, nan_ok=True)
    if np.isfinite(fixes.speed_mps).any():
        assert [p.speed for p in points] == pytest.approx(fixes.speed_mps.tolist())


def test_whole_seconds_fit_read_back_by_fitparse_and_fitdecode() -> None:
    fixes = kind_jump(6, "hop-and-pop", receiver=RECEIVERS["static hold"]).fixes
    data = fit_bytes(fixes, barometer=True)
    rows = [m.get_values() for m in fitparse.FitFile(io.BytesIO(data)).get_messages("record")]
    assert len(rows) == len(fixes)
    assert [
        r["timestamp"].timestamp() if r["timestamp"].tzinfo else _utc(r["timestamp"]) for r in rows
    ] == fixes.time_s.tolist()
    assert np.array([r["position_lat"] for r in rows]) * SEMICIRCLE == pytest.approx(
        fixes.lat_deg, abs=SEMICIRCLE
    )
    assert np.array([r["position_long"] for r in rows]) * SEMICIRCLE == pytest.approx(
        fixes.lon_deg, abs=SEMICIRCLE
    )
    assert [r["enhanced_altitude"] for r in rows] == pytest.approx(fixes.altitude_m.tolist(), abs=0.11)
    assert [r["enhanced_speed"] for r in rows] == pytest.approx(fixes.speed_mps.tolist(), abs=6e-4)
    with fitdecode.FitReader(io.BytesIO(data), check_crc=fitdecode.CrcCheck.RAISE) as frames:
        again = [f for f in frames if isinstance(f, fitdecode.FitDataMessage) and f.name == "record"]
    assert [f.get_value("enhanced_altitude") for f in again] == [r["enhanced_altitude"] for r in rows]
    assert [f.get_raw_value("position_lat") for f in again] == [r["position_lat"] for r in rows]


def _utc(moment: object) -> float:
    text = str(moment)
    return float(
        (np.datetime64(text.replace(" ", "T")) - np.datetime64("1970-01-01T00:00:00"))
        / np.timedelta64(1, "s")
    )


def test_sub_second_fit_read_back_by_fitparse() -> None:
    fixes = kind_jump(6, "hop-and-pop", receiver=RECEIVERS["10 Hz with speed"]).fixes
    rows = [
        m.get_values() for m in fitparse.FitFile(io.BytesIO(fit_bytes(fixes))).get_messages("gps_metadata")
    ]
    assert len(rows) == len(fixes)
    times = [_utc(r["timestamp"]) + r["timestamp_ms"] / 1000.0 for r in rows]
    assert times == pytest.approx(fixes.time_s.tolist(), abs=1e-6)
    east = fixes.speed_mps * np.sin(np.radians(fixes.course_deg))
    assert [r["velocity"][0] for r in rows] == pytest.approx(east.tolist(), abs=0.0051)


def test_fit_crc_of_published_check_value() -> None:
    """CRC-16/ARC of "123456789" is 0xBB3D (catalogue of parametrised CRC algorithms, G. Cook): the FIT checksum is that CRC."""
    assert fit_crc(b"123456789") == 0xBB3D
    data = fit_bytes(kind_jump(6, "static line", receiver=RECEIVERS["1 Hz"]).fixes)
    assert fit_crc(data[:12]) == int.from_bytes(data[12:14], "little")
    assert fit_crc(data) == 0


@pytest.mark.parametrize("receiver", ["plain", "10 Hz with speed"])
def test_both_formats_give_the_recording(tmp_path: Path, receiver: str) -> None:
    jump = kind_jump(9, "ordinary", receiver=RECEIVERS[receiver])
    gpx, fit = tmp_path / "a", tmp_path / "b"
    gpx.write_bytes(gpx_bytes(jump.fixes, name="x"))
    fit.write_bytes(fit_bytes(jump.fixes))
    for path, height, place in ((gpx, 1e-9, 1e-9), (fit, 0.11, SEMICIRCLE)):
        got = read(path)
        assert got.time_s == pytest.approx(jump.recording.time_s, abs=5e-4)
        assert got.lat_deg == pytest.approx(jump.recording.lat_deg, abs=place)
        assert got.lon_deg == pytest.approx(jump.recording.lon_deg, abs=place)
        assert got.altitude_m == pytest.approx(jump.recording.altitude_m, abs=height)


def test_truth_file_is_json() -> None:
    truth = kind_jump(9, "ordinary").truth
    assert json.loads(truth_bytes(truth.to_json())) == truth.to_json()


def test_samples_are_many_and_small() -> None:
    names = sample_names()
    assert len(names) >= 8
    files = [p for p in (ROOT / "sample_tracks").iterdir() if p.is_file() and p.suffix != ".md"]
    assert {p.name.split(".")[0] for p in files} == set(names)
    assert {p.suffix for p in files} == {".gpx", ".fit", ".json"}
    assert sum(p.stat().st_size for p in files) < 4_000_000
    assert max(p.stat().st_size for p in files) < 1_000_000


def test_unknown_sample_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(KeyError):
        write_sample("no such", tmp_path)


def test_a_sample_is_written_over_itself_only(tmp_path: Path) -> None:
    paths = write_sample("first_light", tmp_path)
    assert write_sample("first_light", tmp_path) == paths
    paths[2].write_text("my own plan")
    paths[0].unlink()
    with pytest.raises(OutputError, match=r"first_light\.toml: is there already"):
        write_sample("first_light", tmp_path)
    assert paths[2].read_text() == "my own plan"
    assert not paths[0].exists(), "refused before anything was written"


def test_samples_are_what_is_committed(tmp_path: Path) -> None:
    """Rebuilt, every track and truth is the committed one: the same times, places to the last digit but one, the same truth."""
    written = write_samples(tmp_path / "tracks", tmp_path / "plans")
    for path in written:
        folder = ROOT / ("shared/plans" if path.suffix == ".toml" else "sample_tracks")
        committed = folder / path.name
        if path.suffix == ".toml":
            assert path.read_text() == committed.read_text()
        elif path.suffix == ".json":
            _like(json.loads(path.read_bytes()), json.loads(committed.read_bytes()))
        else:
            mine, theirs = read(path), read(committed)
            assert np.array_equal(mine.time_s, theirs.time_s)
            assert mine.lat_deg == pytest.approx(theirs.lat_deg, abs=2e-7)
            assert mine.lon_deg == pytest.approx(theirs.lon_deg, abs=2e-7)
            assert mine.altitude_m == pytest.approx(theirs.altitude_m, abs=0.21)
    assert (tmp_path / "plans" / SITE_FILE).exists()


def _like(mine: object, theirs: object) -> None:
    if isinstance(mine, dict):
        assert isinstance(theirs, dict)
        assert mine.keys() == theirs.keys()
        for key in mine:
            _like(mine[key], theirs[key])
    elif isinstance(mine, list):
        assert isinstance(theirs, list)
        assert len(mine) == len(theirs)
        for a, b in zip(mine, theirs):
            _like(a, b)
    elif isinstance(mine, float):
        assert mine == pytest.approx(theirs, abs=1.01 if abs(mine) <= 360.0 else 0.3)
    else:
        assert mine == theirs


def test_runway_of_the_invented_field() -> None:
    corners = FIELD.runway_polygon()
    assert len(corners) == 4
    north = [(lat - FIELD.lat_deg) * 111_200.0 for lat, _ in corners]
    assert max(north) < 300.0
