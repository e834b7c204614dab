"""The three streams of the command: closed ones, encodings, and a standard output nobody reads or that is full."""

from __future__ import annotations

import io
import os
import sys
from typing import NoReturn

from analyser.errors import AnalyserError

__all__ = ["error_line", "give_up_stdout", "open_what_is_closed", "write_any_character"]


def error_line(error: AnalyserError) -> str:
    """``error: FILE: what is wrong; what to do``, in one line."""
    return f"error: {error}".replace("\n", " ")


def give_up_stdout(line: str = "", status: int = 1) -> NoReturn:
    """What is still to be written to stdout goes nowhere; ``line`` on stderr, and the exit code."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    if line:
        print(line, file=sys.stderr)
    raise SystemExit(status) from None


def open_what_is_closed() -> None:
    """A stream that the caller closed (``>&-``) becomes the null device, so that no file is opened in its place."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115


def write_any_character() -> None:
    """Pipes and files get UTF-8, as JSON asks (RFC 8259, 8.1); a terminal keeps its encoding, with ? for what it has not."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            if stream.isatty():
                stream.reconfigure(errors="replace")
            else:
                stream.reconfigure(encoding="utf-8")
