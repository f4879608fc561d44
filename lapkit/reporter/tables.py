"""The published tables as files, and ``results.json`` with all of them but the trace, and where they came from."""

from __future__ import annotations

import gzip
import io
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from typing import TextIO

import pandas as pd

from lapkit.errors import OutputError
from lapkit.measuring.cluster import in_order
from lapkit.measuring.reviews import EventReview
from lapkit.reporter.cells import Rows, csv_lines, json_text, rounded
from lapkit.reporter.event_words import event_title

_ROWS_AT_ONCE = 2000  # of a trace: as text they take a megabyte


def write_tables(
    event: EventReview, folder: Path, *, parquet: bool = False, executor: Executor | None = None
) -> list[str]:
    """Write every table, and ``results.json``; names of the files written.

    Args:
        event: what to write.
        folder: an existing folder.
        parquet: whether to write the tables as Parquet too.
        executor: who turns cells into text, which takes far longer than sending them; this process when None.

    Raises:
        OutputError: Parquet was asked for and its extra is not installed.
    """
    names: list[str] = []
    head = {
        "title": event_title(event),
        "start_utc": event.began,
        "day": event.day.isoformat() if event.day else "",
        "provenance": event.provenance,
        "notes": list(event.notes),
        "unusable": [vars(u) for u in event.unusable],
    }
    # Of a file name that is no UTF-8 the bytes are written as JSON escapes them.
    with (folder / "results.json").open(
        "w", encoding="utf-8", errors="backslashreplace"
    ) as results:
        results.write(json_text(head)[:-1] + ',"tables":')
        between = "{"
        for name, table in event.tables.items():
            if name == "trace":
                # It has a line for each fix: a reader of the results, a season too, would have to hold gigabytes in memory.
                names += write_table(name, table, folder, parquet=parquet)
                continue
            columns = json_text([str(c) for c in table.columns])
            results.write(f'{between}{json_text(name)}:{{"columns":{columns},"rows":[')
            names += write_table(
                name, table, folder, parquet=parquet, results=results, executor=executor
            )
            results.write("]}")
            between = ","
        results.write("}}\n")
    return [*names, "results.json"]


def write_table(
    name: str,
    table: pd.DataFrame,
    folder: Path,
    *,
    parquet: bool = False,
    results: TextIO | None = None,
    executor: Executor | None = None,
) -> list[str]:
    """Write one table as CSV, gzipped for ``trace``, and as Parquet when asked for; names of the files.

    Its rows are also written to ``results`` as JSON. ``executor`` is as for :func:`write_tables`.

    Raises:
        OutputError: Parquet was asked for and its extra is not installed.
    """
    names = [f"{name}.csv.gz" if name == "trace" else f"{name}.csv"]
    with _text_file(folder / names[0]) as file:
        file.write(csv_lines([table.columns]))
        # Part by part, as cells made Python objects take many times their size.
        starts = range(0, len(table), _ROWS_AT_ONCE)
        parts = (table.iloc[start : start + _ROWS_AT_ONCE] for start in starts)
        written = in_order(executor, partial(Rows.of, json=results is not None), parts)
        for start, rows in zip(starts, written, strict=True):
            file.write(rows.csv)
            if results:
                results.write("," * (start > 0) + rows.json)
    if parquet:
        names.append(f"{name}.parquet")
        _write_parquet(rounded(table), folder / names[-1])
    return names


@contextmanager
def _text_file(path: Path) -> Iterator[TextIO]:
    """A file for text; gzipped where its name says so, to the same bytes for the same text."""
    with path.open("wb") as raw:
        # No name and no time in the header.
        packed = path.suffix == ".gz" and gzip.GzipFile("", "wb", fileobj=raw, mtime=0)
        with io.TextIOWrapper(packed or raw, encoding="utf-8", newline="") as file:
            yield file


def require_parquet() -> None:
    """Say before the work that Parquet cannot be written here.

    Raises:
        OutputError: the extra is not installed.
    """
    if find_spec("pyarrow") is None:
        raise OutputError(
            "writing Parquet needs the parquet extra",
            remedy="Install it: pip install 'lapkit[parquet]'.",
        )


def _write_parquet(table: pd.DataFrame, path: Path) -> None:
    require_parquet()
    table.to_parquet(path, index=False)
