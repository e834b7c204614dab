"""The ``crabline`` command as a user would run it, but in this process: the start of a process costs more than most of what is asked of it.

Words, environment, folder, standard streams and exit code are the command's own. What belongs to the process itself (locale, closed or full
streams, signals, hash seeds) is tried in processes of their own, in the files that are about it.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import sys
import traceback
from pathlib import Path
from subprocess import CompletedProcess


def crabline(
    *words: object, cwd: Path | None = None, stdin: bytes | None = None, **environment: str
) -> CompletedProcess[bytes]:
    """Exit code and what was written to the streams; a traceback is what Python would have printed."""
    from analyser.cli import main

    line = [str(word) for word in words]
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="ascii", newline="") for _ in range(2))
    given = io.TextIOWrapper(io.BytesIO(stdin or b""), encoding="utf-8")
    before, folder = dict(os.environ), os.getcwd()
    words_before, stdin_before = sys.argv, sys.stdin
    os.environ.update({"OPENBLAS_NUM_THREADS": "1", **environment})
    try:
        os.chdir(cwd or folder)
        sys.argv, sys.stdin = ["crabline", *line], given
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = left(main)
    finally:
        sys.argv, sys.stdin = words_before, stdin_before
        os.chdir(folder)
        os.environ.clear()
        os.environ.update(before)
    out.flush()
    err.flush()
    return CompletedProcess(line, code, out.buffer.getvalue(), err.buffer.getvalue())  # type: ignore[attr-defined]


def left(main: object) -> int:
    """The exit code with which the command leaves."""
    try:
        main()  # type: ignore[operator]
    except SystemExit as error:
        if error.code is None or isinstance(error.code, int):
            return error.code or 0
        print(error.code, file=sys.stderr)
        return 1
    except BaseException:
        traceback.print_exc()
        return 1
    return 0


def as_text(done: CompletedProcess[bytes]) -> CompletedProcess[str]:
    """The same with its bytes read as UTF-8."""
    return CompletedProcess(
        done.args, done.returncode, done.stdout.decode("utf-8"), done.stderr.decode("utf-8")
    )


NARROW = 60


def fits(text: str) -> bool:
    """Whether every line has room in sixty columns."""
    return max((len(line) for line in text.splitlines()), default=0) <= NARROW


def cut(*words: object, cwd: Path | None = None) -> set[str]:
    """The words and numbers of a text that a narrow terminal loses or makes up, beside a wide one."""
    shown = [as_text(crabline(*words, cwd=cwd, COLUMNS=str(width))) for width in (NARROW, 200)]
    assert [done.returncode for done in shown] == [0, 0], shown[0].stderr
    assert fits(shown[0].stdout)
    narrow, wide = (set(re.findall(r"[^\W_]+", done.stdout)) for done in shown)
    assert len(wide) > 20
    return narrow ^ wide
