"""A command whose help is text: its options in groups, its examples one a line. What is not grouped stands under "Options"."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any, Final, NamedTuple

from typer.core import TyperCommand

__all__ = ["GROUPS", "Grouped", "as_typed"]

GROUPS: Final[dict[str, tuple[str, ...]]] = {
    "What it works with": (
        "--plan", "--target", "--winds", "--station", "--at", "--hand", "--jump", "--load", "--logbook",
    ),
    "Text and pages": (
        "--brief", "--quiet", "--units", "--html", "--open", "--recollect", "--assets", "--coach", "--talk",
        "--talks", "--pages", "--private",
    ),
    "Files for other programs (- for stdout)": (
        "--json", "--gpx", "--geojson", "--kml", "--winds-csv", "--samples-csv", "--csv", "--progress",
    ),
    "Other files": ("--parquet", "--images", "--image-format", "--canopy-cards"),
    "How the season runs": ("--jobs", "--scheduler", "--strict", "--retry", "--forget"),
    "Instead of the above": ("--check", "--template", "--schema"),
}  # fmt: skip
REST: Final = "Options"
TYPED: Final[dict[Any, type]] = {str: str, bool: bool, Path: Path, list[Path]: Path}


class AsTyped(NamedTuple):
    """Words, paths and flags taken as they were typed. For them typer would load a library of validators, a tenth of a debrief's time."""

    kind: type

    def coerce(self, value: Any, param: Any, ctx: Any) -> Any:
        """The value of a parameter; nothing where it was not given."""
        if value is None:
            return () if param.multiple or param.nargs == -1 else None
        return [self.kind(v) for v in value] if isinstance(value, (list, tuple)) else self.kind(value)


def as_typed(params: list[Any]) -> list[Any]:
    """The parameters, those that hold words, paths or a flag without a validator (no flag here is set by a variable)."""
    for param in params:
        kind = TYPED.get(getattr(getattr(param, "type_descriptor", None), "annotation", None))
        if kind is not None and hasattr(param, "get_runtime_param"):
            param.get_runtime_param = partial(AsTyped, kind)
    return params


class Grouped(TyperCommand):
    """A command whose help shows its options in groups and its examples (the lines of the epilog) as they are typed."""

    def get_params(self, ctx: Any) -> list[Any]:
        """Arguments and options, the plain ones taken as they were typed."""
        return as_typed(super().get_params(ctx))

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Arguments, then the groups that this command has anything in."""
        for title, rows in self.sections(ctx):
            with formatter.section(title):
                formatter.write_dl(rows)

    def sections(self, ctx: Any) -> list[tuple[str, list[tuple[str, str]]]]:
        """Title and rows (words, meaning) of each group, the ungrouped last."""
        of = {option: title for title, options in GROUPS.items() for option in options}
        found: dict[str, list[tuple[str, str]]] = {title: [] for title in ("Arguments", *GROUPS, REST)}
        for param in self.get_params(ctx):
            row = param.get_help_record(ctx)
            if row is not None:
                argument = param.param_type_name == "argument"
                title = "Arguments" if argument else of.get(param.opts[0], REST)
                words = row[0].split(" <")[0] if argument else row[0]  # a reader wants no Python type
                found[title].append((words, row[1]))
        return [(title, rows) for title, rows in found.items() if rows]

    def format_epilog(self, ctx: Any, formatter: Any) -> None:
        """The examples."""
        lines = (self.epilog or "").splitlines()
        if lines:
            with formatter.section("Examples"):
                for line in lines:
                    formatter.write_text(line)
