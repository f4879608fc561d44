"""What a rider is judged by: the measures of his laps at a corner, at its cones and along its seams.

Workers send tables, whose columns are known by name alone. Whoever judges laps asks these records instead, with an
attribute for each measure, named as its column is and in the same unit. Arrays have shape ``(laps,)`` and are NaN where
a lap has no value; a :class:`~lapkit.path.summary.Summary` holds a measure with the ends of its 95 % interval.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, Self, TypeVar

import numpy as np

from lapkit.compare.results import RunResult
from lapkit.path.summary import Summary
from lapkit.units import FloatArray

_INTERVALS = {
    "exit_radius_min_m": ("exit_radius_min_lo_m", "exit_radius_min_hi_m"),
    "lean_max_deg": ("lean_max_lo_deg", "lean_max_hi_deg"),
    "turn_in_early_m": ("turn_in_early_lo_m", "turn_in_early_hi_m"),
    "gap_m": ("gap_lo_m", "gap_hi_m"),
    "wide_of_line_m": ("wide_lo_m", "wide_hi_m"),
}
"""Measure that is wanted with its interval → columns of the interval's ends."""


class Lines:
    """One table of a rider's runs, the lines of all runs one after the other."""

    def __init__(self, runs: Sequence[RunResult], table: str) -> None:
        self._tables = [run.tables[table] for run in runs]

    def numbers(self, column: str) -> FloatArray:
        """A column as numbers, ``(lines,)``."""
        return np.concatenate([table[column].to_numpy(dtype=np.float64) for table in self._tables])

    def keys(self, *columns: str) -> Iterator[tuple[Any, ...]]:
        """The run's number, from 0, and some columns of each line."""
        for number, table in enumerate(self._tables):
            for line in zip(*(table[name].tolist() for name in columns), strict=True):
                yield number, *line


@dataclass(frozen=True, eq=False)
class _ByLap:
    """Measures by lap; every field is an array or a summary of arrays."""

    @classmethod
    def read(cls, lines: Lines) -> Self:
        """From every line of a table; arrays have shape ``(lines,)``."""
        return cls(**{field.name: _measure(lines, field.name) for field in fields(cls)})

    def of(self, laps: np.ndarray) -> Self:
        """The same of some laps by their indices, ``(k,)``; a negative one stands for a lap without values."""
        return replace(self, **{f.name: _taken(getattr(self, f.name), laps) for f in fields(self)})


@dataclass(frozen=True, eq=False)
class CornerLaps(_ByLap):
    """Laps through one corner, from the table ``corners``."""

    entry_speed_mps: FloatArray
    slowest_mps: FloatArray
    radius_min_m: FloatArray
    exit_radius_min_m: Summary
    line_exit_radius_min_m: FloatArray
    exit_radius_ratio: FloatArray
    exit_tightest_after_apex_m: FloatArray
    p_tightened: FloatArray
    tightened: FloatArray
    lean_max_deg: Summary
    lean_max_at_m: FloatArray
    lean_on_line_deg: FloatArray
    exit_lean_max_deg: FloatArray
    exit_lean_on_line_deg: FloatArray
    turn_in_early_m: Summary
    drive_max_mps2: FloatArray
    brake_max_mps2: FloatArray

    @property
    def lean_added_deg(self) -> FloatArray:
        """Largest lean beyond what the marker line asks for at the same speeds."""
        return self.lean_max_deg.value - self.lean_on_line_deg

    @property
    def exit_lean_added_deg(self) -> FloatArray:
        """The same over the exit phase."""
        return self.exit_lean_max_deg - self.exit_lean_on_line_deg

    @property
    def exit_called(self) -> np.ndarray:
        """Which laps' exits are called tightened: clearly tighter than the marker line's, and further over."""
        return self.tightened == 1.0


@dataclass(frozen=True, eq=False)
class ConeLaps(_ByLap):
    """Laps past one cone, from the table ``markers``."""

    gap_m: Summary
    line_gap_m: FloatArray
    wide_of_line_m: Summary
    lane: FloatArray
    p_lane: FloatArray
    radius_m: FloatArray


@dataclass(frozen=True, eq=False)
class SeamLaps(_ByLap):
    """Laps beside one seam, from the table ``seams``."""

    p_inside: FloatArray


T = TypeVar("T", FloatArray, Summary)


def _measure(lines: Lines, name: str) -> FloatArray | Summary:
    value = lines.numbers(name)
    return Summary(value, *map(lines.numbers, _INTERVALS[name])) if name in _INTERVALS else value


def _taken(values: T, laps: np.ndarray) -> T:
    if isinstance(values, Summary):
        return Summary(*(_taken(each, laps) for each in values))
    return np.where(laps < 0, np.nan, values[laps])
