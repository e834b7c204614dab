"""read_settings: plan files (TOML) -> Settings, several of them merged, contradictions explained."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from analyser.errors import SettingsError
from analyser.pattern import LEG_NAMES
from analyser.settings.areas import read_areas
from analyser.settings.contradictions import check_plan
from analyser.settings.model import (
    PRESETS,
    Air,
    Canopy,
    Jumper,
    KeepOut,
    LandingDirection,
    PatternSetup,
    Settings,
    Site,
    WindPoint,
    WindReport,
)
from analyser.settings.picture import placed_picture
from analyser.settings.position import check_position, parse_position
from analyser.settings.read_keys import Entry, Given, parse_given, read_text
from analyser.settings.schema import PLAN_KEYS
from analyser.settings.standards import STANDARDS, AccuracyStandard
from analyser.track_titles import column_keys

__all__ = [
    "build_settings",
    "given_target",
    "merge_given",
    "parse_settings",
    "parse_target",
    "read_given",
    "read_settings",
]


def read_settings(
    paths: str | os.PathLike[str] | Sequence[str | os.PathLike[str]],
    *,
    target: tuple[float, float] | None = None,
) -> Settings:
    """Settings from plan files.

    Parameters
    ----------
    paths : path-like or sequence of them
        TOML files; a later one wins key by key. Arrays of tables (winds, landing directions, areas not to be overflown,
        standards) are replaced as a whole; a preset replaces the gate heights of the files before it.
    target : tuple of float, optional
        Latitude and longitude [deg, WGS 84]; beats them all.

    Returns
    -------
    Settings
        In SI units, checked key by key and against each other.

    Raises
    ------
    SettingsError
        Naming file, line, key and rule.

    Examples
    --------
    >>> settings = read_settings("shared/plans/first_light.toml")
    >>> settings.pattern.final_m  # 300 ft
    91.44
    """
    if isinstance(paths, (str, os.PathLike)):
        paths = [paths]
    return build_settings(merge_given(read_given(path) for path in paths), target=target)


def parse_settings(text: str, file: str = "plan") -> Settings:
    """Settings from the text of one plan file; ``file`` names it in errors."""
    return build_settings(parse_given(text, file, PLAN_KEYS))


def read_given(path: str | os.PathLike[str]) -> Given:
    """The keys one plan file gives, checked and in SI units."""
    return parse_given(read_text(Path(path)), os.fspath(path), PLAN_KEYS)


def parse_target(text: str) -> tuple[float, float]:
    """(lat, lon) in degrees, north and east positive, as people copy it (:func:`parse_position`). Raises SettingsError."""
    return parse_position(text)


def merge_given(parts: Iterable[Given]) -> Given:
    """Later parts win key by key; a later preset drops the gate heights given before it."""
    merged: Given = {}
    for part in parts:
        if "pattern.preset" in part:
            for gate in LEG_NAMES:
                merged.pop(f"pattern.{gate}", None)
        merged |= part
    return merged


def given_target(target: tuple[float, float] | None) -> Given:
    """A target (lat, lon) from elsewhere than a file, as a file would give it. Raises SettingsError where it is no place."""
    if target is None:
        return {}
    if what := check_position(*target):
        raise SettingsError(f"target: {what}")
    return {"site.target": Entry(target, "--target", f"{target[0]}, {target[1]}", "--target", None)}


def build_settings(given: Given, *, target: tuple[float, float] | None = None) -> Settings:
    """Settings from merged keys. Raises SettingsError where they contradict each other."""
    given = given | given_target(target)
    reports = _reports(given)
    settings = Settings(
        site=_site(given),
        jumper=Jumper(**_fields(given, "jumper", name="name")),
        canopy=_canopy(given),
        pattern=_pattern(given),
        wind=_wind(given, reports),
        air=_air(given, reports),
        reports=reports,
        standards=_standards(given),
        columns={key: given[f"columns.{key}"].value for key in column_keys() if f"columns.{key}" in given},
    )
    check_plan(settings, given)
    return settings


def _fields(given: Given, table: str, **names: str) -> dict[str, Any]:
    """Keyword arguments: field → value, for the keys that were given."""
    found = {name: given.get(f"{table}.{key}") for name, key in names.items()}
    return {name: entry.value for name, entry in found.items() if entry is not None}


def _canopy(given: Given) -> Canopy:
    return Canopy(
        **_fields(
            given,
            "canopy",
            name="name",
            area_m2="area",
            exit_weight_kg="exit_weight",
            airspeed_mps="airspeed",
            sink_mps="sink",
            airspeed_sd_mps="airspeed_sd",
            sink_sd_mps="sink_sd",
            bank_deg="bank",
        )
    )


def _site(given: Given) -> Site:
    fields = _fields(
        given,
        "site",
        name="name",
        target="target",
        elevation_m="elevation",
        min_final_turn_m="min_final_turn",
        directions="direction",
        keep_outs="keep_out",
    )
    fields["directions"] = tuple(
        LandingDirection(row["landing"].value % 360.0, row["hand"].value if "hand" in row else None)
        for row in fields.get("directions", ())
    )
    fields["keep_outs"] = tuple(
        KeepOut(row["name"].value if "name" in row else f"area {i}", row["below"].value, row["polygon"].value)
        for i, row in enumerate(fields.get("keep_outs", ()), 1)
    )
    if "site.areas" in given:
        keep_outs, fields["landing_areas"] = read_areas(given["site.areas"])
        fields["keep_outs"] += keep_outs
    if "site.picture" in given:
        fields["picture"] = placed_picture(given["site.picture"])
    return Site(**fields)


def _pattern(given: Given) -> PatternSetup:
    preset = given.get("pattern.preset")
    base = PatternSetup()
    if preset is not None:
        if preset.value not in PRESETS:
            known = ", ".join(f'"{name}"' for name in PRESETS)
            preset.fail(f'pattern.preset "{preset.value}" is not known', f"known presets: {known}")
        base = PRESETS[preset.value][0]
    heights = {f"{gate}_m": getattr(base, f"{gate}_m") for gate in LEG_NAMES}
    wanted = heights | _fields(given, "pattern", **{f"{gate}_m": gate for gate in LEG_NAMES})
    lowest = given.get("site.min_final_turn")
    if preset is None and lowest is not None and "pattern.final" not in given:
        wanted["final_m"] = max(base.final_m, lowest.value)  # nobody asked for a turn below the site's lowest
    fields = _fields(given, "pattern", hand="hand", landing_deg="landing")
    if "landing_deg" in fields:
        fields["landing_deg"] %= 360.0
    told = any(f"pattern.{key}" in given for key in ("preset", *LEG_NAMES))
    return PatternSetup(**fields, **wanted, preset=base.preset if wanted == heights else None, given=told)


def _wind(given: Given, reports: Sequence[WindReport]) -> tuple[WindPoint, ...]:
    rows = [row for row in _wind_rows(given) if not _told_by(row)]
    points = [WindPoint(row["agl"].value, row["speed"].value, row["from"].value % 360.0) for row in rows]
    points += [point for report in reports for point in report.points]
    return tuple(sorted({point.agl_m: point for point in reversed(points)}.values()))


def _wind_rows(given: Given) -> tuple[Given, ...]:
    return given["wind"].value if "wind" in given else ()


def _told_by(row: Given) -> str:
    """The key of a weather service's text in a row of [[wind]], or nothing."""
    return next((key for key in ("metar", "aloft", "taf") if key in row), "")


def _reports(given: Given) -> tuple[WindReport, ...]:
    """What weather services told, in the order of the rows. Raises SettingsError where a row is neither that nor a wind."""
    found = []
    for number, row in enumerate(_wind_rows(given)):
        entry = next(iter(row.values()), given["wind"])
        kind = _told_by(row)
        if not kind:
            for name in ("agl_ft", "speed_kt", "from_deg"):
                if name.partition("_")[0] not in row:
                    entry.fail(
                        f"wind[{number}] has no {name}", "give height, speed and from, or metar, aloft or taf"
                    )
            continue
        if len(set(row) - {"station", "at"}) > 1:
            entry.fail(f"{kind} says all of that wind", "leave out the other keys of this [[wind]]")
        found.append(_report(given, row[kind], row))
    return tuple(found)


def _report(given: Given, entry: Entry, row: Given) -> WindReport:
    from analyser.settings.reports import read_report

    elevation = given.get("site.elevation")
    try:
        told = {key: row[key].value for key in ("station", "at") if key in row}
        return read_report(entry.value, elevation.value if elevation else None, **told)
    except SettingsError as error:
        entry.fail(f"{entry.key}: {error.what}", error.hint)


def _air(given: Given, reports: Sequence[WindReport]) -> Air:
    """Temperature and pressure as given, else as the first report has them."""
    fields = _fields(given, "air", temperature_c="temperature", pressure_hpa="pressure")
    for name in ("temperature_c", "pressure_hpa"):
        told = [value for r in reports if (value := getattr(r.air, name)) is not None]
        if told:
            fields.setdefault(name, told[0])
    return Air(**fields)


def _standards(given: Given) -> tuple[AccuracyStandard, ...]:
    """The accuracy standards a site goes by, else the published ones."""
    if "site.standard" not in given:
        return STANDARDS
    rows = given["site.standard"].value
    return tuple(
        AccuracyStandard(row["name"].value, row["radius"].value, row["source"].value) for row in rows
    )
