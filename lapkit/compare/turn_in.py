"""How far before the marker line a rider begins to turn."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.compare.line_part import LinePart
from lapkit.compare.passes import Passes, by_corner

# The fit begins this many metres before turn-in, for riders who turn in early (our choice).
_ENTRY_BEFORE_M = 20.0
# A path has begun to turn where it bends by this share of the line's sharpest bend before the apex (our choice).
_BEGUN = 0.1
# At most as many times what the heading gained over that bend: the line may begin to turn more gently (our choice).
_TURNED = 2.5
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
    bend = of_line(lambda line: line.curvature_by_station_1pm)
    lead_rad = (
        passes.heading_rad.take(near, axis=1)
        - of_line(lambda line: line.heading_rad)
        - bend * ahead_m
    )
    turning = np.where(entry, np.maximum(bend, 0.0), 0.0)
    total = np.sum(turning * bend, axis=-1)
    by_heading = np.sum(turning * lead_rad, axis=-1) / np.where(total > 0.0, total, np.nan)
    early_m = np.where(level, by_heading, by_offset)
    before_apex = station < passes.per_pass([c.apexes_m[0] for c in passes.corners])[:, None]
    most_m = _turned_ahead_m(lead_rad, passes.curvature_1pm[0, near], bend, before_apex)
    least_m = -_turned_ahead_m(-lead_rad, bend, bend, before_apex)
    return np.clip(early_m, least_m, most_m)


def _turned_ahead_m(
    lead_rad: FloatArray, bend_1pm: FloatArray, line_1pm: FloatArray, near: np.ndarray
) -> FloatArray:
    """Largest distance by which one path can have turned in before another, ``(rows, passes)``.

    Who comes from another side of the road than the line does, as after an exit that he held in, meets the line in a curve
    of his own. That lies off the line as if he turned in early, but where he begins to turn he is ahead in heading already
    and gains nothing more. Turning in d metres early gains d times the bend that the other path has there.

    Args:
        lead_rad: heading of the path beyond the other's at the same station, ``(rows, passes, w)``.
        bend_1pm: how much the path bends into the turn, ``(passes, w)``.
        line_1pm: the marker line's bend, ``(passes, w)``.
        near: which grid points lie before the apex, ``(passes, w)``.

    Returns:
        Metres; infinite where the path turns already where the pass begins.
    """
    sharpest = np.maximum(np.max(line_1pm, axis=-1, where=near, initial=0.0), 1e-9)[:, None]
    begun = np.maximum.accumulate(bend_1pm > _BEGUN * sharpest, axis=-1)
    turned = np.cumsum(np.where(near, np.maximum(line_1pm, 0.0), 0.0), axis=-1)
    begins = near & begun & (turned <= 0.5 * turned[:, -1:])
    first = np.argmax(begun, axis=-1)[:, None]
    at_first = np.take_along_axis(lead_rad, np.broadcast_to(first, (*lead_rad.shape[:-1], 1)), -1)
    gained = np.max(lead_rad - at_first, axis=-1, where=begins, initial=0.0)
    return np.where(begun[:, 0], np.inf, _TURNED * gained / sharpest[:, 0])


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
