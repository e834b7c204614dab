"""take_upload: one dropped file, counted while it streams, into one temporary file and from there under its name."""

from __future__ import annotations

import asyncio
import hashlib
import os
import re
import tempfile
import unicodedata
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Final, NamedTuple
from urllib.parse import unquote

from starlette.requests import ClientDisconnect

from analyser.desk.folder import PART
from analyser.desk.work import MAX_FILE_BYTES, FormatError, InputError, UnreadableError

__all__ = ["Limits", "Upload", "file_name", "place", "take_upload"]

_FORBIDDEN: Final = re.compile(r'[<>:"|?*\x00-\x1f\x7f]')
_RESERVED: Final = re.compile(r"(?i)^(con|prn|aux|nul|com\d|lpt\d)(\.|$)")
_READ_BY_LOGBOOK: Final = "logbook."
LONGEST_NAME: Final = 150


class Limits(NamedTuple):
    """What is taken in: bytes of a file, files and bytes that wait to be debriefed, seconds without a byte."""

    file_bytes: int = MAX_FILE_BYTES
    waiting_files: int = 1000
    waiting_bytes: int = 4 * MAX_FILE_BYTES
    silence_s: float = 30.0


class Upload(NamedTuple):
    """A file that has come in whole, still under its temporary name."""

    part: Path
    name: str
    sha256: str
    size: int


def file_name(given: str) -> str:
    """The name under which a dropped file is kept: one part of a path, for every system, never one that the logbook reads.

    ``given`` is percent-encoded UTF-8 as the page sends it.
    """
    last = re.split(r"[/\\]", unquote(given, errors="replace"))[-1]
    text = _FORBIDDEN.sub("_", unicodedata.normalize("NFC", last))
    text = "".join(c if c.isprintable() else "_" for c in text).strip(" .")
    if len(text.encode()) > LONGEST_NAME:
        stem, dot, suffix = text.rpartition(".")
        text = (stem or suffix).encode()[:LONGEST_NAME].decode(errors="ignore") + (
            f".{suffix[:8]}" if stem and dot else ""
        )
    if not text or _RESERVED.match(text) or text.casefold().startswith(_READ_BY_LOGBOOK):
        text = f"track-{text}"
    return text


async def take_upload(
    chunks: AsyncIterator[bytes], name: str, declared: str | None, folder: Path, limits: Limits
) -> Upload:
    """The bytes of one file into a temporary file in ``folder``; nothing is left of it where it is refused.

    Raises InputError, one line: too large (as declared, or as counted), empty, or silent for too long.
    """
    if declared is not None and declared.isdigit() and int(declared) > limits.file_bytes:
        raise _too_large(name, limits)
    handle, part = tempfile.mkstemp(dir=folder, prefix=".drop.", suffix=PART)
    whole = False
    try:
        total, size = hashlib.sha256(), 0
        with os.fdopen(handle, "wb") as file:
            async for chunk in _in_time(chunks, name, limits):
                size += len(chunk)
                if size > limits.file_bytes:
                    raise _too_large(name, limits)
                total.update(chunk)
                file.write(chunk)
        if size == 0:
            raise FormatError("the file is empty", "copy it from the device again", name)
        if declared is not None and declared.isdigit() and int(declared) != size:
            raise UnreadableError("came in only in part", "drop it again", name)
        whole = True
        return Upload(Path(part), name, total.hexdigest(), size)
    except OSError as error:
        reason = (error.strerror or type(error).__name__).lower()
        raise UnreadableError(f"can not be kept ({reason})", "make room and drop it again", name) from None
    finally:
        if not whole:
            Path(part).unlink(missing_ok=True)


def _too_large(name: str, limits: Limits) -> InputError:
    most = limits.file_bytes / 1e6
    return UnreadableError(f"the file is too large (over {most:g} MB)", "cut it into single days", name)


async def _in_time(chunks: AsyncIterator[bytes], name: str, limits: Limits) -> AsyncIterator[bytes]:
    pieces = aiter(chunks)
    while True:
        try:
            yield await asyncio.wait_for(anext(pieces), limits.silence_s)
        except StopAsyncIteration:
            return
        except TimeoutError:
            raise UnreadableError("stopped coming in", "drop it again", name) from None
        except ClientDisconnect:
            raise UnreadableError("came in only in part", "drop it again", name) from None


def place(upload: Upload, folder: Path) -> Path:
    """Move a whole upload to its name in ``folder``, beside what lies there already; never over it."""
    stem, dot, suffix = upload.name.partition(".")
    for number in range(1, 10_000):
        name = upload.name if number == 1 else f"{stem}-{number}{dot}{suffix}"
        target = folder / name
        try:
            os.link(upload.part, target)
        except FileExistsError:
            continue
        except OSError:  # a disk without links
            if target.exists():
                continue
            os.rename(upload.part, target)
            return target
        upload.part.unlink()
        return target
    raise UnreadableError("too many files of that name", "rename it and drop it again", upload.name)
