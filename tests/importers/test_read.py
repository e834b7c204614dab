"""read: files that are none, and fixes that are none, each with its one line or its counted note."""

from __future__ import annotations

import gzip
import hashlib
import math
import os
import stat
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from fitfile import NAMES, FitFile, fall, good
from fix_cases import counts, descent

from analyser.errors import FormatError, NoFixesError, UnreadableError
from analyser.importers.drop_unusable import clean
from analyser.importers.notes import NOTE_CODES
from analyser.importers.read import read
from analyser.track import build_track

ROOT = Path(__file__).resolve().parents[2]


def write(folder: Path, data: bytes | str, name: str = "track.gpx") -> Path:
    path = folder / name
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return path


# ---- the file --------------------------------------------------------------------------------------------------------


def test_a_file_gives_its_fixes_name_and_digest(tmp_path: Path) -> None:
    fixes = descent()
    path = write(tmp_path, fixes.gpx())
    found = read(path)
    assert len(found) == fixes.t.size
    assert found.notes == ()
    assert found.file == "track.gpx"
    assert found.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    np.testing.assert_allclose(found.lat_deg, fixes.lat, rtol=0, atol=1e-7)
    np.testing.assert_allclose(found.time_s, fixes.t, rtol=0, atol=1e-6)
    assert read(str(path)).sha256 == found.sha256


@pytest.mark.parametrize("name", ["a.fit", "a.txt", "a", "a.gpx.gz", "a\nb\x1b[31m.gpx"])
def test_content_decides_never_the_suffix(tmp_path: Path, name: str) -> None:
    assert read(write(tmp_path, descent().gpx(), name)).format == "gpx"
    assert read(write(tmp_path, gzip.compress(descent().gpx().encode()), name)).format == "gpx"
    assert read(write(tmp_path, good(), name)).format == "fit"
    packed = write(tmp_path, gzip.compress(good()), name)
    assert read(packed).format == "fit"
    assert read(packed).sha256 == hashlib.sha256(packed.read_bytes()).hexdigest()


def test_gzip_in_members_with_padding(tmp_path: Path) -> None:
    data = descent().gpx().encode()
    parts = gzip.compress(data[:5000]) + gzip.compress(data[5000:]) + bytes(512)
    assert read(write(tmp_path, parts)).notes == ()


def test_a_cut_gzip_keeps_what_comes_before(tmp_path: Path) -> None:
    packed = gzip.compress(descent(10).gpx().encode())
    found = read(write(tmp_path, packed[: len(packed) // 2]))
    assert 100 < len(found) < 3400
    assert "file-cut" in counts(found)
    with pytest.raises(FormatError):
        read(write(tmp_path, packed[:12]))


def test_a_gzip_with_a_wrong_checksum_keeps_everything(tmp_path: Path) -> None:
    """The last eight bytes are checksum and length (RFC 1952, 2.3.1); they come after all data."""
    plain = descent(40).gpx().encode()
    whole = read(write(tmp_path, plain))
    for place in (-8, -1):
        packed = bytearray(gzip.compress(plain))
        packed[place] ^= 0xFF
        found = read(write(tmp_path, bytes(packed)))
        assert found.time_s.tolist() == whole.time_s.tolist()
        assert [n.code for n in found.notes][:1] == ["file-cut"]


def test_gzip_bombs_are_refused(tmp_path: Path) -> None:
    bomb = gzip.compress(b"<gpx>" + b" " * 60_000_000)
    assert len(bomb) < 100_000
    with pytest.raises(FormatError, match="unpacks to far more"):
        read(write(tmp_path, bomb))
    with pytest.raises(FormatError, match="unpacks to far more"):
        read(write(tmp_path, gzip.compress(good()[:40] + bytes(60_000_000))))
    with pytest.raises(FormatError, match="gzip file within"):
        read(write(tmp_path, gzip.compress(gzip.compress(b"<gpx/>"))))


def test_a_gzip_within_the_ratio_is_refused_by_its_size(tmp_path: Path) -> None:
    """Half-random text packs about four times: far from a bomb by ratio, yet more than 45 MB of it is too much."""
    text = np.random.default_rng(1).integers(32, 64, 1_000_000, dtype=np.uint8).tobytes().replace(b"<", b" ")
    whole = gzip.compress(b"<gpx>") + gzip.compress(text.replace(b"&", b" "), 1) * 50
    assert len(whole) > 50_000_000 / 20
    with pytest.raises(FormatError, match="unpacks to more than 45 MB"):
        read(write(tmp_path, whole))


@pytest.mark.parametrize(
    ("data", "match"),
    [
        (b"", "empty"),
        (b"  \r\n\t ", "blanks"),
        (b"\xef\xbb\xbf", "blanks"),
        (b"a track, but in words", "not a track: neither GPX, FIT, IGC"),
        (b"\x89PNG\r\n\x1a\n" + bytes(50), "a picture"),
        (b"\xff\xd8\xff\xe0" + bytes(50), "a picture"),
        (b"PK\x03\x04" + bytes(50), "ZIP"),
        (bytes(1000), "neither"),
        (b"\x1f\x8b junk", "gzip file is damaged"),
        (b"time,lat,lon\n1,2,3\n", "no column altitude_m"),
    ],
)
def test_other_content_is_named(tmp_path: Path, data: bytes, match: str) -> None:
    path = write(tmp_path, data)
    with pytest.raises(FormatError, match=match) as caught:
        read(path)
    assert str(caught.value).startswith(f"{path}: ")
    assert "\n" not in str(caught.value)


def test_what_is_no_file(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    (tmp_path / "gone").symlink_to(tmp_path / "nowhere")
    for path, match in (
        (tmp_path / "nothing.gpx", "no such file"),
        (tmp_path, "a folder"),
        (tmp_path / "pipe", "not a regular file"),
        (Path("/dev/null"), "not a regular file"),
        (tmp_path / "loop", "in a circle"),
        (tmp_path / "gone", "no such file"),
        (tmp_path / "track.gpx" / "x", "no such file"),
        (tmp_path / ("n" * 300), "name"),
        ("a\0b", "name"),
    ):
        write(tmp_path, descent().gpx())
        with pytest.raises(UnreadableError, match=match) as caught:
            read(path)
        assert "\n" not in str(caught.value)


def test_a_link_to_a_file_is_followed(tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to(write(tmp_path, descent().gpx()))
    assert read(tmp_path / "link").file == "link"


def test_too_large(tmp_path: Path) -> None:
    path = tmp_path / "endless.gpx"
    with path.open("wb") as file:
        file.truncate(2_000_000_000)
    with pytest.raises(UnreadableError, match="too large"):
        read(path)


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="the superuser may read everything")
def test_no_permission(tmp_path: Path) -> None:
    path = write(tmp_path, descent().gpx())
    path.chmod(stat.S_IWUSR)
    with pytest.raises(UnreadableError, match="no permission"):
        read(path)


def test_nothing_but_the_input_is_opened(tmp_path: Path) -> None:
    """An audit hook sees every file and socket opened while hostile and good files are read."""
    names = {
        "good.gpx": descent().gpx(),
        "entity.gpx": '<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/hostname">]><gpx><trk>&x;</trk></gpx>',
        "dtd.gpx": '<!DOCTYPE gpx SYSTEM "http://localhost/x.dtd"><gpx/>',
        "stylesheet.gpx": '<?xml-stylesheet href="http://localhost/x.xsl"?>' + descent().gpx(),
    }
    paths = [str(write(tmp_path, text, name)) for name, text in names.items()] + [
        str(write(tmp_path, good(), "a.fit"))
    ]
    script = (
        "import sys\nfrom analyser.importers.read import read\nfrom analyser.errors import AnalyserError\nseen=[]\n"
        "def hook(event, args):\n"
        "    if event in ('open','os.listdir') or event.startswith(('socket','subprocess','os.exec','urllib')): seen.append((event, str(args[0])))\n"
        "for path in (sys.argv[1], sys.argv[-1]):\n    read(path)\n"
        "sys.addaudithook(hook)\n"
        "for path in sys.argv[1:]:\n    try: read(path)\n    except AnalyserError: pass\n"
        "print([s for s in seen if s[1] not in sys.argv[1:] and not s[1].isdigit()])"  # digits: an open descriptor
    )
    done = subprocess.run(
        [sys.executable, "-c", script, *paths], capture_output=True, text=True, cwd=ROOT, check=True
    )
    assert done.stdout.strip() == "[]"


REAL = ROOT / "shared" / "real" / "fit"


@pytest.mark.parametrize(
    "path", sorted(REAL.glob("*.fit")) or [None], ids=lambda p: p.name if p else "absent"
)
def test_real_fit_files_through_to_a_track(path: Path | None) -> None:
    """Open files of other sports (python-fitparse, tests/files, MIT): a recording and a track, or one line."""
    if path is None:
        pytest.skip("the shared real FIT files are not beside the repository")
    if path.name.startswith("20170518"):
        with pytest.raises(NoFixesError, match="records without a position"):
            read(path)
        return
    found = read(path)
    assert len(found) >= 14
    assert found.format == "fit"
    assert found.device
    assert len(build_track(found)) == len(found)


# ---- nothing left ------------------------------------------------------------------------------------------------------


def test_a_track_without_times() -> None:
    with pytest.raises(NoFixesError, match="no point of the track has a time"):
        clean(descent().raw(time_s=np.full(340, np.nan)))


def test_a_track_without_places() -> None:
    with pytest.raises(NoFixesError, match="both a time and a position"):
        clean(descent().raw(lat_deg=np.full(340, 999.0)))


def test_a_fit_file_in_tenths_without_fractions(tmp_path: Path) -> None:
    rows = fall(600, hz=10)
    for row in rows:
        row["timestamp"] = math.floor(row["timestamp"])
    found = read(write(tmp_path, FitFile().table(rows, NAMES).build(), "a.fit"))
    assert "stamps-spread" in counts(found)
    assert np.median(np.diff(found.time_s)) == pytest.approx(0.1)


# ---- the codes are kept ------------------------------------------------------------------------------------------------


def test_every_code_is_in_the_table_and_in_the_page() -> None:
    import re

    page = (ROOT / "docs" / "quality-notes.md").read_text(encoding="utf-8")
    names = [*sorted((ROOT / "analyser" / "importers").glob("*.py"))]
    names += sorted((ROOT / "analyser" / "track").glob("*.py"))
    used = set()
    for path in names:
        text = path.read_text(encoding="utf-8")
        used |= set(re.findall(r'(?:Note|note)\(\s*"([a-z0-9-]+)"', text))
        used |= set(re.findall(r'(?:^\s*\(|, )"([a-z]+(?:-[a-z]+)+|spike|frozen)",? ', text, re.M))
    assert used - {"utf-8"} <= set(NOTE_CODES)
    assert {"no-time", "spike", "duplicate", "file-cut"} <= used
    for code, meaning in NOTE_CODES.items():
        assert f"| `{code}` | {meaning} |" in page
