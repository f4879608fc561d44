"""The tyre path of a whole ride along its course as the receiver shows it, in which the offset is looked for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.course import Course
from lapkit.importer.gaps import GAP_STEPS
from lapkit.path.draws import PathDraws

_RIDING_MPS = 5.0  # slower the rider waits or pushes, and his heading says little (our choice)
_AGAIN_M = 50.0  # who is this much further back on an open course rides it again (our choice)


@dataclass(frozen=True, eq=False)
class TyreTrack:
    """Where the tyres ran along a course while the rider was on his way along it, with the receiver's slow offset left in.

    Attributes:
        course: what was ridden.
        time_s: times on the move and the course's way, increasing, ``(n,)``.
        station_m: station along the reference, metres, growing lap after lap where that is a loop, ``(n,)``.
        offset_m: distance from the reference, metres to the left, ``(n,)``.
        has_velocity: whether velocities parted the receiver's wander from what was ridden.
    """

    course: Course
    time_s: FloatArray
    station_m: FloatArray
    offset_m: FloatArray
    has_velocity: bool = False

    @classmethod
    def of(cls, received: PathDraws, course: Course, *, has_velocity: bool = False) -> TyreTrack:
        """From the estimate in the receiver's frame, row 0 of ``received``."""
        riding = received.speed_mps[0] > _RIDING_MPS
        x, y = (axis[0, riding] for axis in received.tyre_xy_m)
        station, offset = course.reference.follow(x, y)
        vx, vy = received.vx_mps[0, riding], received.vy_mps[0, riding]
        # On the way back from a hill climb he keeps to another edge than on the way up.
        along = course.reference.leads_ahead(station, vx, vy)
        if not course.reference.closed:
            # Before an open course and beyond its end no edges lie beside him.
            along = along & (station >= 0.0) & (station < course.reference.length_m)
        time_s = received.time_s[riding][along]
        return cls(course, time_s, station[along], offset[along], has_velocity)

    def where_seen(self, fix_time_s: FloatArray) -> TyreTrack:
        """The same without what lies in gaps of the log, where the path is known to some metres only.

        Args:
            fix_time_s: times of the fixes that the path was found from, increasing, ``(k,)``.
        """
        step = np.diff(fix_time_s)
        before = np.clip(np.searchsorted(fix_time_s, self.time_s) - 1, 0, len(step) - 1)
        seen = step[before] <= GAP_STEPS * np.median(step)
        return replace(
            self,
            time_s=self.time_s[seen],
            station_m=self.station_m[seen],
            offset_m=self.offset_m[seen],
        )

    @cached_property
    def counted_m(self) -> FloatArray:
        """Stations that grow ride after ride on an open course too, by its length, metres, ``(n,)``."""
        line = self.course.reference
        if line.closed or not len(self.station_m):
            return self.station_m
        again = np.diff(self.station_m, prepend=self.station_m[0]) < -_AGAIN_M
        return self.station_m + line.length_m * np.cumsum(again)

    @cached_property
    def left(self) -> FloatArray:
        """Unit vectors to the left of the reference, east and north, ``(n, 2)``."""
        return self.course.reference.left_at(self.station_m)
