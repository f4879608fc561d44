"""Tables gathered block by block, their columns, and the table of laps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pandas as pd

from lapkit.compare.results import RunOf
from lapkit.path.summary import Summary
from lapkit.splitter import Lap, LapKind
from lapkit.units import FloatArray

LAP_COLUMNS = (
    "rider", "session", "lap", "kind", "start_utc", "time_s", "time_sd_s", "distance_m", "samples",
    "missing_s", "note",
)  # fmt: skip
"""The published columns of ``laps.csv``, in their order."""

_TEXT = (
    "rider", "session", "corner", "turn", "quality", "in_short", "marker", "kind", "seam", "call",
    "measure", "code", "text", "cue", "start_utc", "note",
)  # fmt: skip
_OTHER_TYPES = {
    "lap": "int64", "laps": "int64", "samples": "int64", "laps_seen": "int64",
    "laps_counted": "int64", "lane": "Int64", "counted": "bool", "habit": "bool",
}  # fmt: skip


def without_lines(columns: Sequence[str]) -> pd.DataFrame:
    """A table without a line, its columns of the types that they have with lines.

    Numbers, but for the columns named above.
    """
    types = {c: _OTHER_TYPES.get(c, "str" if c in _TEXT else "float64") for c in columns}
    return pd.DataFrame({name: pd.Series(dtype=kind) for name, kind in types.items()})


class Table:
    """A table that is put together from blocks of lines and made a frame once, at the end.

    ``corners`` are the names of the course's corners in the order in which they are ridden.
    """

    def __init__(self, corners: Sequence[str]) -> None:
        self._place = {name: place for place, name in enumerate(corners)}
        self._blocks: list[dict[str, np.ndarray]] = []

    def add(self, *columns: Mapping[str, Any]) -> None:
        """Add a block of lines.

        Args:
            columns: column name → values, one for every line or one for all. The first has ``lap``,
                one for every line, and ``corner``.
        """
        count = len(columns[0]["lap"])
        named = (item for mapping in columns for item in mapping.items())
        if count:
            self._blocks.append({name: np.broadcast_to(values, count) for name, values in named})

    def frame(self, columns: Sequence[str], rider: str, session: str) -> pd.DataFrame:
        """All lines lap by lap and corner by corner, else as they were added; what is missing is NaN."""
        if not self._blocks:
            return without_lines(columns)
        place = np.array([self._place[corner] for corner in self._joined("corner")])
        order = np.lexsort((place, self._joined("lap")))
        same = {"rider": [rider] * len(order), "session": [session] * len(order)}
        filled = {name: same.get(name, self._joined(name)[order]) for name in columns}
        table = pd.DataFrame(filled)
        if "lane" in filled:
            table["lane"] = table["lane"].astype("Int64")
        return table

    def _joined(self, name: str) -> np.ndarray:
        """A column of all blocks, in the order in which they were added."""
        return np.concatenate(
            [block.get(name, np.full(len(block["lap"]), np.nan)) for block in self._blocks]
        )


def blanked(columns: Mapping[str, FloatArray], poor: np.ndarray) -> dict[str, np.ndarray]:
    """Columns with the values of poor lines taken out: numbers become NaN, calls ``unclear``.

    Args:
        columns: column name → values, shape ``(lines,)``.
        poor: which lines, shape ``(lines,)``.
    """
    return {
        name: np.where(poor, "unclear" if values.dtype.kind == "U" else np.nan, values)
        for name, values in columns.items()
    }


def interval_columns(name: str, unit: str, summary: Summary) -> dict[str, Any]:
    """A summary as the three columns of value and interval: ``x_m``, ``x_lo_m``, ``x_hi_m``."""
    return {
        f"{name}_{unit}": summary.value,
        f"{name}_lo_{unit}": summary.lo,
        f"{name}_hi_{unit}": summary.hi,
    }


def laps_table(laps: Sequence[Lap], run: RunOf) -> pd.DataFrame:
    """The table of laps; ``start_utc`` is empty for a log without a calendar."""
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
    """The lines of a table of laps that are timed, from start line to start line."""
    return laps[laps["kind"] == LapKind.TIMED.value]


def timed_numbers(laps: pd.DataFrame) -> set[int]:
    """The numbers of the timed laps in a run's table of laps."""
    kinds = zip(laps["lap"].tolist(), laps["kind"].tolist(), strict=True)
    return {lap for lap, kind in kinds if kind == LapKind.TIMED.value}


def _utc(time_s: float) -> str:
    """A time as ISO 8601 to the millisecond, in UTC."""
    stamp = datetime.fromtimestamp(time_s, tz=UTC).isoformat(timespec="milliseconds")
    return stamp.replace("+00:00", "Z")
