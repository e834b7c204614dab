"""A stand-in for the debrief of a track, so that logbook and pool are tested without any analysis."""

from __future__ import annotations

import hashlib
import os
import signal
import time
from pathlib import Path

from analyser.batch.work import Answer, Job, JumpAnswer
from analyser.logbook.jump_columns import document_text, jump_row
from analyser.settings import Settings


def write_track(path: Path, words: str) -> Path:
    """A file that looks like a track from outside; ``words`` decide what the stand-in does with it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(f"<gpx>{words}</gpx>", encoding="utf-8")
    return path


def document(words: str, settings: Settings, jump: int = 1) -> dict[str, object]:
    """A document whose numbers follow from the words and the settings alone."""
    digest = hashlib.sha256(f"{words} {jump}".encode()).digest()
    target = settings.site.target
    along = digest[0] - 128.0 + (target[0] if target else 0.0)
    return {
        "schema": "crabline.debrief/1",
        "kind": "jump",
        "frame": {"origin": "target", "origin_lat": target[0], "origin_lon": target[1]} if target else {"origin": "landing"},
        "source": {"format": "gpx", "rate_hz": 5.0},
        "landing": {"utc": f"2031-06-{digest[1] % 28 + 1:02d}T10:00:{jump:02d}Z", "along_m": along, "across_m": digest[2] - 128.0,
                    "offset_m": abs(along)},
        "canopy": {"airspeed_mps": 10.0 + digest[3] / 256, "airspeed_sd_mps": 0.2, "name": settings.canopy.name},
    }  # fmt: skip


def _killed(tally: Path, times: int) -> None:
    """As if somebody from outside had ended the process, the first ``times`` times."""
    before = len(tally.read_text()) if tally.exists() else 0
    if before < times:
        tally.write_text("x" * (before + 1))
        os.kill(os.getpid(), signal.SIGKILL)


def fake_job(job: Job) -> Answer:
    """Behaves as the words of the track say: bad, crash, hang, slow, boom, or jumps=N."""
    words = Path(job.path).read_text(encoding="utf-8")[5:-6]
    if "crash" in words:
        os.kill(os.getpid(), signal.SIGKILL)
    if "killed twice" in words:
        _killed(Path(job.path).with_suffix(".kills"), 2)
    if "hang" in words:
        time.sleep(600)
    if "boom" in words:
        raise RuntimeError("boom")
    if "bad" in words:
        return Answer((), "holds nothing of use")
    if "slow" in words:
        time.sleep(0.02)
    count = int(words.partition("jumps=")[2].split()[0]) if "jumps=" in words else 1
    settings = dict(job.overrides)
    documents = [document(words, settings.get(j, job.settings), j) for j in range(1, count + 1)]
    return Answer(tuple(JumpAnswer(j, jump_row(d), document_text(d)) for j, d in enumerate(documents, 1)))
