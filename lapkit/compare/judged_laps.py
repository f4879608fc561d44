"""What a rider is judged by: the measures of his laps at a corner, at its cones and along its seams.

Workers send tables, whose columns are known by name only. Code that judges laps reads the records of this module instead.
They have an attribute for each measure, which is named as its column is and has the same unit. Arrays have shape
``(laps,)`` and are NaN where a lap has no value. A :class:`~lapkit.path.summary.Summary` holds a measure with the ends of
its 95 % interval.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, Self, TypeVar

import numpy as np
import pandas as pd

from lapkit.arrays import FloatArray
from lapkit.compare.quality import PassQuality
from lapkit.compare.results import RunResult
from lapkit.lean import balance_lean_deg
from lapkit.path.summary import Summary

_INTERVALS = {
    "exit_radius_min_m": ("exit_radius_min_lo_m", "exit_radius_min_hi_m"),
    "lean_max_deg": ("lean_max_lo_deg", "lean_max_hi_deg"),
    "turn_in_early_m": ("turn_in_early_lo_m", "turn_in_early_hi_m"),
    "gap_m": ("gap_lo_m", "gap_hi_m"),
    "wide_of_line_m": ("wide_lo_m", "wide_hi_m"),
}
"""Measure that is read with its interval → columns with the ends of the interval."""


Ride = tuple[int, int]
"""Index of a run, and number of a lap in it."""


class Lines:
    """The same table of several runs, with the lines of all runs one after the other."""

    def __init__(self, tables: Iterable[pd.DataFrame]) -> None:
        self._tables = list(tables)

    def numbers(self, column: str) -> FloatArray:
        """A column as numbers, ``(lines,)``."""
        return np.concatenate([table[column].to_numpy(dtype=np.float64) for table in self._tables])

    def keys(self, *columns: str) -> Iterator[tuple[Any, ...]]:
        """The index of the run, and the values of some columns, of each line."""
        for run, table in enumerate(self._tables):
            for line in zip(*(table[name].tolist() for name in columns), strict=True):
                yield run, *line


def judged_lines(
    runs: Sequence[RunResult], *, off_road: bool = False
) -> dict[str, dict[Ride, int]]:
    """Name of a corner → its timed laps that could be judged → their lines in the tables ``corners`` of all runs.

    Laps that left the road at the corner are left out, unless ``off_road`` asks for them too.
    """
    timed = [run.timed_laps for run in runs]
    found: dict[str, dict[Ride, int]] = {}
    keys = Lines(run.corners for run in runs).keys("lap", "corner", "quality", "left_road")
    for line, (run, lap, corner, quality, left) in enumerate(keys):
        on_road = left != 1.0 or off_road
        if lap in timed[run] and quality != PassQuality.POOR and on_road:
            found.setdefault(corner, {})[run, lap] = line
    return found


@dataclass(frozen=True, eq=False)
class _ByLap:
    """Measures by lap; every field is an array or a summary of arrays."""

    @classmethod
    def read(cls, lines: Lines) -> Self:
        """Read every line of a table; arrays have shape ``(lines,)``."""
        return cls(**{field.name: _measure(lines, field.name) for field in fields(cls)})

    def of(self, laps: np.ndarray) -> Self:
        """The same for some laps by their indices, ``(k,)``; a negative index stands for a lap without values."""
        taken = {field.name: _taken(getattr(self, field.name), laps) for field in fields(self)}
        return replace(self, **taken)


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
    exit_tightens_after_apex_m: FloatArray
    exit_tightest_speed_mps: FloatArray
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
    off_road_m: FloatArray
    left_road: FloatArray

    @property
    def lean_added_deg(self) -> FloatArray:
        """Largest lean less the largest that the marker line asks for at the same speeds, degrees."""
        return self.lean_max_deg.value - self.lean_on_line_deg

    @property
    def exit_lean_added_deg(self) -> FloatArray:
        """The same over the exit phase."""
        return self.exit_lean_max_deg - self.exit_lean_on_line_deg

    @property
    def exit_radius_cost_deg(self) -> FloatArray:
        """Lean that the exit's tightest radius asks for, beyond what the marker line's asks for at the speed there, degrees.

        On the flat and without a grade. It is there even where he slowed down for that radius, so that his largest lean
        over the exit is no larger than the line's.
        """
        ridden, line = (
            balance_lean_deg(self.exit_tightest_speed_mps, 1.0 / radius_m)
            for radius_m in (self.exit_radius_min_m.value, self.line_exit_radius_min_m)
        )
        return ridden - line

    @property
    def exit_called(self) -> np.ndarray:
        """Which laps' exits are called tightened (:func:`~lapkit.compare.corners.tightened`)."""
        return self.tightened == 1.0

    @property
    def p_exit_tightened(self) -> FloatArray:
        """Probability that each lap's exit is below the limit; NaN where exits are not judged."""
        return np.where(np.isfinite(self.tightened), self.p_tightened, np.nan)


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
    """Laps along one seam, from the table ``seams``."""

    p_inside: FloatArray


T = TypeVar("T", FloatArray, Summary)


def _measure(lines: Lines, name: str) -> FloatArray | Summary:
    value = lines.numbers(name)
    if name not in _INTERVALS:
        return value
    lo, hi = _INTERVALS[name]
    return Summary(value, lines.numbers(lo), lines.numbers(hi))


def _taken(values: T, laps: np.ndarray) -> T:
    if isinstance(values, Summary):
        return Summary(*(_taken(each, laps) for each in values))
    return np.where(laps < 0, np.nan, values[laps])
