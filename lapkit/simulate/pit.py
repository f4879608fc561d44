"""The pit lane, by station: from the hold point out onto the course, and from the course back to it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.course import Course
from lapkit.simulate.lines import smooth_step

PIT_SPEED_MPS = 14.0
"""Speed kept to in the pit lane, m/s (about 50 km/h; common practice)."""

_REACH_M = 110.0  # of a lane each side of the hold point, where none is drawn (our choice)
_BLEND_M = 60.0  # that it takes to change between lane and track (our choice)
_BESIDE_M = 6.0  # from the end of the start line to a hold point, where none is set
_AT_HOLD_M = 8.0  # within this of the hold point the lane runs through it, wherever it was drawn


@dataclass(frozen=True, eq=False)
class PitLane:
    """The pit lane by metres of station before (negative) and after the hold point.

    ``hold_station_m`` lies in ``[0, length)``; ``along_m`` (increasing) and ``offset_m`` (from the
    reference, left positive) have shape ``(n,)``.
    """

    hold_station_m: float
    along_m: FloatArray
    offset_m: FloatArray

    @classmethod
    def of(cls, course: Course) -> PitLane:
        """From the course's pit lane and hold point; without them, straight past the start line.

        A pit lane drawn as an outline shows where it is but not how it is ridden. A lane through the hold
        point, along the course, then takes its place.
        """
        line = course.reference
        lane = next((p for p in course.pit_lanes if np.hypot(*(p[0] - p[-1])) > 1.0), None)
        if course.hold_points is not None:
            hold = course.hold_points[0]
        elif lane is not None:
            hold = lane[len(lane) // 2]
        else:
            hold = _beside_start(course)
        station, offset = (float(v[0]) for v in line.project(hold[:1], hold[1:]))
        if lane is None:
            return cls(station, np.array([-_REACH_M, _REACH_M]), np.array([offset, offset]))
        at, left = line.follow(*lane.T)
        along = at - at[0] + line.way(at[0] - station)
        apart = np.abs(along) > _AT_HOLD_M
        along, left = np.append(along[apart], 0.0), np.append(left[apart], offset)
        along, first = np.unique(along, return_index=True)
        return cls(station, along, left[first])

    def share(self, along_m: FloatArray) -> FloatArray:
        """The pit lane's share in a rider's line: 1 in it, 0 away from it, smooth between."""
        beyond = np.maximum(self.along_m[0] - along_m, along_m - self.along_m[-1])
        return smooth_step(1.0 - beyond / _BLEND_M)

    def offset_at(self, along_m: FloatArray) -> FloatArray:
        """Offset of the lane, held level beyond its ends, metres."""
        return np.interp(along_m, self.along_m, self.offset_m)


def _beside_start(course: Course) -> FloatArray:
    """A spot to the right of the start line, off the track, shape ``(2,)``."""
    left, right = course.start_line
    return right + _BESIDE_M * (right - left) / np.hypot(*(right - left))
