"""When a ridden path crosses a line across the course.

A crossing is solved on the smoothed path, not interpolated between fixes, and on every draw, so that a lap
time comes with its own uncertainty.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.pit_lane import from_pit_lane_m
from lapkit.curvature import path_length_m
from lapkit.path.ridden import RiddenPath

WIDER_M = 6.0
"""How far past the painted end of a line a crossing still counts: a slow position offset may carry a rider there."""

_STEP_S = 0.1  # between the moments at which a path is sampled; a crossing between two of them is then solved
# More than 60° from straight across nobody crosses a line, except on another leg of a course that crosses itself there.
_LEAST_COSINE = 0.5
_CREEPING_MPS = 3.0  # slower, a path may go any way
_SLOWEST_MPS = 0.5  # the least speed across the line that a crossing is solved with


@dataclass(frozen=True, eq=False)
class SampledPath:
    """A path sampled every tenth of a second and at its last fix: where it was, and how far it had come; arrays ``(n,)``."""

    path: RiddenPath
    time_s: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    distance_m: FloatArray

    @classmethod
    def of(cls, path: RiddenPath) -> SampledPath:
        """The estimate of a path, from its first fix to its last."""
        time = np.append(np.arange(path.start_s, path.end_s, _STEP_S), path.end_s)
        x, y = path.mean_xy(time)
        return cls(path, time, x, y, path_length_m(x, y))

    def distance_at(self, time_s: FloatArray) -> FloatArray:
        """How far the path had come at times, metres, any shape."""
        return np.interp(time_s, self.time_s, self.distance_m)

    def crossings(self, ends: FloatArray, pit_lanes: Sequence[FloatArray] = ()) -> FloatArray:
        """Times of crossing a line in the riding direction, ``(crossings, 1 + draws)``, estimate first.

        A crossing past the end of the line counts up to six metres out, unless a pit lane is nearer than the line:
        then he was in the pit lane. Where he rides rather along the line than across it, he is on another leg of a course
        that crosses itself.

        Args:
            ends: of the line, the left one first, metres, ``(2, 2)``.
            pit_lanes: each ``(vertices, 2)``, metres.
        """
        line = _Line.between(ends)
        ahead = line.ahead_m(self.x_m, self.y_m)
        before = np.flatnonzero((ahead[:-1] < 0) & (ahead[1:] >= 0))
        took_s, went_m, came_m = (
            each[before + 1] - each[before] for each in (self.time_s, self.distance_m, ahead)
        )
        crosses = (came_m > _LEAST_COSINE * went_m) | (went_m < _CREEPING_MPS * took_s)
        # A straight line between the two moments gives the time to within milliseconds.
        near_s = (self.time_s[before] - ahead[before] / came_m * took_s)[crosses]
        near_s = near_s[self._counts(line, near_s, pit_lanes)]
        if len(near_s) == 0:
            return np.empty((0, 1))
        # From there each row of the path goes on, at its own speed, over the distance by which it is short of the line.
        rows = self.path.at(near_s)
        short_m = -line.ahead_m(rows.x_m, rows.y_m)
        closing_mps = line.speed_across(rows.vx_mps, rows.vy_mps)
        return (near_s + short_m / np.maximum(closing_mps, _SLOWEST_MPS)).T

    def _counts(
        self, line: _Line, crossed_s: FloatArray, pit_lanes: Sequence[FloatArray]
    ) -> np.ndarray:
        """Which of the times ``(n,)`` at which the path crossed the line, or its extension, count as crossings, ``(n,)``."""
        x, y = (np.interp(crossed_s, self.time_s, axis) for axis in (self.x_m, self.y_m))
        past_end = line.past_end_m(x, y)
        return (past_end < WIDER_M) & (from_pit_lane_m(pit_lanes, x, y) >= past_end)


@dataclass(frozen=True, eq=False)
class _Line:
    """A line across the course, as the rider meets it.

    Attributes:
        left: its left end, metres east and north, ``(2,)``.
        right_along: unit vector from the left end to the right one, ``(2,)``.
        width_m: its length.
    """

    left: FloatArray
    right_along: FloatArray
    width_m: float

    @classmethod
    def between(cls, ends: FloatArray) -> _Line:
        """The line between two ends, the left one first, metres, ``(2, 2)``."""
        across = ends[1] - ends[0]
        width_m = float(np.hypot(*across))
        return cls(ends[0], across / width_m, width_m)

    def ahead_m(self, x_m: FloatArray, y_m: FloatArray) -> FloatArray:
        """How far ahead of the line places are, in the riding direction, any shape."""
        return self.speed_across(x_m - self.left[0], y_m - self.left[1])

    def past_end_m(self, x_m: FloatArray, y_m: FloatArray) -> FloatArray:
        """How far places are past the nearer end, along the line; negative between its ends; any shape."""
        x, y = x_m - self.left[0], y_m - self.left[1]
        along = x * self.right_along[0] + y * self.right_along[1]
        return np.maximum(-along, along - self.width_m)

    def speed_across(self, vx: FloatArray, vy: FloatArray) -> FloatArray:
        """The component of vectors in the riding direction, in their unit, any shape."""
        return vx * -self.right_along[1] + vy * self.right_along[0]
