"""fly: canopy + wind + what the pilot does -> path to the ground (the forward model of plan and replay)."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Trim:
    """Full-flight trim at sea-level density: horizontal airspeed and sink [m/s], usual bank in pattern turns [deg], field elevation [m]."""

    airspeed_mps: float
    sink_mps: float
    bank_deg: float = 30.0
    elevation_m: float = 0.0
