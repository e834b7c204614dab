"""Files of 20 MB made to be slow or fat, in every format: read and debriefed, or refused in one line, within a gigabyte of memory.

The promise is ten seconds of CPU; `python tests/fuzz/hostile.py` measures it on an idle machine. CPU seconds of a shared processor are three times
as many and more, so this holds sixty: enough to tell work that grows with the square of a file, which takes minutes.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from fuzz.hostile import FILES, SECONDS, SIZE, tried

SHARED = 6.0
FORMATS = ("GPX", "FIT", "TCX", "IGC", "NMEA", "table", "gzip")


def test_every_format_has_files() -> None:
    assert all(sum(name.startswith(f"{kind},") for name in FILES) >= 2 for kind in FORMATS)


@pytest.mark.slow
@pytest.mark.parametrize("name", FILES)
def test_a_hostile_file(name: str, tmp_path: Path) -> None:
    path = tmp_path / "hostile"
    path.write_bytes(FILES[name]())
    assert path.stat().st_size > SIZE / 2 or name.startswith("gzip")
    seconds, megabytes, what = tried(path)
    assert megabytes < 1000.0, what
    assert seconds < SHARED * SECONDS, what
    assert what.startswith("refused: ") or " fixes (" in what
