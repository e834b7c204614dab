"""The ``crabline`` command: its list of commands, each loaded when it is called; errors as one line, exit codes."""

from __future__ import annotations

import errno
import os
import sys
from importlib import import_module
from typing import Annotated, Any, NamedTuple, NoReturn

import typer
from typer.core import TyperCommand, TyperGroup

from analyser._version import __version__
from analyser.cli.help import Grouped, as_typed
from analyser.cli.streams import error_line, give_up_stdout, open_what_is_closed, write_any_character
from analyser.errors import AnalyserError

__all__ = ["COMMANDS", "app", "main"]


class About(NamedTuple):
    """What ``--help`` says of a command in the list and on its own, and examples of it."""

    short: str
    text: str
    examples: tuple[str, ...]


COMMANDS = {
    "debrief": About(
        "One jump: where it landed, why, what to change.",
        "Debrief one jump: winds by layer, legs with turn heights, plan against flown, where the metres went.",
        (
            "crabline sample two_jumps --out tracks",
            "crabline debrief tracks/two_jumps.gpx --target 49.7215,-107.9342 --html page.html",
            "crabline debrief tracks/two_jumps.gpx --jump all --brief",
            "crabline debrief tracks/two_jumps.gpx#1 tracks/two_jumps.gpx#2",
        ),
    ),
    "plan": About(
        "The pattern that reaches the target in a wind.",
        "Draw the pattern that reaches the target in a given wind: turn points and heights. On the ground, before the jump.",
        (
            "crabline sample first_light --out tracks",
            "crabline plan --plan tracks/first_light.toml --gpx pattern.gpx",
            "crabline plan --template",
        ),
    ),
    "info": About(
        "What a file holds; nothing is judged.",
        "What a file holds: sampling, gaps, altitude quality, jumps found; nothing is judged.",
        ("crabline sample first_light --out tracks", "crabline info tracks/first_light.gpx"),
    ),
    "season": About(
        "Every track of a folder, and what only many tell.",
        "Debrief every track below the folders into one logbook, then summarise it.",
        (
            "crabline sample two_jumps --out tracks",
            "crabline season tracks --logbook season.sqlite --csv season.csv",
            "crabline season tracks --logbook season.sqlite --check",
        ),
    ),
    "load": About(
        "Everyone of one load: order, nearest, one wind.",
        "Everyone of one load: who was in it, in which order, who came how near whom, directions, one wind for all.",
        (
            "crabline load a.gpx b.gpx c.fit --html load.html",
            "crabline load my_tracks --at 2026-06-14T10:12Z --html load.html",
        ),
    ),
    "desk": About(
        "The same by mouse: a local page in the browser.",
        "The local page in the browser: drop a track, click the target, read the debrief, keep the logbook.",
        ("crabline desk my_tracks",),
    ),
    "sample": About(
        "Invented demo tracks, or a whole club.",
        "Write an invented demo track with its truth beside it, or a whole club; with no name, list them.",
        ("crabline sample first_light --out tracks", "crabline sample club --out tracks"),
    ),
}
"""Every command, in the order of ``--help``: the function of that name in the module of that name in ``cli/commands``."""
CONTEXT = {"help_option_names": ["-h", "--help"]}


class Commands(TyperGroup):
    """The commands by name and help alone; options, and what works behind them, load with the one that is called."""

    def __init__(self, **attrs: Any) -> None:
        light = {name: TyperCommand(name, short_help=about.short) for name, about in COMMANDS.items()}
        super().__init__(**{**attrs, "commands": light})

    def get_params(self, ctx: Any) -> list[Any]:
        """The options before any command."""
        return as_typed(super().get_params(ctx))

    def resolve_command(self, ctx: Any, args: list[str]) -> tuple[str | None, Any, list[str]]:
        """The command of the first word, whole."""
        name, _, rest = super().resolve_command(ctx, args)
        return name, None if name is None else whole(name), rest


def whole(name: str) -> Any:
    """A command with its options."""
    one = typer.Typer(context_settings=CONTEXT, rich_markup_mode=None, add_completion=False)
    call = getattr(import_module(f"analyser.cli.commands.{name}"), name)
    about = COMMANDS[name]
    one.command(name, cls=Grouped, help=about.text, epilog="\n".join(about.examples))(call)
    return typer.main.get_command(one)


app = typer.Typer(
    cls=Commands,
    context_settings=CONTEXT,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="The debrief of a parachute landing from its GPS track, on the ground, after the jump. "
    "Not an altimeter, not an instructor: licensed instructors and local rules decide.",
)


def version(wanted: bool) -> None:
    """Print the version and leave."""
    if wanted:
        print(f"crabline {__version__}")
        raise typer.Exit


@app.callback()
def common(
    show_version: Annotated[
        bool, typer.Option("--version", callback=version, is_eager=True, help="Show the version and exit.")
    ] = False,
) -> None:
    """Options of the command itself."""


def main() -> None:
    """Run the command; every foreseen error is one line on stderr and exit code 1."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ[name] = (
            "1"  # with more the last digits of a sum depend on how many: same input, same bytes
        )
    open_what_is_closed()
    write_any_character()
    try:
        try:
            app(prog_name="crabline")
        finally:
            sys.stdout.flush()
    except AnalyserError as error:
        fail(error)
    except SystemExit as left:
        if isinstance(left.__context__, BrokenPipeError):  # click has caught it and leaves with 1
            give_up_stdout(status=0)
        raise
    except BrokenPipeError:
        give_up_stdout(status=0)  # who reads no further has what was wanted: crabline … | head
    except OSError as error:
        full = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO)
        if error.filename is not None or error.errno not in full:
            raise
        reason = os.strerror(error.errno).lower()
        give_up_stdout(f"error: standard output: can not be written ({reason}); make room")
    except KeyboardInterrupt:
        raise SystemExit(130) from None


def fail(error: AnalyserError) -> NoReturn:
    """``error: FILE: what is wrong; what to do`` on stderr, exit code 1."""
    print(error_line(error), file=sys.stderr)
    raise SystemExit(1)
