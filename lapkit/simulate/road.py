"""Height and vertical curvature of the road along the stations."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.course.course import Course
from lapkit.units import FloatArray


@dataclass(frozen=True, eq=False)
class Road:
    """The road's profile over one lap. Arrays have shape ``(n,)``, ends included.

    ``height_m`` starts from the height that the track file gives the first point of the centre
    (else zero).
    """

    station_m: FloatArray
    height_m: FloatArray
    vertical_curvature_1pm: FloatArray

    @classmethod
    def of(cls, course: Course) -> Road:
        """From the course's profile; flat without one."""
        at = np.linspace(0.0, course.reference.length_m, int(course.reference.length_m) + 1)
        if course.profile is None:
            return cls(at, np.zeros_like(at), np.zeros_like(at))
        grade, vertical = course.profile.at(at)
        height = np.concatenate([[0.0], np.cumsum(0.5 * (grade[1:] + grade[:-1]) * at[1])])
        if course.closed:
            height -= height[-1] * at / at[-1]
        centre = None if course.track is None else course.track.centre
        if centre is not None and centre.height_m is not None:
            height += float(centre.height_m[0])
        return cls(at, height, vertical)

    def height_at(self, station_m: FloatArray) -> FloatArray:
        """Height at stations, wrapped as needed, metres."""
        return np.interp(station_m, self.station_m, self.height_m, period=self.station_m[-1])

    def vertical_at(self, station_m: FloatArray) -> FloatArray:
        """Vertical curvature at stations, wrapped as needed, 1/m, positive in a dip."""
        return np.interp(
            station_m, self.station_m, self.vertical_curvature_1pm, period=self.station_m[-1]
        )
