"""The columns of a CSV log as numbers, gathered in chunks: a large file is never held as text all at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.importer.csv_angles import read_angles, read_sides
from lapkit.importer.csv_layout import Layout
from lapkit.importer.csv_text import GuardedText
from lapkit.importer.csv_times import CsvTimes
from lapkit.importer.fixes import FIX_WORDS
from lapkit.importer.source import Source

if TYPE_CHECKING:
    import pandas as pd

_CHUNK_ROWS = 100_000  # some tens of megabytes as text


class Table:
    """The rows of a file that were read so far, column by column.

    Attributes:
        layout: which column is where.
        times: the time and date columns, which belong together.
        riders: names in the rider column → their numbers, in the order in which they first appear.
    """

    def __init__(self, layout: Layout, times: CsvTimes) -> None:
        self.layout = layout
        self.times = times
        self.riders: dict[str, int] = {}
        self._as_text = _columns_of_text(layout, times)
        self._readers = {
            name: self._reader_of(name) for name in layout.columns if name not in ("time", "date")
        }
        self._parts: dict[str, list[FloatArray]] = {name: [] for name in self._readers}

    def read(self, source: Source) -> None:
        """Read all rows of the file.

        Raises:
            LogError: the file is too large, or a line is longer than any row of a log.
            ValueError, OverflowError: a row is beyond repair; those in the chunks before it were read.
        """
        for chunk in self._chunks(source):
            self._add(chunk)

    def take(self, column: str) -> FloatArray | None:
        """All rows of a column, ``(n,)``, handed over once and then let go; None when the file does not have it."""
        if column not in self.layout.columns:
            return None
        parts = self._parts.pop(column, [])
        return np.concatenate(parts) if parts else np.empty(0)

    def _chunks(self, source: Source) -> Iterator[pd.DataFrame]:
        """The columns in use, in chunks of rows; a column is named by its place in the file."""
        import pandas as pd

        columns = self.layout.columns
        places = sorted({column.index for column in columns.values()})
        # With ``usecols``, rows that are longer or shorter than the header do not stop the reader.
        yield from pd.read_csv(
            GuardedText(source, self.layout.encoding, self.layout.data_line),
            sep=self.layout.delimiter,
            decimal=self.layout.decimal,
            header=None,
            names=range(places[-1] + 1),
            usecols=places,
            index_col=False,
            dtype={columns[name].index: str for name in self._as_text},
            chunksize=_CHUNK_ROWS,
            low_memory=False,
        )

    def _add(self, chunk: pd.DataFrame) -> None:
        """Take the rows of one chunk, all of their columns or none."""
        columns = self.layout.columns
        values = {name: read(chunk[columns[name].index]) for name, read in self._readers.items()}
        times = chunk[columns["time"].index]
        dates = _texts(chunk[columns["date"].index]) if self.times.has_date else ()
        self.times.add(_texts(times) if "time" in self._as_text else _numbers(times), dates)
        for name, part in values.items():
            self._parts[name].append(part)

    def _reader_of(self, name: str) -> Callable[[pd.Series], FloatArray]:
        """What turns a column's cells into numbers."""
        if name == "rider":
            return self._rider_numbers
        if name in ("lat_side", "lon_side"):
            return _side_signs
        if name in ("lat", "lon") and name in self._as_text:
            return _angles
        if name == "fix" and name in self._as_text:
            return _fix_qualities
        return _numbers

    def _rider_numbers(self, series: pd.Series) -> FloatArray:
        names = [name.strip() for name in _texts(series)]
        return np.array([self.riders.setdefault(name, len(self.riders)) for name in names], float)


def _columns_of_text(layout: Layout, times: CsvTimes) -> set[str]:
    """Columns to be read as text, because their values are no plain numbers."""
    names = {"date", "lat_side", "lon_side", "rider"} & layout.columns.keys()
    if times.form != "number":
        names.add("time")
    for name in {"lat", "lon", "fix"} & layout.columns.keys():
        sample = layout.values(name)
        if 2 * sum(map(_is_number, sample)) < len(sample):
            names.add(name)
    return names


def _is_number(text: str) -> bool:
    try:
        float(text.replace(",", "."))
    except ValueError:
        return False
    return True


def _numbers(series: pd.Series) -> FloatArray:
    """Cells as numbers, NaN where one is none."""
    import pandas as pd

    if series.dtype.kind not in "iufb":
        # One odd cell makes text of the whole chunk, with its decimal commas.
        series = pd.to_numeric(series.astype(str).str.replace(",", "."), errors="coerce")
    return series.to_numpy(dtype=np.float64)


def _texts(series: pd.Series) -> list[str]:
    return series.fillna("").astype(str).tolist()


def _side_signs(series: pd.Series) -> FloatArray:
    return read_sides(_texts(series))


def _angles(series: pd.Series) -> FloatArray:
    return read_angles(_texts(series))


def _fix_qualities(series: pd.Series) -> FloatArray:
    return np.array([FIX_WORDS.get(word.strip().lower(), np.nan) for word in _texts(series)])
