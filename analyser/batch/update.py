"""update: bring a logbook up to what lies in some folders; only new or changed tracks or settings are debriefed."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import Final, NamedTuple, Protocol

from analyser.batch.gone import correct_gone
from analyser.batch.habits import weighed
from analyser.batch.processes import Failed
from analyser.batch.work import Answer, Job, page_name
from analyser.errors import OutputError, SettingsError, UnreadableError
from analyser.logbook import Logbook, Result
from analyser.logbook.counts import Counts
from analyser.logbook.entries import Content, Entry
from analyser.logbook.jump_columns import Row
from analyser.logbook.plans import Assignment, Plans
from analyser.logbook.scan import Found, content_hash, refused_folders, scan
from analyser.replay.next_jump import Earlier

__all__ = ["Pages", "Progress", "Runner", "update"]

Progress = Callable[[int, int], None]
_ON_PAGES: Final = ("jumper", "canopy", "site")
_AT_ONCE: Final = 500  # tracks looked up together: their entries are all that is in memory


class Pages(NamedTuple):
    """Where a page of every jump goes, the display system it opens in, and whether it is without names, dates and places."""

    folder: Path
    units: str
    private: bool = False

    def page(self, sha256: str, jump: int) -> Path:
        """The page of one jump."""
        return self.folder / page_name(sha256, jump, private=self.private)


class Runner(Protocol):
    """Hands jobs out and gives their answers back as they come, in no fixed order."""

    def __call__(self, jobs: Iterator[Job], /) -> Iterator[tuple[Job, Answer | Failed]]:
        """Each job with its answer, as they come."""
        ...


def update(
    logbook: Logbook,
    folders: Sequence[Path],
    plans: Plans,
    runner: Runner,
    *,
    retry: bool = False,
    forget: bool = False,
    pages: Pages | None = None,
    progress: Progress | None = None,
) -> Counts:
    """Debrief what is new or changed below ``folders`` and enter it, track by track; interrupted at any moment, the
    next run goes on from there. ``retry`` takes up failed tracks again, and compares every entry with its document; ``forget`` drops the jumps of tracks that are gone; with ``pages`` every jump gets a page, and tracks whose
    pages are not there are debriefed again; ``progress`` is told (done, tracks in all).

    Raises SettingsError, UnreadableError (a folder), OutputError (the logbook); a bad track is entered as a failure.
    """
    plans.check(folders)
    if retry:
        logbook.compare()
    logbook.begin()
    run = _Run(
        logbook,
        plans,
        retry,
        pages,
        progress,
        total=sum(1 for _ in scan(folders, plans.columns)) if progress else 0,
    )
    for job, answer in runner(run.jobs(folders)):
        run.enter(job, answer)
    for source, notes in plans.talks():
        logbook.put_talks(source, notes)
    gone = logbook.finish(folders, forget=forget)
    run.counts.warnings += correct_gone(logbook, plans, () if forget else gone)
    run.weigh(runner)
    run.counts.missing = 0 if forget else len(gone)
    run.counts.warnings += logbook.mended
    run.counts.warnings += [f"{key}: is gone and was forgotten" for key in gone if forget]
    run.counts.warnings += [*refused_folders(folders), *plans.unused(folders)]
    return run.counts


def _some(tracks: Iterator[Found]) -> Iterator[list[Found]]:
    while batch := list(islice(tracks, _AT_ONCE)):
        yield batch


@dataclass(slots=True)
class _Run:
    logbook: Logbook
    plans: Plans
    retry: bool
    pages: Pages | None
    progress: Progress | None
    total: int
    counts: Counts = field(default_factory=Counts)
    open: dict[str, tuple[str, str, Found, Assignment]] = field(default_factory=dict)
    done: int = 0

    def jobs(self, folders: Sequence[Path]) -> Iterator[Job]:
        """The tracks that have to be debriefed; everything else is settled on the way."""
        for tracks in _some(scan(folders, self.plans.columns)):
            keys = [self.logbook.key(found.path) for found in tracks]
            entries = self.logbook.known(dict(zip(keys, tracks, strict=True)))
            for key, found in zip(keys, tracks, strict=True):
                job = self._job_of(key, found, entries.get(key))
                if job is not None:
                    yield job

    def _job_of(self, key: str, found: Found, entry: Entry | None) -> Job | None:
        """What has to be debriefed of one track, if anything; ``entry`` what the logbook holds of it where it has not changed."""
        self.counts.tracks += 1
        if entry is None:
            try:
                sha256 = content_hash(found.path)
            except UnreadableError as error:
                self.logbook.put_unreadable(key, error.what)
                self.logbook.see(key, None)
                self.counts.unreadable += 1
                self._tell()
                return None
        else:
            sha256 = entry.sha256
        changed = entry is None
        if self.logbook.see(key, sha256):
            self.counts.copies += 1
            self._settle(key, sha256, found, changed)
            return None
        try:
            assignment = self.plans.assign(found.path, sha256)
        except SettingsError as error:
            self._refuse(key, sha256, found, f"its plan can not be used: {error}")
            return None
        if entry is None:
            entry = Entry(sha256, self.logbook.content(sha256), self.logbook.who(sha256))
        known = self._known(entry, assignment)
        if known is not None:
            self.counts.unchanged += known.status == "done"
            self.counts.failed_before += known.status != "done"
            self._settle(key, sha256, found, changed)
            self._rename(entry, assignment)
            self._miss(key, entry.who, assignment)
            return None
        job = self._job(found.path, sha256, assignment)
        self.open[job.path] = (key, sha256, found, assignment)
        return job

    def _refuse(self, key: str, sha256: str, found: Found, reason: str) -> None:
        """Enter a track whose own plan is at fault; it is looked at again in every run, for that costs nothing."""
        known = self.logbook.content(sha256)
        if known is None or known.reason != reason or self.logbook.known_hash(key, found) is None:
            self.logbook.put_failure(key, sha256, found, "", reason)
        self.counts.failed += 1
        self._tell()

    def _job(self, path: Path, sha256: str, assignment: Assignment) -> Job:
        job = Job(str(path), assignment.settings, assignment.overrides, sha256)
        if self.pages is None:
            return job
        folder, units, private = self.pages
        return job._replace(pages=str(folder), units=units, private=private)

    def _known(self, entry: Entry, assignment: Assignment) -> Content | None:
        """What the logbook holds of a content, or None where it has to be debriefed."""
        content = entry.content
        if content is None or content.settings != assignment.key:
            return None
        if content.status != "done":
            return None if self.retry else content
        return content if self._pages_stand(entry, assignment) else None

    def _pages_stand(self, entry: Entry, assignment: Assignment) -> bool:
        """Whether every jump has its page, where pages are wanted, and no name on it has changed."""
        if self.pages is None:
            return True
        pages = self.pages
        return all(
            pages.page(entry.sha256, jump).is_file()
            and (pages.private or all(known[name] == assignment.who(jump)[name] for name in _ON_PAGES))
            for jump, known in entry.who.items()
        )

    def _settle(self, key: str, sha256: str, found: Found, changed: bool) -> None:
        if changed:
            self.logbook.put_track(key, sha256, found)
        self._tell()

    def _rename(self, entry: Entry, assignment: Assignment) -> None:
        """Names, notes and exclusions follow the files beside the tracks without a new debrief."""
        for jump, known in entry.who.items():
            wanted = assignment.who(jump)
            if wanted != known:
                self.logbook.put_who(entry.sha256, jump, wanted)

    def _miss(self, key: str, jumps: Collection[int], assignment: Assignment) -> None:
        """Tell corrections that are meant for jumps a track does not hold."""
        for jump in assignment.jump_names:
            if jump not in jumps:
                self.counts.warnings.append(f"{key}: has no jump {jump}; its correction was left out")

    def enter(self, job: Job, answer: Answer | Failed) -> None:
        """Put the outcome of one job into the logbook."""
        key, sha256, found, assignment = self.open.pop(job.path)
        if isinstance(answer, Answer) and answer.trouble is not None:
            raise OutputError(answer.trouble)
        if isinstance(answer, Failed) or answer.reason is not None:
            settings = (
                "" if answer.again else assignment.key
            )  # no settings are those of the next run: it tries again
            self.logbook.put_failure(key, sha256, found, settings, answer.reason or "")
            self.counts.failed += 1
        else:
            results = (Result(j.jump, assignment.who(j.jump) | j.row, j.document) for j in answer.jumps)
            self.logbook.put_results(key, sha256, found, assignment.key, results)
            self.counts.debriefed += 1
            self._miss(key, [j.jump for j in answer.jumps], assignment)
        self._tell()

    def weigh(self, runner: Runner) -> None:
        """Tell habit and chance apart in the advice of every jump by the jumps before it; pages follow what changes."""
        if not self.logbook.unweighed():
            return
        earlier: dict[tuple[str, int], Earlier] = {}
        changed: dict[str, dict[int, list[Row]]] = {}
        for jump in self.logbook.weighable():
            earlier[jump.sha256, jump.jump] = jump.earlier
            advice = weighed(jump)
            if advice != jump.advice:
                changed.setdefault(jump.sha256, {})[jump.jump] = advice
        if self.pages is not None:
            for job, answer in runner(self._again(changed, earlier)):
                self._put_advice(job.sha256, changed.pop(job.sha256))
                if isinstance(answer, Answer) and answer.trouble is not None:
                    raise OutputError(answer.trouble)
        for sha256, rows in changed.items():
            self._put_advice(sha256, rows)
        self.logbook.all_weighed()

    def _put_advice(self, sha256: str, rows: dict[int, list[Row]]) -> None:
        for jump, advice in rows.items():
            self.logbook.put_advice(sha256, jump, advice)

    def _again(self, contents: Collection[str], earlier: Mapping[tuple[str, int], Earlier]) -> Iterator[Job]:
        """The tracks whose pages say another advice now."""
        for sha256 in list(contents):
            path = next((p for p in self.logbook.tracks(sha256) if p.is_file()), None)
            if path is None:
                continue
            job = self._job(path, sha256, self.plans.assign(path, sha256))
            known = tuple((jump, past) for (sha, jump), past in earlier.items() if sha == sha256)
            yield job._replace(earlier=known)

    def _tell(self) -> None:
        self.done += 1
        if self.progress is not None:
            self.progress(self.done, self.total)
