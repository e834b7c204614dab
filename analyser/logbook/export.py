"""The rows of a logbook as CSV and Parquet, streamed; the same bytes for the same jumps."""

from __future__ import annotations

import csv
import io
import os
import tempfile
from collections.abc import Iterable, Iterator
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from analyser._version import __version__
from analyser.errors import OutputError
from analyser.logbook import Logbook
from analyser.logbook.jump_columns import COLUMNS, NUMBERS, WHO, Row
from analyser.writing import make_folder, write_chunks

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["EXPORTED", "cell_text", "csv_lines", "export_rows", "load_frame", "write_csv", "write_parquet"]

EXPORTED: Final = ("file", "sha256", "jump", *WHO, *COLUMNS)
_HIDDEN: Final = {
    "file",
    "sha256",
    "canopy",
    "site",
    "plan",
    "note",
    "landing_utc",
    "landing_lat",
    "landing_lon",
}
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
BATCH: Final = 2000
CONTENT: Final = (
    "one row per jump in order of landing; angles true; columns: docs/interface.md, CSV of season"
)
_UNITS: Final = {
    "_lb_ft2": "lb/ft2",
    "_mps": "m/s",
    "_deg": "degrees",
    "_hz": "1/s",
    "_lat": "degrees",
    "_lon": "degrees",
    "_utc": "UTC",
    "_m": "m",
}


def export_rows(logbook: Logbook, *, private: bool = False) -> Iterator[Row]:
    """Every jump in order of landing. ``private``: jumpers by number, no names, dates, places or files."""
    numbers = {name: f"jumper {i}" for i, name in enumerate(logbook.jumpers(), 1)}
    for row in logbook.rows():
        if private:
            hidden = dict.fromkeys(_HIDDEN)
            hidden["excluded"] = "yes" if row["excluded"] else None
            hidden["jumper"] = numbers[row["jumper"]]
            row = row | hidden
        yield {name: row[name] for name in EXPORTED}


def write_csv(logbook: Logbook, path: str | os.PathLike[str], *, private: bool = False) -> None:
    """One line per jump under a header; SI units, angles in degrees true, times in UTC. Raises OutputError.

    Texts that a spreadsheet would run as a formula get an apostrophe in front.
    """
    chunks = (text.encode("utf-8") for text in csv_lines(logbook, private=private))
    write_chunks(path, chunks, inputs=[logbook.path])


def csv_lines(logbook: Logbook, *, private: bool = False) -> Iterator[str]:
    """The text of that file, some thousand lines at a time."""
    return _csv_chunks(
        [cell_text(value) for value in row.values()] for row in export_rows(logbook, private=private)
    )


def _csv_chunks(rows: Iterable[list[Any]]) -> Iterator[str]:
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(EXPORTED)
    for i, row in enumerate(rows, 1):
        writer.writerow(row)
        if i % BATCH == 0:
            yield buffer.getvalue()
            buffer.seek(0)
            buffer.truncate()
    yield buffer.getvalue()


def cell_text(value: object) -> object:
    """A cell that no spreadsheet runs as a formula."""
    return f"'{value}" if isinstance(value, str) and value.startswith(_FORMULA) else value


def write_parquet(logbook: Logbook, path: str | os.PathLike[str], *, private: bool = False) -> None:
    """The same table as Parquet: ``landing_utc`` as a time stamp with zone (ms), numbers as float64, each with its unit in the metadata
    of its column; those of the table name program and version. Raises OutputError; needs the extra ``parquet``."""
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError:
        raise OutputError(
            "Parquet needs the extra: parquet", "pip install 'crabline[parquet]'", str(path)
        ) from None
    kinds = {name: pa.float64() if name in NUMBERS else pa.string() for name in EXPORTED} | {
        "jump": pa.int64(),
        "landing_utc": pa.timestamp("ms", tz="UTC"),
    }
    fields = [pa.field(name, kind, metadata=_unit(name)) for name, kind in kinds.items()]
    schema = pa.schema(fields, metadata={"creator": f"crabline {__version__}", "content": CONTENT})
    target = Path(path)
    make_folder(target.parent)
    try:
        with tempfile.TemporaryDirectory(dir=target.parent, prefix=".crabline.") as folder:
            part = Path(folder) / "rows.parquet"
            with pq.ParquetWriter(part, schema) as writer:
                for batch in _batches(map(_timed, export_rows(logbook, private=private))):
                    writer.write_table(pa.Table.from_pylist(batch, schema=schema))
            write_chunks(target, _blocks(part), inputs=[logbook.path])
    except OSError as error:
        raise OutputError(
            f"can not be written ({error.strerror})", "check folder and space", str(target)
        ) from None


def _timed(row: Row) -> Row:
    landed = row["landing_utc"]
    return row if landed is None else row | {"landing_utc": datetime.fromisoformat(landed)}


def _unit(name: str) -> dict[str, str] | None:
    """The unit that the end of a column's name says."""
    end = next((end for end in _UNITS if name.endswith(end)), None)
    return None if end is None else {"unit": _UNITS[end]}


def _batches(rows: Iterable[Row]) -> Iterator[list[Row]]:
    batch: list[Row] = []
    for row in rows:
        batch.append(row)
        if len(batch) == BATCH:
            yield batch
            batch = []
    yield batch


def _blocks(path: Path) -> Iterator[bytes]:
    with path.open("rb") as file:
        while block := file.read(1 << 20):
            yield block


def load_frame(path: str | os.PathLike[str]) -> pd.DataFrame:
    """A logbook as a table, for notebooks.

    Parameters
    ----------
    path : path-like
        The logbook that a season wrote.

    Returns
    -------
    pandas.DataFrame
        One row per jump in order of landing, the columns of the CSV: SI units, angles in degrees true; ``landing_utc`` as
        times with zone, numbers as float64 (NaN where there is no value).

    Raises
    ------
    OutputError
        Where the file is no logbook.

    Examples
    --------
    >>> load_frame("no such.sqlite")
    Traceback (most recent call last):
    ...
    analyser.errors.OutputError: no such.sqlite: no such logbook; crabline season FOLDER makes one
    """
    import pandas as pd  # a season in a notebook is the one place that wants it

    if not Path(path).is_file():
        raise OutputError("no such logbook", "crabline season FOLDER makes one", str(path))
    with Logbook(path) as logbook:
        frame = pd.DataFrame(list(export_rows(logbook)), columns=list(EXPORTED))
    frame[list(NUMBERS)] = frame[list(NUMBERS)].astype("float64")
    frame["landing_utc"] = pd.to_datetime(frame["landing_utc"], utc=True, format="ISO8601")
    return frame
