"""Tables gathered block by block, and the table of laps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pandas as pd

from lapkit.splitter import Lap, LapKind

LAP_COLUMNS = (
    "rider", "session", "lap", "kind", "start_utc", "time_s", "time_sd_s", "distance_m", "samples",
    "missing_s", "note",
)  # fmt: skip
"""The contract's columns of ``laps.csv``, in its order."""

_TEXT = frozenset(
    [
        "rider",
        "session",
        "corner",
        "turn",
        "quality",
        "in_short",
        "marker",
        "kind",
        "seam",
        "call",
        "measure",
        "code",
        "text",
        "cue",
        "start_utc",
        "note",
    ]
)
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
    """A table that is put together from blocks of lines and made a frame once, at the end."""

    def __init__(self) -> None:
        self._blocks: list[dict[str, np.ndarray]] = []

    def add(self, *columns: Mapping[str, Any]) -> None:
        """Add a block of lines.

        Args:
            columns: column name → values. ``lap`` in the first has a value for every line;
                others are arrays ``(laps,)`` or ``(laps, per lap)``, lists, or one for all.
        """
        count = len(columns[0]["lap"])
        block = {}
        for name, values in (item for mapping in columns for item in mapping.items()):
            array = np.asarray(values)
            block[name] = np.broadcast_to(array, count) if array.ndim == 0 else array.ravel()
        if count:
            self._blocks.append(block)

    def frame(self, columns: Sequence[str], rider: str, session: str) -> pd.DataFrame:
        """All lines lap by lap, within a lap as they were added; what is missing is NaN."""
        if not self._blocks:
            return without_lines(columns)
        sizes = [len(block["lap"]) for block in self._blocks]
        order = np.argsort(np.concatenate([b["lap"] for b in self._blocks]), kind="stable")
        same = {"rider": [rider] * len(order), "session": [session] * len(order)}
        filled: dict[str, Any] = {}
        for name in columns:
            if name in same:
                filled[name] = same[name]
                continue
            parts = [
                block[name] if name in block else np.full(size, np.nan)
                for block, size in zip(self._blocks, sizes, strict=True)
            ]
            filled[name] = np.concatenate(parts)[order]
        table = pd.DataFrame(filled)
        if "lane" in filled:
            table["lane"] = table["lane"].astype("Int64")
        return table


def blanked(columns: Mapping[str, Any], poor: np.ndarray) -> dict[str, Any]:
    """Columns with the values of poor laps taken out: numbers become NaN, calls ``unclear``.

    Args:
        columns: column name → values, shape ``(laps,)``, ``(laps, per lap)`` or one for all laps.
        poor: which laps, shape ``(laps,)``.
    """
    clean = {}
    for name, values in columns.items():
        array = np.asarray(values)
        if array.ndim == 0:
            array = np.broadcast_to(array, len(poor))
        where = poor.reshape(-1, *([1] * (array.ndim - 1)))
        clean[name] = np.where(where, "unclear" if array.dtype.kind == "U" else np.nan, array)
    return clean


def laps_table(laps: Sequence[Lap], rider: str, session: str, has_clock: bool) -> pd.DataFrame:
    """The table of laps; ``start_utc`` is empty for a log without a calendar."""
    records = [
        {
            "rider": rider,
            "session": session,
            "lap": lap.number,
            "kind": str(lap.kind),
            "start_utc": _utc(lap.start_s) if has_clock else "",
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


def _utc(time_s: float) -> str:
    """A time as ISO 8601 to the millisecond, in UTC."""
    stamp = datetime.fromtimestamp(time_s, tz=UTC).isoformat(timespec="milliseconds")
    return stamp.replace("+00:00", "Z")
