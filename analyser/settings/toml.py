"""read_settings: plan files (TOML) -> Settings, several of them merged, contradictions explained."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from analyser.errors import SettingsError
from analyser.pattern import LEG_NAMES
from analyser.settings.check import check_plan
from analyser.settings.columns import column_keys
from analyser.settings.given import Entry, Given, check_position, parse_given, read_text
from analyser.settings.model import (
    PRESETS,
    STANDARDS,
    AccuracyStandard,
    Canopy,
    Jumper,
    KeepOut,
    LandingDirection,
    PatternSetup,
    Settings,
    Site,
    WindPoint,
)
from analyser.settings.picture import placed_picture
from analyser.settings.schema import PLAN_KEYS

__all__ = ["build_settings", "merge_given", "parse_settings", "parse_target", "read_given", "read_settings"]

_NUMBER = r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*"
_TARGET = re.compile(rf"^{_NUMBER}[,;\s]{_NUMBER}$", re.ASCII)


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
    """(lat, lon) in degrees from ``"LAT,LON"``, north and east positive. Raises SettingsError."""
    found = _TARGET.match(text)
    if found is None:
        raise SettingsError(
            f"target {text[:40]!r} is not LAT,LON", "write decimal degrees, e.g. --target 52.1234,-1.5678"
        )
    lat, lon = float(found[1]), float(found[2])
    if what := check_position(lat, lon):
        raise SettingsError(f"target {text[:40]!r}: {what}", "write latitude first, in decimal degrees")
    return lat, lon


def merge_given(parts: Iterable[Given]) -> Given:
    """Later parts win key by key; a later preset drops the gate heights given before it."""
    merged: Given = {}
    for part in parts:
        if "pattern.preset" in part:
            for gate in LEG_NAMES:
                merged.pop(f"pattern.{gate}", None)
        merged |= part
    return merged


def build_settings(given: Given, *, target: tuple[float, float] | None = None) -> Settings:
    """Settings from merged keys. Raises SettingsError where they contradict each other."""
    if target is not None:
        given = given | {
            "site.target": Entry(target, "--target", f"{target[0]}, {target[1]}", "--target", None)
        }
        if what := check_position(*target):
            raise SettingsError(f"target: {what}")
    settings = Settings(
        site=_site(given),
        jumper=Jumper(**_fields(given, "jumper", name="name")),
        canopy=_canopy(given),
        pattern=_pattern(given),
        wind=_wind(given),
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


def _wind(given: Given) -> tuple[WindPoint, ...]:
    rows = given["wind"].value if "wind" in given else ()
    points = [WindPoint(row["agl"].value, row["speed"].value, row["from"].value % 360.0) for row in rows]
    return tuple(sorted(points))


def _standards(given: Given) -> tuple[AccuracyStandard, ...]:
    """The accuracy standards a site goes by, else the published ones."""
    if "site.standard" not in given:
        return STANDARDS
    rows = given["site.standard"].value
    return tuple(
        AccuracyStandard(row["name"].value, row["radius"].value, row["source"].value) for row in rows
    )
