"""A made-up aerial picture: drawn turned and scaled by hand, its marks at known places about the samples' target."""

from __future__ import annotations

import base64
import io
import math
import struct
import zlib
from pathlib import Path

import numpy as np
from geographiclib.geodesic import Geodesic
from PIL import Image, ImageDraw

from analyser.report.pictures.aerial import Box

TARGET = (49.7215, -107.9342)
MARKS = {"red": (0.0, 0.0), "blue": (100.0, 0.0), "yellow": (0.0, 100.0)}
COLOURS = {"red": (255, 0, 0), "blue": (0, 0, 255), "yellow": (255, 255, 0)}
UP_DEG, METRES = 25.0, 0.8


def pixel_of(east: float, north: float) -> tuple[float, float]:
    """Where a place about the target lies in a picture that is turned by UP_DEG with METRES to a pixel (drawn by hand, not by the code)."""
    a = math.radians(UP_DEG)
    right, up = east * math.cos(a) - north * math.sin(a), east * math.sin(a) + north * math.cos(a)
    return 700.0 + right / METRES, 500.0 - up / METRES


def place_of(east: float, north: float) -> tuple[float, float]:
    """Latitude and longitude of a place about the target, by geographiclib."""
    azimuth, metres = math.degrees(math.atan2(east, north)), math.hypot(east, north)
    found = Geodesic.WGS84.Direct(*TARGET, azimuth, metres)
    return found["lat2"], found["lon2"]


def draw(path: Path, kind: str = "JPEG", noise: bool = False) -> Path:
    image = Image.new("RGB", (1600, 1200), "#7c9a5a")
    if noise:
        pixels = np.random.default_rng(3).integers(0, 255, (1200, 1600, 3), dtype=np.uint8)
        image = Image.fromarray(pixels)
    pen = ImageDraw.Draw(image)
    for name, place in MARKS.items():
        x, y = pixel_of(*place)
        pen.ellipse((x - 6, y - 6, x + 6, y + 6), fill=COLOURS[name])
    image.save(path, kind, quality=95)
    return path


def points(*places: tuple[float, float]) -> str:
    rows = ""
    for place in places:
        (x, y), (lat, lon) = pixel_of(*place), place_of(*place)
        rows += f"[[site.picture.point]]\npixel = [{x:.3f}, {y:.3f}]\nplace = [{lat:.8f}, {lon:.8f}]\n"
    return rows


def pixels_of(source: str) -> np.ndarray:
    head, _, data = source.partition(",")
    assert head == "data:image/jpeg;base64"
    return np.asarray(Image.open(io.BytesIO(base64.b64decode(data))).convert("RGB"), dtype=np.float64)


def found_at(source: str, box: Box, colour: str) -> tuple[float, float]:
    """Middle of the mark of a colour, metres about the target."""
    pixels = pixels_of(source)
    near = np.abs(pixels - np.array(COLOURS[colour])).sum(axis=2) < 150
    assert near.any(), f"no {colour} mark"
    rows, columns = np.nonzero(near)
    east = box.west + (columns.mean() + 0.5) / pixels.shape[1] * (box.east - box.west)
    north = box.north - (rows.mean() + 0.5) / pixels.shape[0] * (box.north - box.south)
    return float(east), float(north)


def world_lines() -> str:
    """The world file of the same picture, in degrees, from three places by geographiclib."""
    a = math.radians(UP_DEG)
    step = 500.0 * METRES
    middle = place_of(-0.0, 0.0)
    right = place_of(step * math.cos(a), -step * math.sin(a))
    down = place_of(-step * math.sin(a), -step * math.cos(a))
    col = [(right[1] - middle[1]) / 500.0, (right[0] - middle[0]) / 500.0]
    row = [(down[1] - middle[1]) / 500.0, (down[0] - middle[0]) / 500.0]
    lon, lat = middle[1] - 700.0 * col[0] - 500.0 * row[0], middle[0] - 700.0 * col[1] - 500.0 * row[1]
    return "\n".join(f"{v:.12f}" for v in (col[0], col[1], row[0], row[1], lon, lat)) + "\n"


def bomb(path: Path) -> None:
    """A PNG whose head says 50,000 by 50,000 pixels."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", 50_000, 50_000, 8, 2, 0, 0, 0)
    rows = zlib.compress(b"\0" * 1_000_000)
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b""))
