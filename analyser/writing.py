"""The one writer of files: whole or not at all, never over an input, and nothing left behind by a kill for long."""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from analyser.errors import OutputError

if sys.platform != "win32":  # elsewhere the parts of a killed run stay until somebody deletes them
    import fcntl

__all__ = [
    "STDOUT",
    "identity",
    "make_folder",
    "refuse_inputs",
    "sweep_parts",
    "write_bytes",
    "write_chunks",
    "write_text",
]

AnyPath = str | os.PathLike[str]
STDOUT = Path("-")
"""What a user names instead of a file to have it on standard output."""

_PART = ".crabline-part"
_YOUNG_S = 2.0  # a part as young as this may belong to a writer that has not locked it yet
_ADVICE = "check folder, permission and space"


def write_text(path: AnyPath, text: str, *, inputs: Iterable[AnyPath] = ()) -> None:
    """Write UTF-8 ``text`` to ``path`` through a temporary name in the same folder, which is made where it is missing.

    Raises ``OutputError`` where ``path`` is one of ``inputs``, is a folder or a special file, or can not be written.
    """
    write_chunks(path, [text.encode("utf-8")], inputs=inputs)


def write_bytes(path: AnyPath, data: bytes, *, inputs: Iterable[AnyPath] = ()) -> Path:
    """Write ``data`` like :func:`write_text`; returns the path."""
    write_chunks(path, [data], inputs=inputs)
    return Path(path)


def write_chunks(path: AnyPath, chunks: Iterable[bytes], *, inputs: Iterable[AnyPath] = ()) -> None:
    """Write bytes as they come, whole or not at all, like :func:`write_text`."""
    target = Path(path)
    refuse_inputs([target], inputs)
    try:
        there = _exists(target)
        if there and not os.access(target, os.W_OK):
            raise OutputError("can not be written (permission denied)", _ADVICE, str(target))
        if there and target.is_dir():
            raise OutputError("is a folder", "name a file", str(target))
        if there and not target.is_file():
            _write_special(target, chunks)
        else:
            make_folder(target.parent)
            _replace(target.resolve() if target.is_symlink() else target, chunks)
    except OSError as error:
        raise OutputError(f"can not be written ({_reason(error)})", _ADVICE, str(target)) from None


def make_folder(folder: Path) -> None:
    """Make a folder and those above it where they are missing. Raises OutputError."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"can not be made ({_reason(error)})", "name another folder", str(folder)) from None


def identity(path: AnyPath) -> object:
    """What a file is, whatever it is called: device and inode, or the absolute path where there is none yet."""
    try:
        status = os.stat(path)
    except (OSError, ValueError):
        return os.path.realpath(path)
    return status.st_dev, status.st_ino


def refuse_inputs(outputs: Iterable[AnyPath], inputs: Iterable[AnyPath]) -> None:
    """Raise OutputError where an output is an input, by whatever name it is reached."""
    wanted = [(path, identity(path)) for path in outputs]
    if not wanted:
        return
    read = {identity(path) for path in inputs}
    for path, what in wanted:
        if what in read:
            raise OutputError("would be written over an input", "choose another name", str(path))


def sweep_parts(folder: Path) -> None:
    """Delete what writers that were killed left in ``folder``; the parts of living ones are locked and stay."""
    if sys.platform == "win32":
        return
    with suppress(OSError), os.scandir(folder) as listing:
        for entry in listing:
            if entry.name.startswith(".") and entry.name.endswith(_PART):
                _sweep(Path(entry.path))


def _sweep(part: Path) -> None:
    if sys.platform == "win32":
        return
    with suppress(OSError):
        if time.time() - part.stat().st_mtime < _YOUNG_S:
            return
        with part.open("rb") as stream:
            fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
            part.unlink()


def _exists(target: Path) -> bool:
    """Like ``Path.exists``, but a name that can not be looked up is an error, not an absence."""
    try:
        os.stat(target)
    except FileNotFoundError:
        return False
    return True


def _reason(error: OSError) -> str:
    return (error.strerror or type(error).__name__).lower()


def _write_special(target: Path, chunks: Iterable[bytes]) -> None:
    """A terminal, pipe or null device has no place for a temporary name beside it."""
    with target.open("wb") as stream:
        stream.writelines(chunks)


def _replace(target: Path, chunks: Iterable[bytes]) -> None:
    with _part_beside(target) as (handle, name), os.fdopen(handle, "wb") as stream:
        stream.writelines(chunks)
        stream.flush()
        os.fsync(stream.fileno())
        os.chmod(name, _mode(target))
        os.replace(name, target)
    _sync_folder(target.parent)


@contextmanager
def _part_beside(target: Path) -> Iterator[tuple[int, str]]:
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:40]}.", suffix=_PART)
    try:
        if sys.platform != "win32":
            with suppress(OSError):  # some network disks know no locks
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield handle, name
    except BaseException:
        with suppress(OSError):
            os.unlink(name)
        raise


def _sync_folder(folder: Path) -> None:
    """A rename outlives a power cut only once the folder is on the disk too."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _mode(target: Path) -> int:
    if target.exists():
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
