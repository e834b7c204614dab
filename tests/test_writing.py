"""Output files are whole or absent, never over an input."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from analyser.errors import OutputError
from analyser.writing import write_text


def test_writes_and_replaces(tmp_path: Path) -> None:
    out = tmp_path / "a.json"
    write_text(out, "one\n")
    write_text(out, "zwei ü\n")
    assert out.read_text(encoding="utf-8") == "zwei ü\n"
    assert [p.name for p in tmp_path.iterdir()] == ["a.json"]


def test_never_over_an_input_even_by_another_name(tmp_path: Path) -> None:
    track = tmp_path / "track.gpx"
    track.write_text("x")
    alias = tmp_path / "alias.gpx"
    alias.symlink_to(track)
    for out in (track, alias, tmp_path / "." / "track.gpx"):
        with pytest.raises(OutputError, match="over an input"):
            write_text(out, "y", inputs=[track])
    assert track.read_text() == "x"


def test_a_folder_and_a_missing_folder_are_one_line(tmp_path: Path) -> None:
    for out in (tmp_path, tmp_path / "no" / "a.json"):
        with pytest.raises(OutputError) as caught:
            write_text(out, "y")
        assert "\n" not in str(caught.value)


def test_a_failing_write_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = tmp_path / "a.json"
    write_text(out, "old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OutputError, match="no space left"):
        write_text(out, "new")
    assert out.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.json"]


@pytest.mark.skipif(os.name == "nt", reason="no permission bits")
def test_permissions_are_those_of_any_new_file_or_of_the_old_one(tmp_path: Path) -> None:
    out, plain = tmp_path / "a.json", tmp_path / "plain"
    plain.touch()
    write_text(out, "one")
    assert out.stat().st_mode == plain.stat().st_mode
    out.chmod(0o640)
    write_text(out, "two")
    assert out.stat().st_mode & 0o777 == 0o640


def test_null_device() -> None:
    write_text("/dev/null", "x")
