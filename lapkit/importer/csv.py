"""CSV with a header → raw fixes, in chunks: a large file is never held as text all at once."""

from __future__ import annotations

import io
from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from lapkit.errors import LogError
from lapkit.importer.csv_columns import CHANNEL_OF, LENGTH_UNITS, SPEED_UNITS
from lapkit.importer.csv_layout import Layout, find_layout
from lapkit.importer.csv_times import CsvTimes
from lapkit.importer.csv_values import from_degrees_minutes, read_angles, signs, speed_unit
from lapkit.importer.fixes import FIX_WORDS, RawFixes
from lapkit.importer.log import UP_TO_THERE
from lapkit.importer.source import Source, safe_name
from lapkit.units import FloatArray

if TYPE_CHECKING:
    import pandas as pd

_CHUNK_ROWS = 100_000  # some tens of megabytes as text
_LINE_CHARACTERS = 1024**2  # a thousand columns of a thousand characters
_MOST_RIDERS = 200  # in one file; more names are something else's
_FEWEST_ROWS = 10  # on average; a name for every row or so names no riders


def read_csv(source: Source, columns: Mapping[str, str]) -> RawFixes:
    """Read every row of a CSV log, in file order.

    Args:
        source: the file.
        columns: column name → header, for what the user says himself.

    Raises:
        LogError: no usable header, times in no known form, or a line too long to be one.
        OptionError: ``columns`` names no column of lapkit's.
    """
    layout = find_layout(source, columns)
    times = CsvTimes(layout, source.name)
    table = _Table(layout, times)
    notes: tuple[str, ...] = ()
    try:
        for chunk in _chunks(source, layout, table.texts):
            table.add(chunk)
    except (ValueError, OverflowError) as error:
        # pandas raises many kinds of ValueError; all mean that a row is beyond repair.
        reason = safe_name(str(error).split("\n")[0][:120])
        notes = (f"the rows break off ({reason}); {UP_TO_THERE}",)
    return _assemble(table, notes + source.notes())


class _Table:
    """The columns of a file, gathered chunk by chunk as numbers."""

    def __init__(self, layout: Layout, times: CsvTimes) -> None:
        self.layout = layout
        self.times = times
        self.texts = self._text_columns()
        self.riders: dict[str, int] = {}
        self._parts: dict[str, list[FloatArray]] = defaultdict(list)

    def values(self, column: str) -> FloatArray | None:
        """All rows of a column, ``(n,)``, handed over once and then let go; None when the file does not have it."""
        if column not in self.layout.columns:
            return None
        parts = self._parts.pop(column, [])
        return np.concatenate(parts) if parts else np.empty(0)

    def add(self, chunk: pd.DataFrame) -> None:
        """Take the rows of one chunk, whose columns are numbered as in the file."""
        for name, column in self.layout.columns.items():
            series = chunk[column.index]
            if name == "time":
                dates = (
                    _texts(chunk[self.layout.columns["date"].index]) if self.times.has_date else ()
                )
                given = _texts(series) if name in self.texts else _numbers(series)
                self.times.add(given, dates)
            elif name == "rider":
                self._parts[name].append(self._numbered(_texts(series)))
            elif name in ("lat_side", "lon_side"):
                self._parts[name].append(signs(_texts(series)))
            elif name in ("lat", "lon") and name in self.texts:
                self._parts[name].append(read_angles(_texts(series)))
            elif name == "fix" and name in self.texts:
                words = [FIX_WORDS.get(word.strip().lower(), np.nan) for word in _texts(series)]
                self._parts[name].append(np.array(words))
            elif name != "date":
                self._parts[name].append(_numbers(series))

    def _numbered(self, names: list[str]) -> FloatArray:
        """Each name as its place among the names met so far."""
        return np.array([self.riders.setdefault(n.strip(), len(self.riders)) for n in names], float)

    def _text_columns(self) -> set[str]:
        """Columns to be read as text, because their values are no plain numbers."""
        texts = {"date", "lat_side", "lon_side", "rider"} & self.layout.columns.keys()
        if self.times.form != "number":
            texts.add("time")
        for name in {"lat", "lon", "fix"} & self.layout.columns.keys():
            values = self.layout.values(name)
            if 2 * sum(map(_is_number, values)) < len(values):
                texts.add(name)
        return texts


def _chunks(source: Source, layout: Layout, texts: set[str]) -> Iterator[pd.DataFrame]:
    import pandas as pd

    places = sorted({column.index for column in layout.columns.values()})
    # With ``usecols``, rows that are longer or shorter than the header do not stop the reader.
    yield from pd.read_csv(
        _GuardedText(source, layout),
        sep=layout.delimiter,
        decimal=layout.decimal,
        header=None,
        names=range(places[-1] + 1),
        usecols=places,
        index_col=False,
        dtype={layout.columns[name].index: str for name in texts},
        chunksize=_CHUNK_ROWS,
        low_memory=False,
    )


class _GuardedText(io.TextIOBase):
    """The rows as text, behind the header: no endless line, and no quote left open.

    A quote that is not closed in its line would make one field of the rest of the file.
    """

    def __init__(self, source: Source, layout: Layout) -> None:
        super().__init__()
        self._name = source.name
        self._text = io.TextIOWrapper(
            io.BufferedReader(source.stream), encoding=layout.encoding, errors="replace"
        )
        self._rest = ""
        self._lines = layout.data_line
        for _ in range(layout.data_line):
            self._text.readline(_LINE_CHARACTERS)

    def readable(self) -> bool:
        """Always true."""
        return True

    def read(self, size: int | None = -1) -> str:
        """About ``size`` characters in whole lines, "" at the end.

        Raises:
            LogError: a line is longer than any row of a log.
        """
        wanted = size if size and size > 0 else _LINE_CHARACTERS
        while True:
            more = self._text.read(wanted)
            text, newline, self._rest = (self._rest + more).rpartition("\n")
            if not more:
                text, newline, self._rest = self._rest, "", ""
                break
            if newline:
                break
            if len(self._rest) > _LINE_CHARACTERS:
                raise LogError(
                    f"a line is longer than {_LINE_CHARACTERS} characters",
                    where=f"{self._name} after line {self._lines}",
                    remedy="Check that the file is a table with a line for each fix",
                )
        self._lines += text.count("\n") + 1
        if '"' in text:
            text = "\n".join(_with_closed_quotes(line) for line in text.split("\n"))
        return text + newline


def _with_closed_quotes(line: str) -> str:
    return line.replace('"', "") if line.count('"') % 2 else line


def _assemble(table: _Table, notes: tuple[str, ...]) -> RawFixes:
    """The gathered columns in SI units."""
    layout = table.layout
    time_s, has_clock = table.times.seconds()
    lat, lon, guessed = _positions(table)
    guesses = {**layout.guesses, **table.times.guesses, **guessed}
    channels = {}
    for name, channel in CHANNEL_OF.items():
        values = table.values(name)
        if values is not None:
            channels[channel] = values * _scale(layout, name)
    if "speed_mps" in channels and not layout.columns["speed"].unit:
        unit = speed_unit(time_s, lat, lon, channels["speed_mps"])
        if unit:
            guesses["speed unit"] = f"{unit}, because it agrees with the positions"
            channels["speed_mps"] = channels["speed_mps"] * SPEED_UNITS[unit]
        else:
            del channels["speed_mps"]
            notes += (
                "the speed has no unit and agrees with the positions in none; it was ignored",
            )
    for name in ("height", "accuracy"):
        if name in layout.columns and not layout.columns[name].unit:
            guesses[f"{name} unit"] = "m"
    fix = channels.get("fix_quality")
    if fix is not None and len(fix) and np.all(fix == 0):
        del channels["fix_quality"]
        fix = None
        notes += ("the fix quality is 0 throughout and was ignored",)
    whose, riders = _riders(table)
    return RawFixes(
        time_s=time_s,
        lat_deg=lat,
        lon_deg=lon,
        channels=channels,
        void=None if fix is None else fix == 0,
        has_clock=has_clock,
        whose=whose,
        riders=riders,
        guesses=guesses,
        notes=notes,
    )


def _riders(table: _Table) -> tuple[npt.NDArray[np.int64] | None, tuple[str, ...]]:
    """Whose each row is, and the names; nothing where the column is not one of riders."""
    rows = table.values("rider")
    if rows is None or len(table.riders) > min(_MOST_RIDERS, len(rows) / _FEWEST_ROWS):
        return None, ()
    return rows.astype(np.int64), tuple(map(safe_name, table.riders))


def _positions(table: _Table) -> tuple[FloatArray, FloatArray, dict[str, str]]:
    """Latitudes and longitudes, degrees, ``(n,)`` each, and what was guessed of their form."""
    places, guessed = [], {}
    for name in ("lat", "lon"):
        values = table.values(name)
        assert values is not None  # find_layout refuses a file without them
        places.append(np.degrees(values) if table.layout.columns[name].unit == "rad" else values)
    split = from_degrees_minutes(*places)
    if split is not None:
        guessed["position"] = "degrees and minutes as one number"
        places = list(split)
    for at, side in enumerate(("lat_side", "lon_side")):
        sign = table.values(side)
        if sign is not None:
            places[at] = np.where(np.isnan(sign), places[at], np.abs(places[at]) * sign)
    return places[0], places[1], guessed


def _scale(layout: Layout, name: str) -> float:
    unit = layout.columns[name].unit
    if name == "heading" and unit == "rad":
        return float(np.degrees(1.0))
    return {**SPEED_UNITS, **LENGTH_UNITS}.get(unit, 1.0)


def _numbers(series: pd.Series) -> FloatArray:
    """A column as numbers, NaN where a cell is none."""
    import pandas as pd

    if series.dtype.kind not in "iufb":
        # One odd cell makes text of the whole chunk, with its decimal commas.
        series = pd.to_numeric(series.astype(str).str.replace(",", "."), errors="coerce")
    return series.to_numpy(dtype=np.float64)


def _texts(series: pd.Series) -> list[str]:
    return series.fillna("").astype(str).tolist()


def _is_number(text: str) -> bool:
    try:
        float(text.replace(",", "."))
    except ValueError:
        return False
    return True
