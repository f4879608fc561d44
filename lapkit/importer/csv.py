"""CSV with a header → raw fixes, in chunks, so that the rows of a large file are never all held as text."""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from lapkit.errors import LogError
from lapkit.importer.csv_columns import CHANNEL_OF, LENGTH_UNITS, SPEED_UNITS
from lapkit.importer.csv_layout import Layout, find_layout
from lapkit.importer.csv_times import CsvTimes
from lapkit.importer.csv_values import from_degrees_minutes, read_angles, signed, speed_unit
from lapkit.importer.fixes import RawFixes
from lapkit.importer.source import Source
from lapkit.units import FloatArray

if TYPE_CHECKING:
    import pandas as pd

_CHUNK_ROWS = 100_000
_LINE_CHARACTERS = 1024**2
_SCALES = {"speed": SPEED_UNITS, "height": LENGTH_UNITS, "accuracy": LENGTH_UNITS}
_FIX_WORDS = {"none": 0.0, "no fix": 0.0, "nofix": 0.0, "2d": 1.0, "3d": 1.0, "dgps": 2.0, "rtk": 4.0}


def read_csv(source: Source, columns: Mapping[str, str]) -> RawFixes:
    """Read every row of a CSV log, in file order.

    Args:
        source: the file.
        columns: column name → header, for what the user says himself.

    Raises:
        LogError: no usable header, or times in no known form.
        OptionError: ``columns`` names no column of lapkit's.
    """
    layout = find_layout(source, columns)
    times = CsvTimes(layout, source.name)
    gathered: dict[str, list[FloatArray]] = {name: [] for name in _numeric(layout)}
    notes = []
    chunks = _chunks(source, layout, times)
    while True:
        try:
            chunk = next(chunks, None)
        except _broken() as error:
            notes.append(f"the file breaks off ({_first_line(error)}); what came before was used")
            break
        if chunk is None:
            break
        _take(chunk, layout, times, gathered)
    values = {k: np.concatenate(v) if v else np.empty(0) for k, v in gathered.items()}
    return _assemble(layout, times, values, (*notes, *source.notes()))
