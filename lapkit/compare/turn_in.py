"""How far before the marker line a rider begins to turn."""

from __future__ import annotations

import numpy as np

from lapkit.compare.passes import Passes, by_corner
from lapkit.units import FloatArray

_ENTRY_BEFORE_M = 20.0  # before turn-in: who turns in early has begun there (our choice)
_LEAST_SLOPE = 0.02  # rms slope of the line, beyond a steady one, that shows where it turns in


def turn_in_early_m(passes: Passes) -> FloatArray:
    """Metres by which each row turns in before the marker line does, ``(rows, passes)``.

    A path that is d metres ahead of the line lies, at every station, where the line lies d metres on:
    off it by d times the line's slope across the course. From before turn-in to the first apex d is fitted
    by least squares together with a distance from the line that may change steadily, so that neither a
    position offset nor a wide apex counts as early. Where the line keeps its distance from the
    reference, d is the lead in heading instead.
    """
    near, entry = _entries(passes)
    station = passes.station_m[0, near]

    def of_line(channel: str) -> FloatArray:
        return by_corner(
            passes.corner_of, lambda i, at: passes.standards[i].of_line(channel, at), station
        )

    slope = of_line("slope")
    moved = passes.station_m.take(near, axis=1) - station
    own = _without_trend(slope, station, entry)
    content = np.sum(np.square(own), axis=-1)
    level = content < np.count_nonzero(entry, axis=-1) * _LEAST_SLOPE**2
    away = passes.offset_m.take(near, axis=1) - of_line("offset_m") - slope * moved
    crossing = np.sum(own * away, axis=-1) / np.where(level | (content == 0.0), np.nan, content)
    if not level.any():
        return crossing
    bend = of_line("curvature_by_station_1pm")
    turning = np.where(entry, np.maximum(bend, 0.0), 0.0)
    total = np.sum(turning * bend, axis=-1)
    ahead = passes.heading_rad.take(near, axis=1) - of_line("heading_rad") - bend * moved
    lead = np.sum(turning * ahead, axis=-1)
    return np.where(level, lead / np.where(total > 0.0, total, np.nan), crossing)


def _entries(passes: Passes) -> tuple[np.ndarray, np.ndarray]:
    """Grid points of each pass up to its first apex, and which of them belong to its entry, ``(passes, w)``."""
    turn_in, apex = np.array([(c.turn_in_m, c.apexes_m[0]) for c in passes.corners])[
        passes.corner_of
    ].T
    before = passes.station_m[0] < passes.grid.spread(apex)
    width = np.max(np.add.reduceat(before, passes.grid.first, dtype=np.int64))
    near = np.minimum(passes.grid.first[:, None] + np.arange(width), passes.grid.last[:, None])
    station = passes.station_m[0, near]
    return near, (station > turn_in[:, None] - _ENTRY_BEFORE_M) & (station < apex[:, None])


def _without_trend(values: FloatArray, along: FloatArray, part: np.ndarray) -> FloatArray:
    """What a straight line does not explain of values within a part, zero outside; all ``(passes, w)``."""
    count = np.maximum(np.count_nonzero(part, axis=-1, keepdims=True), 1)

    def centred(v: FloatArray) -> FloatArray:
        return (v - np.sum(v * part, axis=-1, keepdims=True) / count) * part

    x, y = centred(along), centred(values)
    square = np.maximum(np.sum(x * x, axis=-1, keepdims=True), 1e-9)
    return y - x * np.sum(x * y, axis=-1, keepdims=True) / square
