"""What a rider's laps have in common, place by place, for a lap to be smoothed about.

Smoothing pulls a path towards one without snap, and so draws every change of direction flatter than it was ridden, alike
on every lap. About the laps' mean it pulls a lap only by what sets it apart from the others. The mean was drawn flatter
too, but less so from round to round, while the noise of one lap is shared out over all of them: Tukey's twicing
(Exploratory Data Analysis, 1977, chapter 16; memory), of what laps repeat and of nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.path.along_course import AlongCourse
from lapkit.path.roughness import snap_at_knots
from lapkit.path.spline import values
from lapkit.path.usual_passes import FEWEST_LAPS

_EVERY_M = 2.0  # from place to place; a knot comes every six metres or so, and places twice as close give the same
# A moment that is as probably usual as not is smoothed about the mean as any other; less of the mean pulls one that
# hardly is (our choice).
_AS_ANY_OTHER = 0.5


@dataclass(frozen=True, eq=False)
class UsualRide:
    """How passes of a place are brought together, and how far each is smoothed about their mean.

    Attributes:
        along: where along the course the ride was.
        ridden_m: metres ridden at the knots, ``(intervals + 1,)``.
        ahead: unit vector of the heading at the knots, ``(2, intervals + 1)``.
        places: of the course, on each lap, metres ridden, ``(laps, places)``.
        weights: what each pass counts for in the mean of a place, summing to 1, ``(laps, places)``; 0 where too few
            passed.
        share: how far each knot is smoothed about the mean, 0 to 1, ``(intervals + 1,)``.
    """

    along: AlongCourse
    ridden_m: FloatArray
    ahead: FloatArray
    places: FloatArray
    weights: FloatArray
    share: FloatArray

    @classmethod
    def of(cls, along: AlongCourse, usual: FloatArray, path: FloatArray) -> UsualRide | None:
        """Of a ride along a course; None where no place was passed often enough to know what is usual.

        Args:
            along: where the ride was.
            usual: how probably each moment was ridden as usual, ``(intervals,)``.
            path: spline coefficients ``(coefficients, 2)``.
        """
        knots, places = along.knots, along.places(_EVERY_M)
        there = along.rode_at(places)
        often = np.count_nonzero(there, axis=0) >= FEWEST_LAPS
        counts = np.where(there & often, np.interp(places, along.ridden_m, usual), 0.0)
        total = counts.sum(axis=0)
        if not total.any():
            return None
        times = knots.start_s + knots.spacing_s * np.arange(knots.intervals + 1)
        (v,) = values(knots, path, np.minimum(times, knots.middle_s[-1]), 1)
        speed = np.maximum(np.hypot(*v.T), np.finfo(np.float64).tiny)
        share = np.minimum(usual / _AS_ANY_OTHER, 1.0) * along.riding
        return cls(
            along,
            np.interp(times, knots.middle_s, along.ridden_m),
            v.T / speed,
            places,
            counts / np.where(total > 0.0, total, 1.0),
            np.interp(times, knots.middle_s, share),
        )

    @property
    def passes(self) -> FloatArray:
        """How many passes the mean of each interval's place is worth, ``(intervals,)``; 1 where it is of none."""
        squares = np.sum(np.square(self.weights), axis=0)
        worth = np.where(squares > 0.0, 1.0 / np.where(squares > 0.0, squares, 1.0), 1.0)
        worth = np.broadcast_to(worth, self.places.shape)
        return np.asarray(np.interp(self.along.ridden_m, self.places.ravel(), worth.ravel()))

    def snap(self, path: FloatArray) -> FloatArray:
        """The snap that each knot of a path is smoothed about, m/s⁴, ``(coefficients, 2)`` → east and north ``(2, intervals + 1)``.

        It is the usual snap of the place, times the share to which the knot is smoothed about it. Passes of a place have
        their snap along the heading and across it in common, not that to the east and north.
        """
        own = snap_at_knots(self.along.knots, path).T
        left = np.stack([-self.ahead[1], self.ahead[0]])
        ways = (self.ahead, left)
        mean = [self._mean(np.sum(own * way, axis=0)) * way for way in ways]
        return self.share * (mean[0] + mean[1])

    def _mean(self, at_knots: FloatArray) -> FloatArray:
        """The mean over passes of a place, for each knot: ``(intervals + 1,)`` → ``(intervals + 1,)``."""
        passes = np.interp(self.places, self.ridden_m, at_knots)
        mean = np.broadcast_to(np.sum(self.weights * passes, axis=0), self.places.shape)
        return np.asarray(np.interp(self.ridden_m, self.places.ravel(), mean.ravel()))
