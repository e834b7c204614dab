"""read_areas: GeoJSON files (RFC 7946) of a field -> areas that may not be overflown, and areas to land in.

``properties.kind`` of a polygon is ``keep-out`` (with ``below_ft``, ``below_m`` or ``below_agl_m``) or ``landing area``; ``name`` is
shown. Features of other kinds, and those that are no areas, are left alone: the files that ``debrief`` writes can be read back.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final, NoReturn

from analyser.errors import SettingsError
from analyser.settings.model import KeepOut, LandingArea
from analyser.settings.position import check_position
from analyser.settings.read_keys import MOST_POINTS, Entry, Given, read_text
from analyser.units import FOOT_M

__all__ = ["area_files", "read_areas"]

MOST_AREAS: Final = 500
KEEP_OUT, LANDING = "keep-out", "landing area"
_BELOW: Final = {"below_ft": FOOT_M, "below_m": 1.0, "below_agl_m": 1.0}
_HIGHEST_M: Final = 10_000.0

Polygon = tuple[tuple[float, float], ...]


def area_files(given: Given) -> Iterator[Path]:
    """The files that settings name for their areas, so that nothing is written over them; none has to be there."""
    if "site.areas" in given:
        entry = given["site.areas"]
        yield from (Path(entry.file).parent / name for name in entry.value)


def read_areas(entry: Entry) -> tuple[tuple[KeepOut, ...], tuple[LandingArea, ...]]:
    """The areas of the files that an entry names, counted from the folder of its own file.

    A part of a MultiPolygon is an area of its own. Raises SettingsError naming file, feature and rule.
    """
    keep_outs: list[KeepOut] = []
    landing: list[LandingArea] = []
    for name in entry.value:
        path = Path(entry.file).parent / name
        if not path.is_file():
            entry.fail(
                f'{entry.key} names "{name}", which is not there', "paths count from the folder of this file"
            )
        for number, feature in enumerate(_features(path), 1):
            _take(_Feature(str(path), number, feature), keep_outs, landing)
            if len(keep_outs) + len(landing) > MOST_AREAS:
                raise SettingsError(f"more than {MOST_AREAS} areas", "leave out some", str(path))
    return tuple(keep_outs), tuple(landing)


def _features(path: Path) -> list[Any]:
    try:
        document = json.loads(read_text(path))
    except (ValueError, RecursionError) as error:
        raise SettingsError(f"not valid JSON: {str(error)[:120]}", "", str(path)) from None
    kind = document.get("type") if isinstance(document, dict) else None
    if kind == "Feature":
        return [document]
    features = document.get("features") if isinstance(document, dict) else None
    if kind != "FeatureCollection" or not isinstance(features, list):
        raise SettingsError("not GeoJSON: no FeatureCollection", "export the areas as GeoJSON", str(path))
    return features


class _Feature:
    """One feature with what says where it stands."""

    def __init__(self, file: str, number: int, feature: Any) -> None:
        self.file, self.number = file, number
        if not isinstance(feature, dict):
            self.fail("is not an object")
        properties, geometry = feature.get("properties"), feature.get("geometry")
        self.properties: dict[str, Any] = properties if isinstance(properties, dict) else {}
        self.geometry: dict[str, Any] = geometry if isinstance(geometry, dict) else {}

    def fail(self, what: str, hint: str = "") -> NoReturn:
        raise SettingsError(f"feature {self.number}: {what}", hint, self.file)

    def name(self, else_: str) -> str:
        told = self.properties.get("name")
        return str(told)[:500] if isinstance(told, (str, int, float)) and str(told).strip() else else_

    def below_m(self) -> float:
        found = {key: self.properties[key] for key in _BELOW if self.properties.get(key) is not None}
        if len(found) != 1:
            self.fail("a keep-out area needs one height", "give it below_ft or below_m")
        key, value = next(iter(found.items()))
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self.fail(f"{key} must be a number, not {str(value)[:40]!r}")
        height = float(value) * _BELOW[key] if abs(value) < 1e9 else math.inf
        if not 0.0 <= height <= _HIGHEST_M:
            self.fail(f"{key} = {value} is out of range", "check number and unit")
        return height

    def polygons(self) -> list[Polygon]:
        shape, rings = self.geometry.get("type"), self.geometry.get("coordinates")
        parts = [rings] if shape == "Polygon" else rings
        if not isinstance(parts, list) or not parts:
            self.fail("an area without coordinates")
        found = []
        for part in parts:
            if not isinstance(part, list) or not part:
                self.fail("an area without coordinates")
            if len(part) > 1:
                self.fail("an area with a hole", "draw it as two areas without one")
            found.append(self._ring(part[0]))
        return found

    def _ring(self, ring: Any) -> Polygon:
        if not isinstance(ring, list) or len(ring) < 4 or ring[0] != ring[-1]:
            self.fail("a ring must be closed and have three corners at least")
        if len(ring) > MOST_POINTS:
            self.fail(f"an area has more than {MOST_POINTS:,} points", "leave out some")
        return tuple(self._corner(corner) for corner in ring[:-1])

    def _corner(self, corner: Any) -> tuple[float, float]:
        plain = isinstance(corner, list) and 2 <= len(corner) <= 4
        if not plain or not all(_is_number(value) for value in corner[:2]):
            self.fail(f"{str(corner)[:40]!r} is no [longitude, latitude]")
        lat, lon = float(corner[1]), float(corner[0])
        if what := check_position(lat, lon):
            self.fail(what, "GeoJSON has longitude first")
        return lat, lon


def _is_number(value: object) -> bool:
    return not isinstance(value, bool) and isinstance(value, (int, float)) and abs(value) < 1e9


def _take(feature: _Feature, keep_outs: list[KeepOut], landing: list[LandingArea]) -> None:
    if feature.geometry.get("type") not in ("Polygon", "MultiPolygon"):
        return
    kind = feature.properties.get("kind")
    if kind is None:
        feature.fail("an area of no kind", f'give it the property kind: "{KEEP_OUT}" or "{LANDING}"')
    if kind == KEEP_OUT:
        name, below = feature.name(f"area {len(keep_outs) + 1}"), feature.below_m()
        keep_outs += [KeepOut(name, below, polygon) for polygon in feature.polygons()]
    elif kind == LANDING:
        name = feature.name(f"{LANDING} {len(landing) + 1}")
        landing += [LandingArea(name, polygon) for polygon in feature.polygons()]
