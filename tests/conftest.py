"""For every test: no property is judged by how long one example took, for that depends on what else the machine does."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")
