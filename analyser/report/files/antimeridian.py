"""Lines and areas of GeoJSON cut where they cross ±180° of longitude (RFC 7946, section 3.1.9)."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

__all__ = ["line_geometry", "polygon_geometry"]

Place = list[float]


def line_geometry(places: Sequence[Place]) -> dict[str, Any]:
    """A ``LineString`` through the places (longitude, latitude [deg], any further values), of which there are two at least;
    a ``MultiLineString`` where it crosses the antimeridian. Each step goes the shorter way round."""
    parts: list[list[Place]] = [[list(places[0])]]
    for place in places[1:]:
        last = parts[-1][-1]
        lon = _beside(last[0], place[0])
        if abs(lon) <= 180.0:
            parts[-1].append([lon, *place[1:]])
            continue
        edge = 180.0 if lon > 0.0 else -180.0
        if last[0] != edge:
            parts[-1].append(_cut(last, [lon, *place[1:]], edge))
        parts.append([[-edge, *parts[-1][-1][1:]], list(place)])
    lines = [part for part in parts if len(part) > 1]
    if len(lines) == 1:
        return {"type": "LineString", "coordinates": lines[0]}
    return {"type": "MultiLineString", "coordinates": lines}


def polygon_geometry(ring: Sequence[Place]) -> dict[str, Any]:
    """A ``Polygon`` with this outer ring, closed or not, counter-clockwise as RFC 7946 asks; a ``MultiPolygon`` of the parts on
    either side where it crosses the antimeridian. The parts of an area that meets it several times hang together along it."""
    way = [list(ring[0])]
    for place in ring[1:]:
        way.append([_beside(way[-1][0], place[0]), *place[1:]])
    if way[0] == way[-1]:
        way.pop()
    if sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise([*way, way[0]])) < 0:
        way.reverse()
    low, high = min(p[0] for p in way), max(p[0] for p in way)
    edge = 180.0 if high > 180.0 else -180.0
    if -180.0 <= low and high <= 180.0:
        return {"type": "Polygon", "coordinates": [[*way, way[0]]]}
    kept = _side(way, edge, -1.0 if edge > 0.0 else 1.0)
    beyond = [[p[0] - 2.0 * edge, *p[1:]] for p in _side(way, edge, 1.0 if edge > 0.0 else -1.0)]
    areas = [[[*r, r[0]]] for r in (kept, beyond) if len(r) > 2]
    if len(areas) == 1:
        return {"type": "Polygon", "coordinates": areas[0]}
    return {"type": "MultiPolygon", "coordinates": areas}


def _beside(before: float, lon: float) -> float:
    """The longitude written so that it lies within half a turn of the one before."""
    return lon - 360.0 * round((lon - before) / 360.0)


def _cut(a: Place, b: Place, edge: float) -> Place:
    """Where the way from ``a`` to ``b`` meets the longitude ``edge``; only the values that both have."""
    share = (edge - a[0]) / (b[0] - a[0])
    rest = [p + share * (q - p) for p, q in zip(a[1:], b[1:])]
    return [edge, *(round(value, 7 if i == 0 else 1) for i, value in enumerate(rest))]


def _side(way: list[Place], edge: float, sign: float) -> list[Place]:
    """The part of a ring on one side of ``edge``: up the longitudes for a sign of +1 (clipping by Sutherland and Hodgman, 1974)."""
    found: list[Place] = []
    for a, b in pairwise([*way, way[0]]):
        if sign * (a[0] - edge) >= 0.0:
            found.append(a)
        if (a[0] - edge) * (b[0] - edge) < 0.0:
            found.append(_cut(a, b, edge))
    return [] if all(p[0] == edge for p in found) else found
