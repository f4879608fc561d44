"""Height of the road along the stations, and how it bends under a path."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from lapkit.arrays import FloatArray
from lapkit.course.course import Course

_SLOWEST_MPS = 3.0  # slower, the road bends nobody's lean


@dataclass(frozen=True, eq=False)
class Road:
    """The road's profile over one lap of a closed course.

    ``height_m`` is a periodic spline by station; it starts from the first height that the track file gives the
    centre (else zero). The road is level across.
    """

    height_m: CubicSpline

    @classmethod
    def of(cls, course: Course) -> Road:
        """From the course's profile; flat without one."""
        at = np.linspace(0.0, course.reference.length_m, int(course.reference.length_m) + 1)
        height = np.zeros_like(at)
        if course.profile is not None:
            grade, _ = course.profile.at(at)
            height[1:] = np.cumsum(0.5 * (grade[1:] + grade[:-1]) * at[1])
            height -= height[-1] * at / at[-1]
            centre = None if course.track is None else course.track.centre
            if centre is not None and centre.height_m is not None:
                height += float(centre.height_m[np.isfinite(centre.height_m)][0])
        height[-1] = height[0]  # to the last bit, or no spline takes it for a loop
        return cls(CubicSpline(at, height, bc_type="periodic"))

    def height_at(self, station_m: FloatArray) -> FloatArray:
        """Height at stations, lap after lap, metres."""
        return self.height_m(station_m)

    def vertical_at(self, station_m: FloatArray) -> FloatArray:
        """Vertical curvature along the reference at stations, lap after lap, 1/m, positive in a dip."""
        return self.height_m(station_m, 2) / (1.0 + self.height_m(station_m, 1) ** 2) ** 1.5

    def vertical_under(
        self, station_m: FloatArray, path_m: FloatArray, step_s: float
    ) -> FloatArray:
        """Vertical curvature of the road along a path, 1/m, positive in a dip, shape ``(n,)``.

        Worked out in time, from how the path's height rises and its own speed changes.

        Args:
            station_m: where the path is at even times, unwrapped, shape ``(n,)``.
            path_m: east and north, ``(n, 2)``.
            step_s: time from point to point.
        """
        speed = np.hypot(*np.gradient(path_m, step_s, axis=0).T)
        passed = np.gradient(station_m, step_s)
        grade = self.height_m(station_m, 1)
        rises = grade * passed
        lifts = self.height_m(station_m, 2) * passed**2 + grade * np.gradient(passed, step_s)
        moving = np.where(speed > _SLOWEST_MPS, speed, np.inf)
        graph = (lifts - rises * np.gradient(speed, step_s) / moving) / moving**2
        return graph / (1.0 + (rises / moving) ** 2) ** 1.5
