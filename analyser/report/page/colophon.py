"""The foot of the page: what made it, from which file, and every threshold of the method with its source."""

from __future__ import annotations

from dataclasses import fields

from analyser._version import __version__
from analyser.debrief import Debrief
from analyser.report.markup import table
from analyser.report.page.shell import escape
from analyser.settings import Method, Threshold

__all__ = ["colophon"]


def colophon(debrief: Debrief) -> str:
    """Provenance and method."""
    sha = debrief.recording.sha256
    source = f", SHA-256 <code>{escape(sha)}</code>" if sha else ""
    made = f"Made by crabline {escape(__version__)} from {escape(debrief.recording.file or 'a recording')}{source}."
    return f"<p>{made} This page asks nothing of the network.</p>{_method(debrief.settings.method)}"


def _method(method: Method) -> str:
    rows = []
    for one in fields(method):
        value = getattr(method, one.name)
        if isinstance(value, Threshold):
            unit = "" if value.unit == "1" else f" {escape(value.unit)}"
            rows.append((one.name.replace("_", " "), f"{value.value:g}{unit}", escape(value.source)))
    text = table(
        "Thresholds of the method (SI units)",
        ("threshold", "value", "where it comes from"),
        rows,
        words=frozenset({2}),
    )
    return f'<details class="noprint"><summary>Thresholds of the method and their sources</summary>{text}</details>'
