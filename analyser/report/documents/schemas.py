"""The JSON Schemas (draft 2020-12) of the documents, beside this file."""

from __future__ import annotations

from importlib import resources
from typing import Final

__all__ = ["DOCUMENTS", "schema_text"]

DOCUMENTS: Final = ("debrief", "plan", "season", "info", "load")


def schema_text(document: str = "debrief") -> str:
    """The schema of one of :data:`DOCUMENTS` as text."""
    folder = resources.files("analyser.report.documents")
    return folder.joinpath(f"{document}.schema.json").read_text(encoding="utf-8")
