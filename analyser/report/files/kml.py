"""The jump as KML 2.3 (OGC 12-007r2): phases, legs, patterns, gates, areas and winds for a globe, absolute heights.

Heights are metres above sea level as recorded. An arrow at a height goes where the air went in ``ARROW_S`` seconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final
from xml.etree import ElementTree

import numpy as np

from analyser._version import __version__
from analyser.angles import bearing_text
from analyser.jump import Debrief
from analyser.pattern import Leg
from analyser.report.documents.values import utc
from analyser.report.files.antimeridian import line_geometry, polygon_geometry
from analyser.report.files.maps import ABOVE, Mark, marks, patterns, places
from analyser.report.pictures.palette import LEG_COLOURS, LIGHT
from analyser.report.plain import plain

__all__ = ["ARROW_S", "KML_NAMESPACE", "kml_text"]

# KML 2.3 keeps this namespace; its version is an attribute
KML_NAMESPACE: Final = "http://www.opengis.net/kml/2.2"
ARROW_S: Final = 30.0
ARROW_STEP_M: Final = 100.0
_STYLES: Final = {
    "phase": (LIGHT["flown"], 2),
    "planned": (LIGHT["planned"], 3),
    "redrawn": (LIGHT["redrawn"], 3),
    "flown": (LIGHT["flown"], 3),
    "wind": (LIGHT["wind"], 3),
    "keep-out": (LIGHT["keep-out"], 3),
    "landing-area": (LIGHT["soft"], 2),
    **{name: (colour, 5) for name, colour in LEG_COLOURS.items()},
}

Element = ElementTree.Element


def kml_text(debrief: Debrief) -> str:
    """A KML document of one jump."""
    root = Element("kml", {"xmlns": KML_NAMESPACE, "version": "2.3"})
    document = _add(root, "Document")
    _add(document, "name", plain(debrief.recording.name or debrief.recording.file) or "jump")
    _add(document, "description", f"crabline {__version__}: a debrief on the ground, after the jump")
    for name, (colour, width) in _STYLES.items():
        _style(document, name, colour, width)
    _phases(_folder(document, "phases"), debrief)
    _legs(_folder(document, "legs"), debrief)
    _patterns(_folder(document, "patterns"), debrief)
    gates = _folder(document, "gates")
    for mark in marks(debrief):
        _mark(gates, debrief, mark)
    _winds(_folder(document, "winds"), debrief)
    _areas(_folder(document, "areas"), debrief)
    ElementTree.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ElementTree.tostring(root, "unicode") + "\n"


def _add(parent: Element, name: str, text: str | None = None, **attributes: str) -> Element:
    child = ElementTree.SubElement(parent, name, attributes)
    child.text = text
    return child


def _folder(document: Element, name: str) -> Element:
    folder = _add(document, "Folder")
    _add(folder, "name", name)
    return folder


def _colour(web: str) -> str:
    """KML writes a colour as alpha, blue, green, red."""
    return f"ff{web[5:7]}{web[3:5]}{web[1:3]}".lower()


def _style(document: Element, name: str, colour: str, width: int) -> None:
    style = _add(document, "Style", id=name)
    line = _add(style, "LineStyle")
    _add(line, "color", _colour(colour))
    _add(line, "width", str(width))
    fill = _add(style, "PolyStyle")
    _add(fill, "color", f"40{_colour(colour)[2:]}")


def _placemark(
    parent: Element, name: str, style: str, note: str = "", span: tuple[str, str] | None = None
) -> Element:
    mark = _add(parent, "Placemark")
    _add(mark, "name", name)
    if note:
        _add(mark, "description", note)
    if span is not None:
        time = _add(mark, "TimeSpan")
        _add(time, "begin", span[0])
        _add(time, "end", span[1])
    if style:
        _add(mark, "styleUrl", f"#{style}")
    return mark


def _line(parent: Element, way: Sequence[list[float]]) -> None:
    """A LineString; several in a MultiGeometry where it crosses ±180° of longitude."""
    shape = line_geometry(way)
    lines = shape["coordinates"] if shape["type"] == "MultiLineString" else [shape["coordinates"]]
    above = parent if len(lines) == 1 else _add(parent, "MultiGeometry")
    for line in lines:
        string = _add(above, "LineString")
        if all(len(place) == 3 for place in line):
            _add(string, "altitudeMode", "absolute")
        else:
            _add(string, "tessellate", "1")
            line = [place[:2] for place in line]
        _add(string, "coordinates", _coordinates(line))


def _coordinates(way: Sequence[Sequence[float]]) -> str:
    return " ".join(",".join(f"{value:.{7 if i < 2 else 1}f}" for i, value in enumerate(p)) for p in way)


def _span(debrief: Debrief, start_s: float, end_s: float) -> tuple[str, str]:
    at = debrief.track.start_utc_s
    return utc(at + start_s) or "", utc(at + end_s) or ""


def _flown(debrief: Debrief, part: slice) -> list[list[float]]:
    track = debrief.track
    return places(debrief, track.east_m[part], track.north_m[part], track.agl_m[part])


def _phases(folder: Element, debrief: Debrief) -> None:
    for phase in debrief.phases.intervals:
        way = _flown(debrief, slice(phase.start, phase.stop))
        if len(way) > 1:
            _line(
                _placemark(folder, phase.name, "phase", span=_span(debrief, phase.start_s, phase.end_s)), way
            )


def _legs(folder: Element, debrief: Debrief) -> None:
    for leg in debrief.flown.legs if debrief.flown is not None else ():
        begin = leg.turn.start_s if leg.turn is not None else leg.start_s
        inside = np.flatnonzero((debrief.track.t_s >= begin) & (debrief.track.t_s <= leg.end_s))
        if inside.size > 1:
            way = _flown(debrief, slice(int(inside[0]), int(inside[-1]) + 1))
            mark = _placemark(folder, leg.name, leg.name, _leg_note(leg), _span(debrief, begin, leg.end_s))
            _line(mark, way)


def _leg_note(leg: Leg) -> str:
    return "" if leg.turn is None else f"its turn begins at {leg.turn.start_agl_m:.0f} {ABOVE}"


def _patterns(folder: Element, debrief: Debrief) -> None:
    for word, pattern in patterns(debrief):
        if pattern.path:
            way = np.array(pattern.path)
            mark = _placemark(folder, f"{word} pattern", word)
            _line(mark, places(debrief, way[:, 1], way[:, 2], way[:, 3]))


def _mark(folder: Element, debrief: Debrief, mark: Mark) -> None:
    point = _add(_placemark(folder, mark.name, "", mark.note), "Point")
    if mark.agl_m is None:
        _add(point, "coordinates", _coordinates([[mark.lon, mark.lat]]))
        return
    _add(point, "altitudeMode", "absolute")
    height = mark.agl_m + debrief.track.ground_elevation_m
    _add(point, "coordinates", _coordinates([[mark.lon, mark.lat, height]]))


def _winds(folder: Element, debrief: Debrief) -> None:
    """An arrow per hundred metres where the wind is known, from above the frame's origin."""
    if debrief.wind is None:
        return
    profile = debrief.wind.profile
    for agl, east, north, status in zip(profile.agl_m, profile.east, profile.north, profile.status):
        if status == "undetermined" or agl % ARROW_STEP_M or not np.isfinite(east + north):
            continue
        speed, from_deg = float(np.hypot(east, north)), float(np.degrees(np.arctan2(-east, -north)) % 360.0)
        note = f"{speed:.1f} m/s from {bearing_text(from_deg)}, {status}; the arrow is {ARROW_S:.0f} s of it"
        tip, back = np.array([east, north]) * ARROW_S, np.array([east, north]) * ARROW_S * 0.8
        side = np.array([-north, east]) * ARROW_S * 0.1
        way = np.array([[0.0, 0.0], tip, back + side, tip, back - side])
        mark = _placemark(folder, f"wind at {agl:.0f} m", "wind", note)
        _line(mark, places(debrief, way[:, 0], way[:, 1], np.full(5, agl)))


def _areas(folder: Element, debrief: Debrief) -> None:
    for area in debrief.settings.site.keep_outs:
        note = f"not to be overflown below {area.below_m:.0f} {ABOVE}"
        _area(_placemark(folder, plain(area.name), "keep-out", note), area.polygon)
    for place in debrief.settings.site.landing_areas:
        _area(_placemark(folder, plain(place.name), "landing-area"), place.polygon)


def _area(mark: Element, polygon: Sequence[tuple[float, float]]) -> None:
    shape = polygon_geometry([[lon, lat] for lat, lon in polygon])
    areas = shape["coordinates"] if shape["type"] == "MultiPolygon" else [shape["coordinates"]]
    above = mark if len(areas) == 1 else _add(mark, "MultiGeometry")
    for rings in areas:
        ring = _add(_add(_add(above, "Polygon"), "outerBoundaryIs"), "LinearRing")
        _add(ring, "coordinates", _coordinates(rings[0]))
