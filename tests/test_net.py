"""The net tells what differs, and nothing where nothing does."""

from __future__ import annotations

from pathlib import Path

from net import compare


def folder(top: Path, **files: str) -> Path:
    top.mkdir()
    for name, text in files.items():
        (top / name.replace("_", ".")).write_text(text, encoding="utf-8")
    return top


def test_same_folders_have_no_difference(tmp_path: Path) -> None:
    a, b = (folder(tmp_path / n, a_json='{"x": [1, 2]}', b_txt="one\n") for n in "ab")
    assert compare(a, b) == {}


def test_differences_are_told_by_kind(tmp_path: Path) -> None:
    a = folder(tmp_path / "a", a_json='{"x": [{"y": 1}, {"y": 2}]}', b_txt="one\ntwo\n", c_csv="")
    b = folder(tmp_path / "b", a_json='{"x": [{"y": 1}, {"y": 3}]}', b_txt="one\nthree\n")
    assert compare(a, b) == {
        "json x[].y": ["a.json: x[1].y: 2 -> 3"],
        "txt": ["b.txt: -two", "b.txt: +three"],
        "only in one": ["c.csv: only in the first"],
    }


def test_another_order_of_the_same_values_is_a_difference(tmp_path: Path) -> None:
    a = folder(tmp_path / "a", a_json='{"x": 1, "y": 2}')
    b = folder(tmp_path / "b", a_json='{"y": 2, "x": 1}')
    assert list(compare(a, b)) == ["json layout"]
