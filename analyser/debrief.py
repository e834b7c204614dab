"""The composer: debrief(path, settings) -> Debrief; cuts a recording into jumps and leads each through the stages."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from analyser.errors import InputError
from analyser.findings.questions import distance_m, target_away
from analyser.importers.read import read
from analyser.importers.recording import Recording
from analyser.jump import Debrief, Question
from analyser.phases import Phases, find_phases, split_jumps
from analyser.placing import about_landing, place
from analyser.plan.jump import Plan
from analyser.replay.choose_advice import chosen
from analyser.replay.next_jump import Earlier
from analyser.settings import Settings
from analyser.stages import STAGES, Stage
from analyser.threads import one_thread
from analyser.track import Quality, Track, build_track

__all__ = [
    "STAGES",
    "Debrief",
    "Inspection",
    "Plan",
    "begin_every",
    "debrief",
    "debrief_all",
    "debrief_every",
    "debrief_recording",
    "finish",
    "inspect",
    "with_earlier",
]


@dataclass(frozen=True, slots=True, eq=False)
class Inspection:
    """What a recording holds, without judgement: its quality and every jump's track and phases."""

    recording: Recording
    quality: Quality
    jumps: int
    pieces: tuple[tuple[Track, Phases], ...] = field(default=())


def inspect(path: str | os.PathLike[str]) -> Inspection:
    """What the file at ``path`` holds. Raises ``AnalyserError`` where it can not be read."""
    return inspect_recording(read(path))


def inspect_recording(recording: Recording) -> Inspection:
    """What a recording holds. Raises ``AnalyserError`` where it has no usable heights."""
    pieces = []
    for start, stop in split_jumps(recording):
        track = build_track(recording.slice(start, stop))
        pieces.append((track, find_phases(track)))
    jumps = sum(phases.kind == "jump" for _, phases in pieces)
    whole = pieces[0][0] if len(pieces) == 1 else build_track(recording)
    return Inspection(recording, whole.quality, jumps, tuple(pieces))


def debrief(
    path: str | os.PathLike[str], settings: Settings | None = None, *, jump: int | None = None
) -> Debrief:
    """The debrief of one jump of the file at ``path``: number ``jump`` counting from 1, or the last.

    Raises ``AnalyserError`` where the file can not be used or holds no such jump.
    """
    return debrief_recording(read(path, columns=(settings or Settings()).columns), settings, jump=jump)


def debrief_all(
    path: str | os.PathLike[str],
    settings: Settings | None = None,
    *,
    overrides: Mapping[int, Settings] | None = None,
) -> tuple[Debrief, ...]:
    """The debriefs of every jump of the file at ``path``, in order; one without a jump where it holds none.

    ``overrides`` holds the settings of single jumps, by their numbers from 1. Raises ``AnalyserError`` where the file can not
    be used.
    """
    return debrief_every(read(path, columns=(settings or Settings()).columns), settings, overrides=overrides)


@one_thread
def debrief_every(
    recording: Recording,
    settings: Settings | None = None,
    *,
    overrides: Mapping[int, Settings] | None = None,
) -> tuple[Debrief, ...]:
    """The debriefs of every jump of a recording, as :func:`debrief_all` of a file."""
    overrides, found = overrides or {}, []
    for piece, begun in _begin(recording, settings or Settings()):
        own = overrides.get(begun.jump)
        again = begun if own is None else _placed(recording, piece, own)
        found.append(finish(again.knowing(jump=begun.jump, jumps=begun.jumps)))
    return tuple(found)


@one_thread
def debrief_recording(
    recording: Recording, settings: Settings | None = None, *, jump: int | None = None
) -> Debrief:
    """The debrief of one jump of a recording: number ``jump`` counting from 1, or the last.

    Raises ``InputError`` where it holds no such jump.
    """
    begun = [x for _, x in _begin(recording, settings or Settings())]
    count = begun[-1].jumps
    if jump is not None and not 1 <= jump <= count:
        plural = "" if count == 1 else "s"
        raise InputError(
            f"there is no jump {jump}", f"the file holds {count} jump{plural}, counted from 1", recording.file
        )
    return finish(begun[-1 if jump is None else jump - 1])


def begin_every(recording: Recording, settings: Settings | None = None) -> tuple[Debrief, ...]:
    """Track and phases of every jump of a recording, and nothing more yet: :func:`finish` finds the rest.

    One without a jump where the recording holds none. Raises ``AnalyserError`` as :func:`debrief` does.
    """
    return tuple(begun for _, begun in _begin(recording, settings or Settings()))


def with_earlier(found: Debrief, earlier: Earlier) -> Debrief:
    """The same debrief with its advice weighed against earlier jumps of the same jumper: what they do not show was chance."""
    return found.knowing(advice=chosen(found.choices, earlier)) if found.choices else found


def _begin(recording: Recording, settings: Settings) -> list[tuple[Recording, Debrief]]:
    """Track and phases of every jump with its part of the recording; of the whole recording where it holds no jump."""
    ranges = split_jumps(recording)
    pieces = [recording] if len(ranges) == 1 else [recording.slice(*r) for r in ranges]
    begun = [(piece, _placed(recording, piece, settings)) for piece in pieces]
    held = [(piece, x) for piece, x in begun if x.phases.kind == "jump"]
    if held:
        return [(piece, x.knowing(jump=i, jumps=len(held))) for i, (piece, x) in enumerate(held, 1)]
    nothing = begun[0][1] if len(begun) == 1 else _placed(recording, recording, settings)
    return [(recording, nothing.knowing(jump=0, jumps=0))]


def _placed(recording: Recording, piece: Recording, settings: Settings) -> Debrief:
    """Track and phases of one jump, counted from the target where it has one, else from the touchdown."""
    asked = settings.site.target
    settings, track, no_target = place(piece, settings)
    phases = find_phases(track)
    begun = Debrief(recording, track, phases, settings, has_target=settings.site.target is not None)
    if no_target is None:
        return begun
    begun = begun.knowing(track=about_landing(track, phases)).lacking("target", no_target)
    return begun if asked is None else begun.knowing(questions=(_elsewhere(asked, begun.track),))


def _elsewhere(target: tuple[float, float], track: Track) -> Question:
    """The question about a target of another field: the frame's origin is the touchdown."""
    place = (track.frame.lat_deg, track.frame.lon_deg)
    return target_away(target, place, distance_m(target, place))


def finish(begun: Debrief, stages: Sequence[Stage] = STAGES) -> Debrief:
    """A jump of which track and phases are known, led through the ``stages``."""
    for stage in stages:
        begun = stage(begun)
    return begun
