"""For every test: no property is judged by how long one example took, for that depends on what else the machine does; what can not run here is
left out together, not skipped one by one."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from browser import no_browser
from hypothesis import HealthCheck, settings

settings.register_profile("unhurried", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("unhurried")

HERE = Path(__file__).resolve().parent
STORK = HERE.parents[1] / "shared" / "real" / "stork_circling_1hz.csv"
collect_ignore = [] if STORK.exists() else ["wind/test_storks.py"]


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Without a browser one test that wants it is skipped and tells of all; the others are left out. CI fails instead."""
    wanting = [item for item in items if item.get_closest_marker("browser")]
    if len(wanting) < 2 or os.environ.get("CI") or not no_browser():
        return
    reason = f"no playwright or no Chromium on this machine: {len(wanting)} tests in it were left out"
    wanting[0].add_marker(pytest.mark.skip(reason=reason))
    config.hook.pytest_deselected(items=wanting[1:])
    items[:] = [item for item in items if item not in set(wanting[1:])]
