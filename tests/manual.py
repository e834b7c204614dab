"""The manual page, made from the help of the commands: ``python tests/manual.py`` writes docs/crabline.1 anew."""

from __future__ import annotations

import re
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [] if str(ROOT) in sys.path else [str(ROOT)]

from analyser.cli.app import COMMANDS, whole  # noqa: E402
from analyser.findings import CAUTIONS  # noqa: E402

PAGE = ROOT / "docs" / "crabline.1"

DESCRIPTION = """\
crabline debriefs the GPS track of a parachute jump on the ground, after landing. It recovers the wind in every layer from the canopy flight,
labels the legs of the pattern with their turn heights, draws the pattern that would have worked in that wind, and says where the metres went.
It reads GPX, FIT, IGC, NMEA 0183, TCX and tables (CSV), plain or packed with gzip, told by their content. FILE#2 is the second jump of a file,
- is standard input; for an output - is standard output."""
STATUS = (
    ("0", "Done, also when something could not be determined: that is a result with its reason."),
    (
        "1",
        "The input can not be used: one line on standard error says which file, what is wrong and what to do.",
    ),
    ("2", "Wrong usage."),
)
ENVIRONMENT = (
    ("CRABLINE_PLAN", "Plan files, parted as in PATH, as if given with --plan."),
    ("CRABLINE_UNITS", "us, uk, nordic or metric, as if given with --units."),
    ("COLUMNS", "Width of the text where standard output is no terminal."),
)
FILES = (
    ("logbook.toml", "Settings and corrections for the tracks of a folder and of all below it; the nearest wins key by key."),
    ("logbook.sqlite", "The logbook that a season makes."),
)  # fmt: skip


def roff(text: str) -> str:
    """Text for roff: backslashes, hyphens that are typed, and lines that would be requests."""
    text = (
        text.replace("\\", "\\e")
        .replace("-", "\\-")
        .replace("±", "\\(+-")
        .replace("°", "\\(de")
        .replace("…", "...")
    )
    return "\n".join(f"\\&{line}" if line[:1] in (".", "'") else line for line in text.splitlines())


def rows(pairs: object) -> list[str]:
    found = []
    for term, meaning in pairs:  # type: ignore[attr-defined]
        found += [".TP", f".B {roff(term)}", roff(re.sub(r" *\[[^]]*: .*\]$| *\[required\]$", "", meaning))]
    return found


def words(command: object) -> str:
    """The arguments as they are typed, several with dots."""
    given = [p for p in command.params if p.param_type_name == "argument"]  # type: ignore[attr-defined]
    return " ".join(f"{p.metavar}{' ...' if p.nargs == -1 else ''}" for p in given)


def command_lines(name: str) -> list[str]:
    """What the help of a command says, as a section."""
    command = whole(name)
    with command.make_context(name, [], resilient_parsing=True) as context:
        lines = [f".SS crabline {name} [options] {words(command)}".rstrip(), roff(COMMANDS[name].text)]
        for title, entries in command.sections(context):
            shown = [entry for entry in entries if "--help" not in entry[0]]
            if shown:
                lines += [".PP", f".I {roff(title)}", *rows(shown)]
    return lines


def manual() -> str:
    """The page. It holds neither date nor version, so that it changes only with the help."""
    lines = [
        '.TH CRABLINE 1 "" "crabline" "Debrief of parachute landings"',
        ".SH NAME",
        "crabline \\- debrief of a parachute landing from its GPS track",
        ".SH SYNOPSIS",
        ".B crabline",
        f"{{{' | '.join(COMMANDS)}}} [options] [arguments]",
        ".SH DESCRIPTION",
        roff(DESCRIPTION),
        ".SH COMMANDS",
        *(line for name in COMMANDS for line in command_lines(name)),
        ".SH EXIT STATUS",
        *rows(STATUS),
        ".SH ENVIRONMENT",
        *rows(ENVIRONMENT),
        ".SH FILES",
        *rows(FILES),
        ".SH EXAMPLES",
        *(f".PP\n.nf\n{roff(example)}\n.fi" for about in COMMANDS.values() for example in about.examples),
        ".SH CAUTIONS",
        *(f".PP\n{roff(caution)}" for caution in CAUTIONS),
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    PAGE.write_text(manual(), encoding="utf-8")
