"""Tables of the contract as files, and ``results.json`` with all of them but the trace, and where they came from."""

from __future__ import annotations

import csv
import gzip
import io
import json
import math
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any, NamedTuple, TextIO

import numpy as np
import pandas as pd

from lapkit.errors import OutputError, printable
from lapkit.reporter.review_types import EventReview
from lapkit.reporter.words import heading

_DECIMALS = {
    "lat": 8,
    "lon": 8,
    "_1pm": 6,
    "_mps2": 3,
    "_mps": 3,
    "_deg": 2,
    "_hz": 3,
    "_m": 3,
    "_s": 3,
}
"""Digits after the point by the end of a column's name: finer than anything that is known."""

_SIGNIFICANT = 6  # digits of what has no unit of its own
_ROWS_AT_ONCE = 2000  # of a trace: as text they take a megabyte
_FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠")


def write_tables(event: EventReview, folder: Path, *, parquet: bool = False) -> list[str]:
    """Write every table, and ``results.json``; names of the files written.

    Raises:
        OutputError: Parquet was asked for and its extra is not installed.
    """
    names: list[str] = []
    head = {
        "title": heading(event),
        "provenance": event.provenance,
        "notes": list(event.notes),
        "unusable": [vars(u) for u in event.unusable],
    }
    with (folder / "results.json").open("w", encoding="utf-8") as results:
        results.write(_json(head)[:-1] + ',"tables":')
        between = "{"
        for name, table in event.tables.items():
            if name == "trace":
                # A line a fix: with it whoever reads the rest, a season too, would have to hold gigabytes.
                names += write_table(name, table, folder, parquet=parquet)
                continue
            columns = _json([str(c) for c in table.columns])
            results.write(f'{between}{_json(name)}:{{"columns":{columns},"rows":[')
            names += write_table(name, table, folder, parquet=parquet, results=results)
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
) -> list[str]:
    """Write one table as CSV, gzipped for ``trace``, and as Parquet when asked for; names of the files.

    ``results`` is given its rows as JSON too.

    Raises:
        OutputError: Parquet was asked for and its extra is not installed.
    """
    names = [f"{name}.csv.gz" if name == "trace" else f"{name}.csv"]
    with _text_file(folder / names[0]) as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(table.columns)
        # As numbers of Python's own a season's table is many times its size.
        for start in range(0, len(table), _ROWS_AT_ONCE):
            part = _rounded(table.iloc[start : start + _ROWS_AT_ONCE])
            cells = [_Cells.of(part[column]) for column in part.columns]
            writer.writerows(zip(*(c.csv for c in cells), strict=True))
            if results:
                rows = map(",".join, zip(*(c.json for c in cells), strict=True))
                results.write("," * (start > 0) + "[" + "],[".join(rows) + "]")
    if parquet:
        names.append(f"{name}.parquet")
        _write_parquet(_rounded(table), folder / names[-1])
    return names


@contextmanager
def _text_file(path: Path) -> Iterator[TextIO]:
    """A file for text; gzipped where its name says so, to the same bytes for the same text."""
    with path.open("wb") as raw:
        # No name and no time in the header.
        packed = path.suffix == ".gz" and gzip.GzipFile("", "wb", fileobj=raw, mtime=0)
        with io.TextIOWrapper(packed or raw, encoding="utf-8", newline="") as file:
            yield file


class _Cells(NamedTuple):
    """A rounded column's cells for CSV and as JSON; a number is written out once for both."""

    csv: list[Any]
    json: list[str]

    @classmethod
    def of(cls, column: pd.Series) -> _Cells:
        if column.dtype.kind == "f":
            texts = [None if value != value else repr(value) for value in column.tolist()]
            return cls(texts, [text or "null" for text in texts])
        if column.dtype == "str":
            values = column.to_numpy(dtype=object, na_value=None).tolist()
        else:
            values = [_plain(value) for value in column.tolist()]
        safe = [_harmless(value) if isinstance(value, str) else value for value in values]
        return cls(safe, list(map(_json_cell, values)))


def _rounded(table: pd.DataFrame) -> pd.DataFrame:
    """Floats to the digits of their unit, those without one to six significant digits."""
    out = {}
    for name in table.columns:
        column = table[name]
        if column.dtype.kind == "f":
            values = np.where(np.isfinite(column), column.to_numpy(dtype=np.float64), np.nan)
            decimals = next((d for end, d in _DECIMALS.items() if str(name).endswith(end)), None)
            rounded = _significant(values) if decimals is None else np.round(values, decimals)
            # Minus zero would be written as such.
            column = pd.Series(rounded + 0.0, index=column.index)
        out[name] = column
    return pd.DataFrame(out, columns=table.columns)


def _significant(values: np.ndarray) -> np.ndarray:
    real = np.isfinite(values) & (values != 0)
    scale = 10.0 ** (_SIGNIFICANT - 1 - np.floor(np.log10(np.abs(values[real]))))
    out = values.copy()
    out[real] = np.round(values[real] * scale) / scale
    return out


@lru_cache(maxsize=4096)
def _harmless(text: str) -> str:
    """Text without what a terminal would obey; what a spreadsheet would run gets an apostrophe in front."""
    text = "\n".join(map(printable, text.split("\n")))
    return "'" + text if text.lstrip().startswith(_FORMULA) else text


def require_parquet() -> None:
    """Say before the work, too, that Parquet cannot be written here.

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


def _plain(value: Any) -> Any:
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, np.integer):
        return int(value)
    if isinstance(value, np.bool_):
        return bool(value)
    return None if value is pd.NA or value is None else value


@lru_cache(maxsize=4096, typed=True)
def _json_cell(value: Any) -> str:
    return _json(value)


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
