"""The command: exit codes, one clear line for bad input, clean JSON on stdout, nothing half-written."""

from __future__ import annotations

import gzip
import json
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import command
import pytest
from command import as_text

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample_tracks"
GPX = '<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{}</trkseg></trk></gpx>'


def crabline(*words: object, **environment: str) -> subprocess.CompletedProcess[str]:
    return as_text(command.crabline(*words, **environment))


def process(
    *words: str | Path, cwd: Path | None = None, **environment: str
) -> subprocess.CompletedProcess[str]:
    """The command in a process of its own."""
    env = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1", **environment}
    return subprocess.run(
        [sys.executable, "-m", "analyser", *map(str, words)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=cwd,
        env=env,
        timeout=600,
    )


def a_sample(suffix: str = ".gpx") -> Path:
    return sorted(SAMPLES.glob(f"*{suffix}"))[0]


def points(rows: Sequence[str]) -> str:
    return GPX.format("".join(rows))


def bad_inputs(folder: Path) -> dict[str, Path]:
    """Inputs that can not be used, each for a reason of its own."""
    no_time = [f'<trkpt lat="47" lon="{8 + i * 1e-5}"><ele>500</ele></trkpt>' for i in range(50)]
    no_place = [f"<trkpt><ele>500</ele><time>2026-06-14T10:00:{i:02}Z</time></trkpt>" for i in range(50)]
    no_height = [
        f'<trkpt lat="47" lon="{8 + i * 1e-5}"><time>2026-06-14T10:00:{i:02}Z</time></trkpt>'
        for i in range(50)
    ]
    content: dict[str, bytes] = {
        "empty.gpx": b"",
        "text.gpx": b"not a track at all\n" * 20,
        "picture.png": b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 4,
        "page.html": b"<html><body>hello</body></html>",
        "no_times.gpx": points(no_time).encode(),
        "no_heights.gpx": points(no_height).encode(),
        "no_positions.gpx": points(no_place).encode(),
        "no_points.gpx": points([]).encode(),
        "bare.fit": b"\x0e\x10\x5d\x08\x00\x00\x00\x00.FIT\x00\x00",
        "broken.gz": gzip.compress(b"x" * 1000)[:20],
    }
    for name, data in content.items():
        (folder / name).write_bytes(data)
    return {name: folder / name for name in content} | {
        "missing.gpx": folder / "missing.gpx",
        "folder": folder,
    }


BAD = [
    "empty.gpx", "text.gpx", "picture.png", "page.html", "no_times.gpx", "no_heights.gpx", "no_positions.gpx", "no_points.gpx",
    "bare.fit", "broken.gz", "missing.gpx", "folder",
]  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_one_line_and_exit_1(tmp_path: Path, name: str) -> None:
    bad = bad_inputs(tmp_path)[name]
    out = tmp_path / "out.json"
    page = tmp_path / "page_out.html"
    done = crabline("debrief", bad, "--json", out, "--html", page)
    assert done.returncode == 1, done.stderr
    assert done.stdout == ""
    assert done.stderr.startswith(f"error: {bad}: ")
    assert done.stderr.count("\n") == 1
    assert "; " in done.stderr, "what to do is missing"
    assert "Traceback" not in done.stderr
    assert not out.exists()
    assert not page.exists()


def test_debrief_of_a_sample_prints_and_writes(tmp_path: Path) -> None:
    out, page = tmp_path / "a.json", tmp_path / "a.html"
    done = crabline("debrief", a_sample(), "--json", out, "--html", page)
    assert done.returncode == 0, done.stderr
    assert "CAUTIONS" in done.stdout
    assert json.loads(out.read_text(encoding="utf-8"))["schema"] == "crabline.debrief/1"
    assert page.read_text(encoding="utf-8").lstrip().lower().startswith("<!doctype html>")


def test_json_on_stdout_is_clean_and_the_same_twice() -> None:
    days = [
        process("debrief", a_sample(".fit"), "--json", "-", TZ=zone, LC_ALL="C")
        for zone in ("UTC", "Asia/Tokyo")
    ]
    assert [d.returncode for d in days] == [0, 0]
    assert json.loads(days[0].stdout)["source"]["format"] == "fit"
    assert days[0].stdout == days[1].stdout


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_output_is_utf_8_whatever_the_locale_says(encoding: str) -> None:
    for words in (["--json", "-"], []):
        usual = crabline("debrief", a_sample(), *words)
        done = process("debrief", a_sample(), *words, PYTHONIOENCODING=encoding)
        assert (done.returncode, done.stderr) == (0, "")
        assert "±" in done.stdout
        assert done.stdout == usual.stdout


def test_plain_output_when_piped_or_without_colour() -> None:
    done = crabline("debrief", a_sample(), NO_COLOR="1", COLUMNS="80")
    assert "\x1b" not in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80


@pytest.mark.parametrize(
    "words",
    [
        ["debrief"],
        ["debrief", "x.gpx", "--units", "furlongs"],
        ["nonsense"],
        ["debrief", "x.gpx", "--target", "91,0"],
    ],
)
def test_wrong_usage_is_exit_2(words: list[str]) -> None:
    done = crabline(*words)
    assert done.returncode == 2
    assert done.stdout == ""
    assert "Traceback" not in done.stderr


def test_never_writes_over_an_input(tmp_path: Path) -> None:
    track = tmp_path / "mine.gpx"
    track.write_bytes(a_sample().read_bytes())
    before = track.read_bytes()
    for option in ("--json", "--html", "--gpx"):
        done = crabline("debrief", track, option, track)
        assert done.returncode == 1
        assert "over an input" in done.stderr
    assert track.read_bytes() == before


def test_a_truncated_file_is_used_and_said(tmp_path: Path) -> None:
    for suffix in (".gpx", ".fit"):
        whole = a_sample(suffix).read_bytes()
        cut = tmp_path / f"cut{suffix}"
        cut.write_bytes(whole[: int(len(whole) * 0.97)])
        done = crabline("debrief", cut, "--json", "-")
        assert done.returncode == 0, done.stderr
        codes = {n["code"] for n in json.loads(done.stdout)["quality"]["notes"]}
        assert any("trunc" in c or "cut" in c for c in codes), codes


def test_a_fit_with_a_wrong_checksum_is_used_and_said(tmp_path: Path) -> None:
    data = bytearray(a_sample(".fit").read_bytes())
    data[-1] ^= 0xFF
    bad = tmp_path / "crc.fit"
    bad.write_bytes(data)
    done = crabline("debrief", bad, "--json", "-")
    assert done.returncode == 0, done.stderr
    codes = {n["code"] for n in json.loads(done.stdout)["quality"]["notes"]}
    assert any("crc" in c or "checksum" in c for c in codes), codes


def test_gzip_and_suffix_do_not_matter(tmp_path: Path) -> None:
    odd = tmp_path / "track.bin"
    odd.write_bytes(gzip.compress(a_sample(".fit").read_bytes()))
    done = crabline("debrief", odd, "--json", "-")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["source"]["format"] == "fit"


def test_a_jump_that_is_not_there(tmp_path: Path) -> None:
    done = crabline("debrief", a_sample(), "--jump", "9")
    assert done.returncode == 1
    assert "no jump 9" in done.stderr


def test_info_and_sample_list() -> None:
    done = crabline("info", a_sample(), "--json", "-")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["source"]["points"] > 100
    listed = crabline("sample")
    assert listed.returncode == 0
    assert len(listed.stdout.splitlines()) >= 8


def test_sample_writes_track_and_truth(tmp_path: Path) -> None:
    name = crabline("sample").stdout.split()[0]
    done = crabline("sample", name, "--out", tmp_path)
    assert done.returncode == 0, done.stderr
    assert {p.suffix for p in tmp_path.iterdir()} & {".gpx", ".fit"}
    assert list(tmp_path.glob("*.truth.json"))
    wrong = crabline("sample", f"{name}x")
    assert wrong.returncode == 1
    assert name in wrong.stderr


def test_a_sample_that_can_not_be_written(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file, no folder", encoding="utf-8")
    done = crabline("sample", "late_final", "--out", tmp_path / "taken")
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.startswith("error: ")
    assert done.stderr.count("\n") == 1


def test_version_and_help() -> None:
    assert crabline("--version").stdout.startswith("crabline ")
    done = crabline("--help")
    assert done.returncode == 0
    for name in ("debrief", "plan", "season", "info", "sample"):
        assert name in done.stdout
        one = crabline(name, "--help")
        assert one.returncode == 0
        assert "Examples:\n  crabline " in one.stdout


def test_help_loads_nothing_heavy() -> None:
    script = (
        "import sys; sys.argv=['crabline','--help']\n"
        "from analyser.cli import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "print(sorted({m.split('.')[0] for m in sys.modules} & {'numpy','scipy','pandas','plotly','gpxpy'}), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT)
    assert done.stderr.strip() == "[]", done.stderr


def test_a_plan_is_drawn_in_the_air_of_its_field(tmp_path: Path) -> None:
    """True airspeed is that at sea level over the root of the density ratio: 0.822 at 2,000 m (ISO 2533), 10 % more."""
    speeds = []
    for elevation in (0, 2000):
        plan = tmp_path / f"{elevation}.toml"
        plan.write_text(
            f"[site]\nelevation_m = {elevation}\n[canopy]\nairspeed_mps = 10\nsink_mps = 4\n"
            "[pattern]\nlanding_deg = 0\n[[wind]]\nagl_ft = 0\nspeed_kt = 0\nfrom_deg = 0\n"
        )
        done = crabline("plan", "--plan", plan, "--json", "-")
        assert done.returncode == 0, done.stderr
        (final,) = (leg for leg in json.loads(done.stdout)["plans"][0]["legs"] if leg["leg"] == "final")
        speeds.append(final["ground_speed_mps"])
    assert speeds[1] / speeds[0] == pytest.approx(0.822**-0.5, rel=0.003)
