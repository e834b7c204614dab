"""findings: small rules, each with threshold, unit and source, that turn numbers into at most a few neutral sentences."""

from analyser.findings.cautions import CAUTIONS, PLAN_CAUTIONS
from analyser.findings.find import (
    Finding,
    find_findings,
    into_wind_error_deg,
    render,
)
from analyser.findings.turns import left_open

__all__ = [
    "CAUTIONS",
    "PLAN_CAUTIONS",
    "Finding",
    "find_findings",
    "into_wind_error_deg",
    "left_open",
    "render",
]
