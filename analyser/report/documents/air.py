"""What a document says of the wind: heights, mean layer, at the turns, and from where the flight counts for it."""

from __future__ import annotations

import math

import numpy as np

from analyser.jump import Debrief
from analyser.report.documents.values import Json, angle, number, span, take, utc
from analyser.wind.profile import WindProfile

__all__ = ["at_turns", "check_row", "layer_row", "settled_row", "shared_row", "wind_rows"]

LAYER = {"speed_mps": 3, "speed_sd_mps": 3}


def wind_rows(profile: WindProfile) -> list[Json]:
    """One row per height of the profile, undetermined heights without numbers."""
    rows: list[Json] = []
    for height, with_next in zip(profile.agl_m, _correlation_above(profile), strict=True):
        at = profile.at(float(height))
        sd_e, sd_n = (math.sqrt(max(float(at.covariance[i, i]), 0.0)) for i in (0, 1))
        product = sd_e * sd_n
        numbers = {
            "east_mps": number(at.east, 3),
            "north_mps": number(at.north, 3),
            "sd_east_mps": number(sd_e, 3),
            "sd_north_mps": number(sd_n, 3),
            "correlation": number(float(at.covariance[0, 1]) / product, 3) if product > 0 else None,
            "speed_mps": number(at.speed, 3),
            "from_deg": angle(at.from_deg),
        }
        if at.status == "undetermined":
            numbers, with_next = dict.fromkeys(numbers), None
        row = {"agl_m": number(float(height), 1), **numbers, "status": at.status, "reason": at.reason or None}
        rows.append(row | {"correlation_above": number(with_next, 3)})
    return rows


def _correlation_above(profile: WindProfile) -> list[float | None]:
    """How the error of every height goes with that of the next one up, mean of east and north; None at the top."""
    k, c = profile.agl_m.size, profile.covariance
    sd = np.sqrt(np.maximum(np.diagonal(c), 1e-12))
    low = np.concatenate([np.arange(k - 1), k + np.arange(k - 1)])
    both = (c[low, low + 1] / (sd[low] * sd[low + 1])).reshape(2, k - 1)
    return [*map(float, both.mean(axis=0)), None]


def check_row(jump: Debrief) -> Json | None:
    """What every ten seconds of the flight, predicted from the rest, say of the stated errors of the winds."""
    check = jump.wind.check if jump.wind else None
    if check is None:
        return None
    return {
        "scaled_residual": number(check.scaled_residual, 2),
        "limit": number(check.limit, 2),
        "widened_by": number(check.widened_by, 2),
    }


def settled_row(jump: Debrief) -> Json | None:
    """From when the flight counts for the winds, and what of it does not."""
    settled, at = jump.wind.settled if jump.wind else None, jump.track.start_utc_s
    if settled is None:
        return None
    return {
        "settled_utc": utc(at + settled.settled_s),
        "settled_sd_s": number(settled.settled_sd_s, 1),
        "uncounted": [{**span(at, s), "reason": s.reason} for s in settled.stretches],
    }


def layer_row(jump: Debrief) -> Json | None:
    """The mean wind from the ground to 2,000 ft."""
    mean = jump.layer_mean
    if mean is None:
        return None
    return {
        "from_agl_m": 0.0,
        "to_agl_m": number(mean.top_m, 1),
        **take(mean, LAYER),
        "from_deg": angle(mean.from_deg),
        "drift_100s_m": number(mean.drift_m, 1),
        "drift_100s_sd_m": number(mean.drift_sd_m, 1),
        "covered": number(mean.covered, 3),
    }


def at_turns(jump: Debrief) -> list[Json]:
    """The wind at the height of every turn flown."""
    if jump.wind is None or jump.flown is None:
        return []
    rows = []
    for gate in jump.flown.gates:
        there = jump.wind.profile.at(gate.agl_m)
        known = there.status != "undetermined"
        rows.append(
            {
                "gate": gate.name,
                "agl_m": number(gate.agl_m, 1),
                "speed_mps": number(there.speed, 3) if known else None,
                "sd_mps": number(there.worst_sd, 3) if known else None,
                "from_deg": angle(there.from_deg) if known else None,
                "status": there.status,
            }
        )
    return rows


def shared_row(jump: Debrief) -> Json | None:
    """That the winds are those of a whole load."""
    shared = jump.shared
    if shared is None:
        return None
    return {
        "jumpers": shared.jumpers,
        "pairs": shared.pairs,
        "within": shared.within,
        "change_mps": number(shared.change_mps, 2),
        "widened_by": number(shared.widened, 2),
    }
