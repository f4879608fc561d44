"""A ride laid along its course, lap after lap, so that passes of one place can be put side by side."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.stations import StationLine
from lapkit.path.spline import Knots, values

_NEAR_M = 15.0  # from the reference: the rider is on the course (our choice)
_WHOLLY = 0.99  # of the intervals to either side of a place
_RIDING_MPS = 5.0  # slower he waits, and would outweigh laps that pass there (our choice)


@dataclass(frozen=True, eq=False)
class AlongCourse:
    """Where along its course a ride was at the middle of each interval of its knots.

    Attributes:
        knots: of the ride's path.
        length_m: of the course.
        closed: whether the course is a loop.
        station_m: along the course, ``(intervals,)``.
        riding: whether he rides on the course and its way, ``(intervals,)``; else he is beside it, turns back or hardly
            moves.
        across_mps2: acceleration to the left, ``(intervals,)``.
    """

    knots: Knots
    length_m: float
    closed: bool
    station_m: FloatArray
    riding: np.ndarray
    across_mps2: FloatArray

    @classmethod
    def of(cls, knots: Knots, path: FloatArray, line: StationLine) -> AlongCourse:
        """Of a path, spline coefficients ``(coefficients, 2)``, along the line of a course."""
        at, v, a = values(knots, path, knots.middle_s, 0, 1, 2)
        # Where the course crosses itself, the nearest leg may be the other one.
        station, aside = line.follow(*at.T)
        speed = np.hypot(*v.T)
        # Down again on the road of a hill climb he rides another course than up.
        ahead = line.leads_ahead(station, *v.T)
        riding = (np.abs(aside) < _NEAR_M) & (speed > _RIDING_MPS) & ahead
        across = (v[:, 0] * a[:, 1] - v[:, 1] * a[:, 0]) / np.maximum(speed, _RIDING_MPS)
        return cls(knots, line.length_m, line.closed, line.wrap(station), riding, across)

    @cached_property
    def ridden_m(self) -> FloatArray:
        """Metres ridden along the course, ``(intervals,)``: its length more with every lap, and never less than before.

        Off the course the station stays as it was when he left: from a paddock any leg of the course may be the nearest.
        """
        number = np.arange(len(self.station_m))
        station = self.station_m[np.maximum.accumulate(np.where(self.riding, number, 0))]
        laps = np.cumsum(np.round(-np.diff(station, prepend=station[0]) / self.length_m))
        return np.asarray(np.maximum.accumulate(station + self.length_m * laps), dtype=np.float64)

    def places(self, every_m: float) -> FloatArray:
        """Places of the course ``every_m`` metres apart, on each lap, in metres ridden, ``(laps, places)``."""
        starts = self.length_m * np.arange(int(self.ridden_m[-1] // self.length_m) + 1)
        return np.asarray(starts[:, None] + np.arange(0.0, self.length_m, every_m), np.float64)

    def rode_at(self, places: FloatArray) -> np.ndarray:
        """On which laps he rode on the course at places, ``(laps, places)``."""
        riding = self.riding.astype(np.float64)
        return np.asarray(np.interp(places, self.ridden_m, riding, 0.0, 0.0) > _WHOLLY)
