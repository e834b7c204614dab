"""Load -> the JSON document of schema ``crabline.load/1`` (SI units, UTC, ``null`` where there is no value)."""

from __future__ import annotations

from typing import Final

from analyser._version import __version__
from analyser.findings import CAUTIONS
from analyser.load.approach import Approach
from analyser.load.directions import landing_deg
from analyser.load.study import Load
from analyser.load.thresholds import LOAD
from analyser.report.documents.air import wind_rows
from analyser.report.documents.values import Json, angle, number, utc

__all__ = ["SCHEMA_NAME", "load_document"]

SCHEMA_NAME: Final = "crabline.load/1"


def load_document(load: Load) -> Json:
    """Everything of a load; flights are numbered from 1 by their exits, east and north count from ``frame``."""
    agreed = load.agreement
    return {
        "schema": SCHEMA_NAME,
        "version": __version__,
        "frame": {"origin_lat": number(load.frame.lat_deg, 7), "origin_lon": number(load.frame.lon_deg, 7)},
        "flights": [_flight(load, k) for k in range(len(load.flights))],
        "left_out": list(load.twins),
        "order": [
            {"event": event, "flight": m.who + 1, "utc": utc(m.t_s), "sd_s": number(m.sd_s), "tied": m.tied}
            for event, moments in load.order.items()
            for m in moments
        ],
        "pattern": {
            "landing_deg": angle(load.direction_deg),
            "hand": load.hand,
            "hand_from": load.hand_from or None,
            "turns_against": [
                {
                    "flight": t.who + 1,
                    "leg": t.leg,
                    "turn_agl_m": number(t.agl_m),
                    "turn_agl_sd_m": number(t.agl_sd_m),
                    "turned_deg": number(t.change_deg, 1),
                    "utc": utc(t.t_s),
                }
                for t in load.turns
            ],
            "different_ways": [
                {
                    "flights": [k + 1 for k in w.pair],
                    "apart_deg": number(w.apart_deg, 1),
                    "between_s": number(w.seconds),
                }
                for w in load.ways
            ],
        },
        "close_m": number(LOAD.close_m),
        "low_m": number(LOAD.low_m, 1),
        "approaches": [_approach(load, one) for one in load.near],
        "approaches_low": [_approach(load, one) for one in load.near_low],
        "wind": None
        if load.wind is None
        else {
            "tracks": sum(load.wind.used),
            "change_mps": number(load.wind.change_mps),
            "widened_by": number(load.wind.widened),
            "widened_by_track": [number(f) for f in load.wind.factors],
        },
        "agreement": {"pairs": agreed.pairs, "within": agreed.within, "share": number(agreed.share, 3)},
        "cautions": list(CAUTIONS),
    }


def _flight(load: Load, k: int) -> Json:
    flight, jump = load.flights[k], load.jumps[k]
    wind = jump.wind
    return {
        "flight": k + 1,
        "name": flight.name,
        "file": jump.recording.file or None,
        "jump": jump.jump,
        "exit_utc": utc(flight.exit_s),
        "opened_utc": utc(flight.opened_s),
        "landed_utc": utc(flight.landed_s),
        "clock_s": number(flight.clock_s),
        "clock_sd_s": number(flight.clock_sd_s),
        "height_scale": number(flight.scale, 4),
        "hand": jump.flown.hand if jump.flown is not None else None,
        "landing_deg": angle(landing_deg(jump)),
        "airspeed_mps": number(wind.canopy.airspeed_mps, 3) if wind is not None else None,
        "airspeed_sd_mps": number(wind.canopy.airspeed_sd_mps, 3) if wind is not None else None,
        "winds": wind_rows(wind.profile) if wind is not None else [],
    }


def _approach(load: Load, one: Approach) -> Json:
    return {
        "flights": [k + 1 for k in one.pair],
        "distance_m": number(one.distance_m),
        "distance_sd_m": number(one.sd_m),
        "distance_low_m": number(one.low_m),
        "distance_high_m": number(one.high_m),
        "level_m": number(one.level_m),
        "vertical_m": number(one.height_m),
        "agl_m": number(one.agl_m),
        "utc": utc(one.t_s),
        "before_landing_s": number(one.before_landing_s),
        "chance_close": number(one.chance_close, 3),
        "places": [_place(load, place) for place in (one.first, one.second)],
    }


def _place(load: Load, place: tuple[float, float, float]) -> Json:
    lat, lon = load.frame.to_geodetic(place[0], place[1])
    return {
        "east_m": number(place[0]),
        "north_m": number(place[1]),
        "agl_m": number(place[2]),
        "lat": number(float(lat), 7),
        "lon": number(float(lon), 7),
    }
