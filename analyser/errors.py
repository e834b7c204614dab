"""Every error that may leave the package.

AnalyserError
├── InputError            the file or folder can not be used
│   ├── UnreadableError       missing, a folder, no permission, too large
│   ├── FormatError           not a track this tool reads, or broken beyond use
│   └── NoFixesError          readable, but without one usable fix
├── SettingsError         a plan or settings file breaks a rule (key, line, rule)
├── OutputError           a result can not be written
└── EstimateError         arrays that no estimate can be made from

Each carries its evidence: ``what`` is wrong, ``hint`` what to do, ``file`` where.
"""

from __future__ import annotations

__all__ = [
    "AnalyserError",
    "EstimateError",
    "FormatError",
    "InputError",
    "NoFixesError",
    "OutputError",
    "SettingsError",
    "UnreadableError",
]


class AnalyserError(Exception):
    """Base of all errors of this package; prints as ``FILE: what is wrong; what to do``.

    Parameters
    ----------
    what : str
        What is wrong.
    hint : str
        What to do.
    file : str, optional
        Where.

    Examples
    --------
    >>> print(UnreadableError("no such file", "check the path", "no.gpx"))
    no.gpx: no such file; check the path
    """

    def __init__(self, what: str, hint: str = "", file: str | None = None) -> None:
        super().__init__(what, hint, file)
        self.what = what
        self.hint = hint
        self.file = file

    def with_file(self, file: str) -> AnalyserError:
        """The same error, naming ``file`` where none was named yet."""
        if self.file is None:
            self.file = file
            self.args = (self.what, self.hint, file)
        return self

    def __str__(self) -> str:
        text = f"{self.file}: {self.what}" if self.file else self.what
        text = f"{text}; {self.hint}" if self.hint else text
        return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)


class InputError(AnalyserError):
    """The given file or folder can not be used."""


class UnreadableError(InputError):
    """Missing, a folder, no permission, a special file, or too large."""


class FormatError(InputError):
    """Not a track of a known format, or broken beyond use."""


class NoFixesError(InputError):
    """The file was read, but holds no fix with time and position."""


class SettingsError(AnalyserError):
    """A plan or settings file breaks a rule; the text names key, line and rule."""


class OutputError(AnalyserError):
    """A result can not be written."""


class EstimateError(AnalyserError):
    """Arrays of wrong shape or content were handed to an estimator."""
