"""Tables put together from blocks of lines, the types of their columns, and the table of laps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pandas as pd

from lapkit.arrays import FloatArray
from lapkit.compare.results import RunOf
from lapkit.path.summary import Summary
from lapkit.splitter import Lap, LapKind

LAP_COLUMNS = (
    "rider", "session", "lap", "kind", "start_utc", "time_s", "time_sd_s", "distance_m", "samples",
    "missing_s", "note",
)  # fmt: skip
"""The published columns of ``laps.csv``, in their order."""

_TEXT = (
    "rider", "session", "corner", "turn", "quality", "in_short", "marker", "kind", "seam", "call",
    "measure", "code", "text", "cue", "start_utc", "note",
)  # fmt: skip
"""Columns of text; columns named neither here nor below hold numbers."""

_OTHER_TYPES = {
    "lap": "int64", "laps": "int64", "samples": "int64", "laps_seen": "int64",
    "laps_counted": "int64", "lane": "Int64", "counted": "bool", "habit": "bool",
}  # fmt: skip


def without_lines(columns: Sequence[str]) -> pd.DataFrame:
    """A table without lines, whose columns have the types that they would have with lines."""
    types = {c: _OTHER_TYPES.get(c, "str" if c in _TEXT else "float64") for c in columns}
    return pd.DataFrame({name: pd.Series(dtype=kind) for name, kind in types.items()})


class Table:
    """A table put together from blocks of lines.

    ``corners`` are the names of the course's corners in the order in which they are ridden.
    """

    def __init__(self, corners: Sequence[str]) -> None:
        self._order = {name: number for number, name in enumerate(corners)}
        self._blocks: list[dict[str, np.ndarray]] = []

    def add(self, *columns: Mapping[str, Any]) -> None:
        """Add a block of lines.

        Args:
            columns: name of a column → its values, one for every line or one for all lines. The first mapping has
                ``lap``, with a value for every line, and ``corner``.
        """
        count = len(columns[0]["lap"])
        if count:
            merged = {name: values for mapping in columns for name, values in mapping.items()}
            self._blocks.append(
                {name: np.broadcast_to(values, count) for name, values in merged.items()}
            )

    def frame(self, columns: Sequence[str], rider: str, session: str) -> pd.DataFrame:
        """All lines as a frame, by lap, then by corner, then as they were added.

        ``rider`` and ``session`` stand in every line; a column that no block has is NaN.
        """
        if not self._blocks:
            return without_lines(columns)
        corner = np.array([self._order[name] for name in self._joined("corner")])
        order = np.lexsort((corner, self._joined("lap")))
        constant = {"rider": rider, "session": session}
        table = pd.DataFrame(
            {
                name: [constant[name]] * len(order)
                if name in constant
                else self._joined(name)[order]
                for name in columns
            }
        )
        if "lane" in columns:
            table["lane"] = table["lane"].astype("Int64")
        return table

    def _joined(self, name: str) -> np.ndarray:
        """A column of all blocks, in the order in which they were added."""
        return np.concatenate(
            [
                block[name] if name in block else np.full(len(block["lap"]), np.nan)
                for block in self._blocks
            ]
        )


def blanked(columns: Mapping[str, FloatArray], poor: np.ndarray) -> dict[str, np.ndarray]:
    """Columns with the values of poor lines taken out: numbers become NaN, calls become ``unclear``.

    Args:
        columns: name of a column → its values, ``(lines,)``.
        poor: which lines are poor, ``(lines,)``.
    """
    return {
        name: np.where(poor, "unclear" if values.dtype.kind == "U" else np.nan, values)
        for name, values in columns.items()
    }


def interval_columns(name: str, unit: str, summary: Summary) -> dict[str, Any]:
    """A value and its interval as three columns, such as ``x_m``, ``x_lo_m`` and ``x_hi_m``."""
    return {
        f"{name}_{unit}": summary.value,
        f"{name}_lo_{unit}": summary.lo,
        f"{name}_hi_{unit}": summary.hi,
    }


def laps_table(laps: Sequence[Lap], run: RunOf) -> pd.DataFrame:
    """The table of laps; ``start_utc`` is empty for a log whose times have no date."""
    records = [
        {
            "rider": run.rider,
            "session": run.session,
            "lap": lap.number,
            "kind": str(lap.kind),
            "start_utc": _utc(lap.start_s) if run.has_clock else "",
            "time_s": lap.time_s,
            "time_sd_s": lap.time_sd_s,
            "distance_m": lap.distance_m,
            "samples": lap.samples,
            "missing_s": lap.missing_s,
            "note": lap.note,
        }
        for lap in laps
    ]
    return (
        pd.DataFrame(records, columns=list(LAP_COLUMNS)) if records else without_lines(LAP_COLUMNS)
    )


def timed_laps(laps: pd.DataFrame) -> pd.DataFrame:
    """Those lines of a table of laps that are of timed laps, from start line to start line."""
    return laps[laps["kind"] == LapKind.TIMED.value]


def began(laps: pd.DataFrame) -> str:
    """When the first of a table of laps began, ISO 8601; "" where none of their logs has a date."""
    return min(filter(None, laps["start_utc"].dropna().astype(str)), default="")


def _utc(time_s: float) -> str:
    """A time, seconds from 1970, as ISO 8601 to the millisecond in UTC."""
    stamp = datetime.fromtimestamp(time_s, tz=UTC).isoformat(timespec="milliseconds")
    return stamp.replace("+00:00", "Z")
