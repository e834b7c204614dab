"""A commented plan to fill in, and the JSON Schema of plan files for editors, made from the reader's own table of keys."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, Final

from analyser.settings import schema

__all__ = ["TEMPLATE", "schema_text"]

# The heights are those of the default preset (settings.model.PRESETS), the trim speeds nobody's: measured where they are left out.
TEMPLATE: Final = """\
# A plan for crabline. Every line is optional: take away the # and put in your own. A key ends in its unit.
# The rules of your drop zone and your instructor decide, not this file.

[site]
# name = "my field"
# target = [49.7215, -107.9342]      # latitude, longitude in degrees, north and east positive
# elevation_ft = 2434                # of the landing area above sea level
# min_final_turn_ft = 200            # advice never goes below it

# areas = "field.geojson"            # keep-out and landing areas drawn on a map

# [[site.direction]]                 # where the field fixes its landing directions
# landing_deg = 300                  # direction of flight on final, true
# hand = "left"

# [[site.keep_out]]                  # not to be overflown below that height
# name = "runway"
# below_ft = 1000
# polygon = [[49.7241, -107.9294], [49.7208, -107.9199], [49.7203, -107.9203]]

[jumper]
# name = "me"

[canopy]
# name = "my canopy"
# area_ft2 = 230
# exit_weight_lb = 205
# airspeed_mps = 10.5                # full flight at sea level; left out: measured from the track
# sink_mps = 4.2

[pattern]
# hand = "left"                      # "left", "right" or "as flown"
# landing_deg = 300                  # left out: into the wind
downwind_ft = 1000                   # where the turn onto each leg begins
base_ft = 600
final_ft = 300

# [[wind]]                           # heights above the landing area, in order
# agl_ft = 0
# speed_kt = 8
# from_deg = 305

# [[wind]]                           # or as the weather service gives it
# metar = "KXYZ 141755Z 30008KT 10SM CLR 25/15 A2992"
"""


def schema_text() -> str:
    """The JSON Schema (draft 2020-12) of plan files, as text."""
    document = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "crabline plan",
        "description": "A plan file (TOML). Every table and key is optional; a quantity's unit is the end of its key.",
        **_table(schema.PLAN_KEYS),
    }
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def _table(keys: schema.Keys) -> dict[str, Any]:
    properties: dict[str, Any] = {}
    for name, spec in keys.items():
        if isinstance(spec, schema.Quantity):
            for unit, factor in schema.UNITS[spec.kind].items():
                low, high = float(f"{spec.low / factor:.6g}"), float(f"{spec.high / factor:.6g}")
                properties[f"{name}_{unit}"] = {
                    "type": "number",
                    "minimum": low,
                    "maximum": high,
                    "description": f"{spec.kind} in {unit}",
                }
        else:
            properties[name] = _value(spec)
    return {"type": "object", "properties": properties, "additionalProperties": False}


def _value(spec: schema.Spec) -> dict[str, Any]:
    pair = {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}
    match spec:
        case schema.Text() | schema.Lines():
            return {"type": "string"}
        case schema.Texts():
            return {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}
        case schema.Whole():
            return {"type": "integer", "minimum": spec.low}
        case schema.Flag():
            return {"type": "boolean"}
        case schema.Choice():
            return {"enum": list(spec.options)}
        case schema.Position():
            return {
                "anyOf": [pair, {"type": "string"}],
                "description": '[latitude, longitude] in degrees, or a place as it was copied: "49.72N 107.93W"',
            }
        case schema.Pixel():
            return {**pair, "description": "[column, row] from the top left corner"}
        case schema.Positions():
            return {
                "type": "array",
                "minItems": 3,
                "items": pair,
                "description": "[[latitude, longitude], …]",
            }
        case schema.Rows():
            return {"type": "array", "items": _table(spec.keys)}
        case schema.Table():
            return _table(spec.keys)
        case Mapping():
            return _table(spec)
        case _:
            raise TypeError(f"no schema for {spec!r}")
