"""What weather services gave of the wind, side by side with what was found in the track."""

from __future__ import annotations

from typing import Any

from analyser.report.documents.given_winds import given_report, given_winds
from analyser.report.story.blocks import Blocks, Cell, Points, Sentence, Table, bearing, height, speed
from analyser.sentences import Number
from analyser.settings import Settings, WindReport
from analyser.wind.profile import WindProfile

__all__ = ["report_given", "told_and_found"]

LEFT_OUT = "Heights above the flight are left out ({n})."


def told_and_found(settings: Settings, profile: WindProfile) -> Blocks:
    """A row for each height of a report or a forecast that the flight reached; gusts apart. Nothing where none was given."""
    if not settings.reports:
        return ()
    top = float(profile.agl_m[-1])
    rows: list[tuple[Cell, ...]] = []
    remarks: list[Sentence] = []
    beyond = 0
    for source in given_winds(settings, profile):
        kind = source["kind"]
        label = " ".join(filter(None, (kind, source["station"])))
        for row in source["heights"]:
            if row["agl_m"] > top:
                beyond += 1
            else:
                rows.append((label, height(row["agl_m"]), _told(row), _found(row)))
        if kind != "plan":
            remarks.append(_about(source, label))
    remarks += [Sentence(LEFT_OUT, {"n": str(beyond)})] if beyond else []
    table = Table("Given and found", ("by", "height", "given", "found in the track"), tuple(rows))
    return (table if rows else None, Points(tuple(remarks)))


def report_given(report: WindReport) -> Sentence:
    """Station and time of a report or a forecast, its gusts and range of directions."""
    label = " ".join(filter(None, (report.kind, report.station)))
    return _about(given_report(report), label, report.loosest_mps)


def _about(source: dict[str, Any], label: str, loose_mps: float = 0.0) -> Sentence:
    """When it holds, its gusts and range of directions; ``loose_mps`` the speed of a wind without one, where it is shown nowhere else."""
    text = ["{label}: {when}"]
    values: dict[str, Number | float | str | None] = {
        "label": label,
        "when": source["when"] or "no time",
    }
    if loose_mps:
        text.append("variable, up to {loose}")
        values |= {"loose": speed(loose_mps)}
    between = source["from_range_deg"]
    if between is not None:
        text.append("varying between {low} and {high}")
        values |= {"low": bearing(between[0]), "high": bearing(between[1])}
    if source["gust_mps"] is not None:
        text.append("gusts of {gust}, which are in no mean here")
        values |= {"gust": speed(source["gust_mps"])}
    return Sentence(", ".join(text) + ". Its error is not known.", values)


def _told(row: dict[str, Any]) -> Cell:
    if row["variable"]:
        return (
            Sentence("variable, up to {speed}", {"speed": speed(row["speed_mps"])})
            if row["speed_mps"]
            else "calm"
        )
    return _wind(row["from_deg"], row["speed_mps"]) if row["speed_mps"] else "calm"


def _found(row: dict[str, Any]) -> Cell:
    known = row["recovered_speed_mps"]
    return "–" if known is None else _wind(row["recovered_from_deg"], known)


def _wind(from_deg: float, speed_mps: float) -> Sentence:
    return Sentence("{deg}, {speed}", {"deg": bearing(from_deg), "speed": speed(speed_mps)})
