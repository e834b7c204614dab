"""debrief_job: what a worker process does with one track: debrief every jump of it, keep row and document."""

from __future__ import annotations

import json
from pathlib import Path
from typing import NamedTuple

from analyser.debrief import debrief, debrief_all
from analyser.errors import AnalyserError
from analyser.report.document import to_document
from analyser.season_rows import Row, jump_row
from analyser.settings import Settings

__all__ = ["Answer", "Job", "JumpAnswer", "debrief_job"]


class Job(NamedTuple):
    """One track to debrief, by its path, under these settings; ``overrides`` holds those of single jumps in it."""

    path: str
    settings: Settings
    overrides: tuple[tuple[int, Settings], ...] = ()


class JumpAnswer(NamedTuple):
    """One jump: number in the file (0 = the file holds none), row of season_rows.COLUMNS, document as JSON text."""

    jump: int
    row: Row
    document: str


class Answer(NamedTuple):
    """The jumps of a track, or the reason why it gave nothing."""

    jumps: tuple[JumpAnswer, ...]
    reason: str | None = None


def debrief_job(job: Job) -> Answer:
    """Debrief one track. Never raises for what a file holds: the reason comes back as a value."""
    try:
        found = list(debrief_all(job.path, job.settings))
        for jump, settings in job.overrides:
            if 1 <= jump <= len(found):
                found[jump - 1] = debrief(job.path, settings, jump=jump)
    except AnalyserError as error:
        return Answer((), "; ".join(filter(None, (error.what, error.hint))))
    except MemoryError:
        return Answer((), "needs more memory than there is")
    except Exception as error:  # a fault of this program must cost one file, not the season
        return Answer((), f"an unforeseen error, please report it: {type(error).__name__}: {error}")
    answers = []
    for result in found:
        document = to_document(result)
        document["source"]["file"] = Path(job.path).name
        text = json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        answers.append(JumpAnswer(result.jump, jump_row(document), text))
    return Answer(tuple(answers))
