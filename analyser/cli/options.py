"""Options that several commands share, and their makers.

Who may read or write a path is found out where that is done, in one line with exit code 1; typer would take it for a wrong command.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any

import typer

__all__ = [
    "AssetsOption",
    "HtmlOption",
    "PlanOption",
    "TargetOption",
    "UnitsOption",
    "check_choice",
    "check_units",
    "file_option",
    "flag",
    "folder_option",
    "named_option",
    "path_argument",
]

UNITS = ("us", "uk", "nordic", "metric")


def file_option(name: str, text: str, **more: Any) -> Any:
    """An option that names a file."""
    return typer.Option(name, metavar="FILE", help=text, readable=False, **more)


def folder_option(name: str, text: str) -> Any:
    """An option that names a folder."""
    return typer.Option(name, metavar="FOLDER", help=text, readable=False)


def path_argument(metavar: str, text: str) -> Any:
    """An argument that names a file or a folder."""
    return typer.Argument(metavar=metavar, help=text, readable=False)


def named_option(name: str, metavar: str, text: str, **more: Any) -> Any:
    """An option with a word or a number."""
    return typer.Option(name, metavar=metavar, help=text, **more)


def flag(name: str, text: str, *short: str) -> Any:
    """An option that is there or not."""
    return typer.Option(name, *short, help=text)


PlanOption = Annotated[
    list[Path] | None,
    file_option(
        "--plan", "Site, canopy, pattern, wind (TOML); repeatable, later wins.", envvar="CRABLINE_PLAN"
    ),
]
TargetOption = Annotated[
    str | None, named_option("--target", "LAT,LON", "The target, degrees of WGS 84; beats the plan's.")
]
UnitsOption = Annotated[
    str,
    named_option(
        "--units",
        "NAME",
        f"{', '.join(UNITS[:-1])} or {UNITS[-1]}: units of the text and the page.",
        envvar="CRABLINE_UNITS",
    ),
]
AssetsOption = Annotated[Path | None, folder_option("--assets", "Share one script bundle between pages.")]
HtmlOption = Annotated[Path | None, file_option("--html", "Write the page.")]


def check_choice(option: str, value: str, allowed: Sequence[str]) -> None:
    """Wrong usage (exit code 2) where ``value`` is not one of ``allowed``."""
    if value not in allowed:
        raise typer.BadParameter(f"{value!r} is not one of {', '.join(allowed)}", param_hint=option)


def check_units(value: str) -> None:
    """Wrong usage where there are no such units."""
    check_choice("--units", value, UNITS)
