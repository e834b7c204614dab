"""What a page may be made from that is passed on: the same fixes and settings without names, dates and places."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from analyser.importers.recording import Recording
from analyser.settings import STANDARDS, Jumper, Settings

__all__ = ["nameless_recording", "nameless_settings"]

NO_DAY_S: Final = 946_684_800.0  # 2000-01-01, where every nameless recording begins


def nameless_recording(recording: Recording) -> Recording:
    """The same fixes, beginning on a day of no meaning, without the names of file, track and device and without the hash.

    Positions stay: what is drawn from them is metres about the target.
    """
    shift = NO_DAY_S - float(recording.time_s[0] // 1.0)
    return replace(recording, time_s=recording.time_s + shift, device=None, name=None, file="", sha256="")


def nameless_settings(settings: Settings) -> Settings:
    """The same settings; jumper, canopy and site without a name, areas and rings with numbers for theirs, no picture."""
    rings = tuple(
        ring if ring in STANDARDS else ring._replace(name=f"ring {i}", source="")
        for i, ring in enumerate(settings.standards, 1)
    )
    areas = tuple(replace(area, name=f"area {i}") for i, area in enumerate(settings.site.keep_outs, 1))
    landing = tuple(
        replace(area, name=f"landing area {i}") for i, area in enumerate(settings.site.landing_areas, 1)
    )
    return replace(
        settings,
        jumper=Jumper(),
        standards=rings,
        canopy=replace(settings.canopy, name=None),
        site=replace(settings.site, name=None, keep_outs=areas, landing_areas=landing, picture=None),
    )
