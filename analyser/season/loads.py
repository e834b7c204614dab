"""Whether winds that jumpers of one load found alone agree within their errors, over all loads of a logbook: a check that needs no truth."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final, NamedTuple

from analyser._version import __version__
from analyser.errors import OutputError
from analyser.frame import apart_m
from analyser.load.agreement import Agreement, Wind, agreement
from analyser.load.thresholds import LOAD
from analyser.logbook import Logbook
from analyser.logbook.kept_winds import KeptWind
from analyser.logbook.same_jump import Landed, same_jump

__all__ = ["LoadsAgreement", "loads_agreement"]

NEAR_S: Final = 1200.0  # ours: landings of one load
Counts = tuple[int, int, int]  # jumps, pairs, pairs within their error


@dataclass(frozen=True, slots=True)
class LoadsAgreement:
    """``loads`` with two tracks or more that tell of the wind, ``jumps`` in them, ``pairs`` of their winds and how many agree ``within`` the 95 % error."""

    loads: int
    jumps: int
    pairs: int
    within: int

    @property
    def share(self) -> float | None:
        """Share that agrees; None without a pair."""
        return Agreement(self.pairs, self.within).share


class _Jump(NamedTuple):
    """One jump: exit and landing [s since 1970], place, and its winds at some heights, as text."""

    exit_s: float
    landed_s: float
    lat: float
    lon: float
    winds: str


def loads_agreement(book: Logbook) -> LoadsAgreement:
    """Every pair of jumpers of every load, at some heights.

    A load here is jumps that left within 150 s of the first and landed on one field. A jump that was debriefed in the wind of its
    load says nothing of its own and is left out; of two tracks recorded on one body the second is. What was counted of a load is kept
    until something of its members changes.
    """
    known, fresh = book.kept_loads(__version__), dict[str, Counts]()
    jumps, winds = _jumps(book)
    met: set[str] = set()
    every = []
    for load in _loads(sorted(jumps)):
        if len(load) > 1:
            members = hashlib.sha256("\n".join(jump.winds for jump in load).encode()).hexdigest()[:32]
            if members not in known:
                known[members] = fresh[members] = _counted(load)
            met.add(members)
            every.append(known[members])
    with suppress(OutputError):  # a logbook that may only be read is looked through anew every time
        book.keep_winds(winds, fresh, known.keys() - met, __version__)
    every = [counts for counts in every if counts[1]]
    return LoadsAgreement(len(every), *(sum(counts[k] for counts in every) for k in range(3)))


def _counted(load: Sequence[_Jump]) -> Counts:
    """Jumps that tell of the wind, pairs, and pairs that agree, of one load."""
    winds = [
        [Wind(h, e, n, (c[0], c[1], c[2]), t) for h, e, n, c, t in json.loads(jump.winds)] for jump in load
    ]
    found = agreement(winds)
    return sum(map(bool, winds)), found.pairs, found.within


def _loads(jumps: Sequence[_Jump]) -> Iterator[list[_Jump]]:
    load: list[_Jump] = []
    landings: list[Landed] = []
    for jump in jumps:
        if load and (
            jump.exit_s - load[0].exit_s > LOAD.run_s
            or apart_m(jump.lat, jump.lon, load[0].lat, load[0].lon) > LOAD.field_m
        ):
            yield load
            load, landings = [], []
        landed = Landed(jump.landed_s, jump.lat, jump.lon)
        if not any(same_jump(landed, other, named=False) for other in landings):
            load.append(jump)
            landings.append(landed)
    if load:
        yield load


def _jumps(book: Logbook) -> tuple[list[_Jump], dict[tuple[str, int], KeptWind]]:
    """The jumps that landed within twenty minutes of another one, from what was kept of their documents; and what is to be kept."""
    rows = [
        (moment, sha256, jump, lat, lon)
        for landed, sha256, jump, lat, lon in book.landings()
        if (moment := _seconds(landed)) is not None
    ]
    rows.sort()
    known, fresh = book.kept_winds(__version__), dict[tuple[str, int], KeptWind]()
    found = []
    for before, row, after in zip([None, *rows], rows, [*rows[1:], None]):
        moment, sha256, jump, lat, lon = row
        if not any(other is not None and abs(moment - other[0]) <= NEAR_S for other in (before, after)):
            continue
        kept = known.get((sha256, jump))
        if kept is None:
            exit_s, winds = _told(json.loads(book.document(sha256, jump) or "{}"))
            kept = fresh[sha256, jump] = KeptWind(exit_s, json.dumps(winds))
        if kept.exit_s is not None:
            found.append(_Jump(kept.exit_s, moment, lat, lon, kept.winds))
    return found, fresh


def _told(document: Mapping[str, Any]) -> tuple[float | None, list[Any]]:
    """Exit, and the winds at the heights that are compared, of one document; no winds where they are those of a whole load."""
    phases = {phase["phase"]: phase for phase in document.get("phases", ())}
    left = phases.get("free fall") or phases.get("opening") or phases.get("canopy")
    canopy = phases.get("canopy")
    exit_s = _seconds(left["start_utc"]) if left else None
    if canopy is None or document.get("wind_shared") is not None:
        return exit_s, []
    begin, end = _seconds(canopy["start_utc"]), _seconds(canopy["end_utc"])
    top = canopy.get("start_agl_m")
    if begin is None or end is None or not top:
        return exit_s, []
    winds = []
    for row in document.get("winds", ()):
        if row["agl_m"] in LOAD.heights_m and row["east_mps"] is not None:
            see, snn = row["sd_east_mps"], row["sd_north_mps"]
            both = (row["correlation"] or 0.0) * see * snn
            when = end - (end - begin) * min(row["agl_m"] / top, 1.0)
            winds.append([row["agl_m"], row["east_mps"], row["north_mps"], [see**2, both, snn**2], when])
    return exit_s, winds


def _seconds(text: Any) -> float | None:
    """A time of a document as seconds since 1970."""
    try:
        return datetime.fromisoformat(text).timestamp() if isinstance(text, str) else None
    except ValueError:
        return None
