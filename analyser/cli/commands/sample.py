"""``crabline sample``."""

from pathlib import Path
from typing import Annotated

import typer

from analyser.cli.options import folder_option
from analyser.errors import AnalyserError, OutputError

__all__ = ["sample"]

CLUB_SEED, CLUB_JUMPS = 1, 12
CLUB = {"club": f"a folder for a season: six jumpers, {CLUB_JUMPS} jumps each, with plans and logbook.toml"}


def sample(
    name: Annotated[str | None, typer.Argument(metavar="NAME", help="Which sample; none lists them.")] = None,
    out: Annotated[Path, folder_option("--out", "Where to write it.")] = Path("."),
) -> None:
    """Write one sample, or list them."""
    from analyser.synthetic.samples import sample_names, write_sample

    names = sample_names()
    if name is None:
        for key, text in {**names, **CLUB}.items():
            print(f"{key:24} {text}")
        return
    if name in CLUB:
        from analyser.synthetic.season import write_season

        print(f"{len(write_season(out / name, CLUB_SEED, CLUB_JUMPS))} tracks in {out / name}")
        return
    if name not in names:
        import difflib

        near = difflib.get_close_matches(name, [*names, *CLUB], 1)
        raise AnalyserError(
            "there is no sample of that name",
            f"did you mean {near[0]}? crabline sample lists them" if near else "crabline sample lists them",
            name,
        )
    try:
        paths = write_sample(name, out)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise OutputError(f"can not be read ({reason})", "check folder and permission", str(out)) from None
    for path in paths:
        print(path)
