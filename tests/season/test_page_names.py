"""How large a season may be for one page."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from analyser.season.page_names import is_large


@pytest.mark.parametrize(
    ("jumpers", "jumps", "large"),
    [(1, 30, False), (60, 1500, False), (61, 100, True), (2, 1501, True)],
)
def test_what_is_too_much_for_one_page(jumpers: int, jumps: int, large: bool) -> None:
    assert is_large(SimpleNamespace(jumpers=range(jumpers), jumps=jumps)) is large  # type: ignore[arg-type]
