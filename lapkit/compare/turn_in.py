"""How far before the marker line a rider begins to turn."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.compare.line_part import LinePart
from lapkit.compare.passes import Passes, by_corner

# The fit begins this many metres before turn-in, for riders who turn in early (our choice).
_ENTRY_BEFORE_M = 20.0
_LEAST_SLOPE = 0.02  # rms slope of the line about its trend, below which it does not show where the line turns in


def turn_in_early_m(passes: Passes) -> FloatArray:
    """Metres by which each row turns in before the marker line does, ``(rows, passes)``.

    A path that turns in d metres early lies, at every station, where the line lies d metres further on. So it is off
    the line by d times the line's slope across the course. From a little before turn-in to the first apex, d is fitted
    by least squares, together with a distance from the line that may change linearly: neither a position offset nor a
    wide apex then counts as early. Where the line keeps its distance from the reference, it has no such slope, and d is
    taken from the lead in heading instead.
    """
    near, entry = _entries(passes)
    station = passes.station_m[0, near]

    def of_line(channel: Callable[[LinePart], FloatArray]) -> FloatArray:
        return by_corner(
            passes.corner_of, lambda i, at: passes.standards[i].along_line(channel, at), station
        )

    # At a grid point a row may be ahead of the estimate: to first order, the line is taken at the row's own station.
    ahead_m = passes.station_m.take(near, axis=1) - station
    slope = of_line(lambda line: line.slope)
    fitted = _without_trend(slope, station, entry)
    squares = np.sum(np.square(fitted), axis=-1)
    level = squares < np.count_nonzero(entry, axis=-1) * _LEAST_SLOPE**2
    off_line = (
        passes.offset_m.take(near, axis=1) - of_line(lambda line: line.offset_m) - slope * ahead_m
    )
    by_offset = np.sum(fitted * off_line, axis=-1) / np.where(squares > 0.0, squares, np.nan)
    if not level.any():
        return by_offset
    bend = of_line(lambda line: line.curvature_by_station_1pm)
    turning = np.where(entry, np.maximum(bend, 0.0), 0.0)
    total = np.sum(turning * bend, axis=-1)
    lead_rad = (
        passes.heading_rad.take(near, axis=1)
        - of_line(lambda line: line.heading_rad)
        - bend * ahead_m
    )
    by_heading = np.sum(turning * lead_rad, axis=-1) / np.where(total > 0.0, total, np.nan)
    return np.where(level, by_heading, by_offset)


def _entries(passes: Passes) -> tuple[np.ndarray, np.ndarray]:
    """Indices of grid points of each pass up to its first apex, and which of them belong to its entry, ``(passes, w)``."""
    turn_in, apex = passes.per_pass([(c.turn_in_m, c.apexes_m[0]) for c in passes.corners]).T
    before = passes.station_m[0] < passes.grid.spread(apex)
    width = np.max(np.add.reduceat(before, passes.grid.first, dtype=np.int64))
    near = np.minimum(passes.grid.first[:, None] + np.arange(width), passes.grid.last[:, None])
    station = passes.station_m[0, near]
    return near, (station > turn_in[:, None] - _ENTRY_BEFORE_M) & (station < apex[:, None])


def _without_trend(values: FloatArray, along: FloatArray, part: np.ndarray) -> FloatArray:
    """Residuals of values about their regression line within a part, zero outside it; all ``(passes, w)``."""
    count = np.maximum(np.count_nonzero(part, axis=-1, keepdims=True), 1)

    def centred(v: FloatArray) -> FloatArray:
        return (v - np.sum(v * part, axis=-1, keepdims=True) / count) * part

    x, y = centred(along), centred(values)
    square = np.maximum(np.sum(x * x, axis=-1, keepdims=True), 1e-9)
    return y - x * np.sum(x * y, axis=-1, keepdims=True) / square
