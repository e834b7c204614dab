"""Output files: written whole or not at all, and never over an input."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable
from pathlib import Path

from analyser.errors import OutputError

__all__ = ["write_chunks", "write_text"]


def write_text(
    path: str | os.PathLike[str], text: str, *, inputs: Iterable[str | os.PathLike[str]] = ()
) -> None:
    """Write UTF-8 ``text`` to ``path`` through a temporary name in the same folder.

    Raises ``OutputError`` where ``path`` is one of ``inputs``, is a folder or a special file, or can not be written.
    """
    write_chunks(path, [text.encode("utf-8")], inputs=inputs)


def write_chunks(
    path: str | os.PathLike[str], chunks: Iterable[bytes], *, inputs: Iterable[str | os.PathLike[str]] = ()
) -> None:
    """Write bytes as they come, whole or not at all, like :func:`write_text`."""
    target = Path(path)
    for source in inputs:
        if _same_file(target, Path(source)):
            raise OutputError("would be written over an input", "choose another name", str(target))
    if target.exists() and not os.access(target, os.W_OK):
        raise OutputError(
            "can not be written (permission denied)", "check folder, permission and space", str(target)
        )
    if target.exists() and not target.is_file():
        if target.is_dir():
            raise OutputError("is a folder", "name a file", str(target))
        _write_special(target, chunks)
        return
    try:
        _replace(target.resolve() if target.is_symlink() else target, chunks)
    except OSError as error:
        raise OutputError(
            f"can not be written ({_reason(error)})", "check folder, permission and space", str(target)
        ) from None


def _same_file(a: Path, b: Path) -> bool:
    try:
        return a.samefile(b)
    except OSError:
        return a.absolute() == b.absolute()


def _reason(error: OSError) -> str:
    return (error.strerror or type(error).__name__).lower()


def _write_special(target: Path, chunks: Iterable[bytes]) -> None:
    """A terminal, pipe or null device has no place for a temporary name beside it."""
    try:
        with target.open("wb") as stream:
            stream.writelines(chunks)
    except OSError as error:
        raise OutputError(f"can not be written ({_reason(error)})", "name a file", str(target)) from None


def _replace(target: Path, chunks: Iterable[bytes]) -> None:
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:40]}.", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.writelines(chunks)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, _mode(target))
        os.replace(name, target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _mode(target: Path) -> int:
    if target.exists():
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
