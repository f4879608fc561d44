"""Tables of the contract as files, and ``results.json`` with all of them but the trace, and where they came from."""

from __future__ import annotations

import gzip
import io
import json
import math
from collections.abc import Iterator
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

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

_SIGNIFICANT = 6
_ROWS_AT_ONCE = 2000
_FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠")


def write_tables(event: EventReview, folder: Path, *, parquet: bool = False) -> list[str]:
    """Write every table, and ``results.json``; names of the files written.

    Raises:
        OutputError: Parquet was asked for and its extra is not installed.
    """
    names = []
    for name, table in event.tables.items():
        names += write_table(name, table, folder, parquet=parquet)
    with (folder / "results.json").open("w", encoding="utf-8") as file:
        file.writelines(_results(event))
    return [*names, "results.json"]


def write_table(
    name: str, table: pd.DataFrame, folder: Path, *, parquet: bool = False
) -> list[str]:
    """Write one table as CSV, gzipped for ``trace``, and as Parquet when asked for; names of the files.

    Raises:
        OutputError: Parquet was asked for and its extra is not installed.
    """
    ready = _rounded(table)
    names = [f"{name}.csv"]
    if name == "trace":
        names = ["trace.csv.gz"]
        (folder / names[0]).write_bytes(_gzipped(_csv(ready)))
    else:
        (folder / names[0]).write_text(_csv(_safe(ready)), encoding="utf-8", newline="")
    if parquet:
        names.append(f"{name}.parquet")
        _write_parquet(ready, folder / names[-1])
    return names


def _csv(table: pd.DataFrame) -> str:
    out = io.StringIO()
    table.to_csv(out, index=False, lineterminator="\n")
    return out.getvalue()


def _gzipped(text: str) -> bytes:
    """The same bytes for the same text: no name and no time in the header."""
    out = io.BytesIO()
    with gzip.GzipFile(filename="", mode="wb", fileobj=out, mtime=0) as file:
        file.write(text.encode())
    return out.getvalue()


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


def _safe(table: pd.DataFrame) -> pd.DataFrame:
    """Text that a spreadsheet would run as a formula gets an apostrophe in front."""
    out = table.copy()
    for name in out.columns:
        if out[name].dtype.kind in "fiub":
            continue
        out[name] = [_harmless(value) if isinstance(value, str) else value for value in out[name]]
    return out


@lru_cache(maxsize=4096)
def _harmless(text: str) -> str:
    """The same without what a terminal would obey, and never a formula; lines stay lines."""
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


def _rows(table: pd.DataFrame) -> list[tuple[Any, ...]]:
    """A table's rows in plain types; what is not there is None."""
    columns = []
    for name in table.columns:
        column = table[name]
        if column.dtype.kind == "f" and np.isfinite(column).all():
            columns.append(column.tolist())
        else:
            columns.append([_plain(v) for v in column.tolist()])
    return list(zip(*columns, strict=True))


def _plain(value: Any) -> Any:
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, np.integer):
        return int(value)
    if isinstance(value, np.bool_):
        return bool(value)
    return None if value is pd.NA or value is None else value


def _results(event: EventReview) -> Iterator[str]:
    """``results.json`` piece by piece: as numbers of Python's own a season's table is many times its size."""
    head = {
        "title": heading(event),
        "provenance": event.provenance,
        "notes": list(event.notes),
        "unusable": [vars(u) for u in event.unusable],
    }
    yield _json(head)[:-1] + ',"tables":{'
    between = ""
    for name, table in event.tables.items():
        if name == "trace":
            # A line a fix: with it whoever reads the rest, a season too, would have to hold gigabytes.
            continue
        yield f'{between}{_json(name)}:{{"columns":{_json([str(c) for c in table.columns])},"rows":['
        between = ","
        for start in range(0, len(table), _ROWS_AT_ONCE):
            rows = _json(_rows(_rounded(table.iloc[start : start + _ROWS_AT_ONCE])))
            yield ("," if start else "") + rows[1:-1]
        yield "]}"
    yield "}}\n"


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
