"""Output files are whole or absent, never over an input."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

from analyser.errors import OutputError
from analyser.writing import refuse_inputs, sweep_parts, write_chunks, write_text


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


def test_a_folder_and_a_file_in_place_of_one_are_one_line_and_a_missing_folder_is_made(
    tmp_path: Path,
) -> None:
    write_text(tmp_path / "new" / "a.json", "x")
    for out in (tmp_path, tmp_path / "new" / "a.json" / "b.json"):
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


@pytest.mark.parametrize("name", ["x" * 300, "d/" * 2500 + "x"])
def test_a_name_too_long_for_the_file_system_is_one_line(tmp_path: Path, name: str) -> None:
    with pytest.raises(OutputError, match="file name too long"):
        write_text(tmp_path / name, "x", inputs=[tmp_path / "a.gpx"])


def test_an_input_is_known_by_its_inode(tmp_path: Path) -> None:
    track = tmp_path / "track.gpx"
    track.write_text("x")
    os.link(track, tmp_path / "other.gpx")
    with pytest.raises(OutputError, match="over an input"):
        refuse_inputs([tmp_path / "new", tmp_path / "other.gpx"], [track])


@pytest.mark.skipif(os.name == "nt", reason="no locks")
def test_what_a_killed_writer_left_is_swept_and_a_living_one_kept(tmp_path: Path) -> None:
    left, theirs = tmp_path / ".a.json.x1.crabline-part", tmp_path / ".somebody.part"
    for path in (left, theirs):
        path.write_text("half")
        os.utime(path, (0, 0))

    def chunks() -> Iterator[bytes]:
        yield b"one "
        (mine,) = tmp_path.glob(".b.json.*")
        os.utime(mine, (0, 0))
        sweep_parts(tmp_path)
        assert mine.exists()
        yield b"two"

    write_chunks(tmp_path / "b.json", chunks())
    assert (tmp_path / "b.json").read_bytes() == b"one two"
    assert sorted(p.name for p in tmp_path.iterdir()) == [".somebody.part", "b.json"]


def test_the_folder_is_on_the_disk_too_after_a_rename(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[bool] = []
    monkeypatch.setattr("os.fsync", lambda handle: synced.append(stat.S_ISDIR(os.fstat(handle).st_mode)))
    write_text(tmp_path / "a.json", "x")
    assert synced == [False, True]


def test_null_device() -> None:
    write_text("/dev/null", "x")
