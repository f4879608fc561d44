"""A table's cells written out: rounded, harmless, for CSV and for JSON at once."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterable
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from lapkit.errors import printable

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
_FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠")


class Rows(NamedTuple):
    """Rows of a table as lines of CSV, and as JSON's arrays with commas between where these are wanted."""

    csv: str
    json: str

    @classmethod
    def of(cls, table: pd.DataFrame, *, json: bool) -> Rows:
        """A table's rows; a number is written out once for both."""
        part = rounded(table)
        cells = [_Cells.of(part[column]) for column in part.columns]
        lines = map(",".join, zip(*(c.csv for c in cells), strict=True))
        rows = map(",".join, zip(*(c.json for c in cells), strict=True)) if json else ()
        return cls("\n".join([*lines, ""]), f"[{'],['.join(rows)}]" if json else "")


def csv_lines(rows: Iterable[Iterable[Any]]) -> str:
    """Rows as lines of CSV."""
    lines = io.StringIO()
    csv.writer(lines, lineterminator="\n").writerows(rows)
    return lines.getvalue()


def json_text(value: Any) -> str:
    """As short as JSON can be; no number that it does not know."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


class _Cells(NamedTuple):
    """A rounded column's cells for CSV and as JSON; a number is written out once for both."""

    csv: list[str]
    json: list[str]

    @classmethod
    def of(cls, column: pd.Series) -> _Cells:
        if column.dtype.kind == "f":
            texts = ["" if value != value else repr(value) for value in column.tolist()]
            return cls(texts, [text or "null" for text in texts])
        if column.dtype == "str":
            values = column.to_numpy(dtype=object, na_value=None).tolist()
        else:
            values = [_plain(value) for value in column.tolist()]
        return cls(list(map(_csv_cell, values)), list(map(_json_cell, values)))


def rounded(table: pd.DataFrame) -> pd.DataFrame:
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


def _harmless(text: str) -> str:
    """Text without what a terminal would obey; what a spreadsheet would run gets an apostrophe in front."""
    text = "\n".join(map(printable, text.split("\n")))
    return "'" + text if text.lstrip().startswith(_FORMULA) else text


def _plain(value: Any) -> Any:
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, np.integer):
        return int(value)
    if isinstance(value, np.bool_):
        return bool(value)
    return None if value is pd.NA or value is None else value


@lru_cache(maxsize=4096, typed=True)
def _csv_cell(value: Any) -> str:
    safe = _harmless(value) if isinstance(value, str) else value
    return csv_lines([[safe, ""]])[: -len(",\n")]  # an empty cell alone in its line would be quoted


@lru_cache(maxsize=4096, typed=True)
def _json_cell(value: Any) -> str:
    return json_text(value)
