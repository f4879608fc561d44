"""How roughly a rider rode from place to place, along where he was heading and across it.

Straights are smooth, roll comes in bursts, and brakes and drive come on faster than a machine leans: one
level for all of it would be too rough for the one and too stiff for the other. The levels come from the
log itself, by expectation–maximisation on draws; where there is a course, all laps tell of a place together.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.ndimage import gaussian_filter1d

from lapkit.course.stations import StationLine
from lapkit.path.spline import Knots, values
from lapkit.units import FloatArray

PRIOR_ORDER = 4
"""The derivative of position that is white a priori (snap): lean then falls off as 1/f² beyond its bursts."""

Average = Callable[[FloatArray], FloatArray]
"""A mean for every interval over those that are ridden like it: ``(intervals,)`` → ``(intervals,)``."""

# Between one, plain expectation–maximisation, and two, from where on it may swing for ever (over-relaxed
# bound optimisation: Salakhutdinov & Roweis, ICML 2003; memory). Where a log tells little the plain step is short.
_STEP = 1.8
_EVENED = 0.2  # share of their mean in both levels: a few seconds hardly tell one from the other
_LEAST = 0.01  # of the median power: a standstill is not perfectly smooth
_OVER_M = 6.0  # one standard deviation: laps differ by as much in where they do the same
_NEAR_M = 15.0  # beside the reference he is on the course (our choice)
_RIDING_MPS = 5.0  # slower he waits, and would outweigh laps that pass there (our choice)


@dataclass(frozen=True, eq=False)
class Roughness:
    """Root of the spectral density of the path's white fourth derivative, m/s⁴ per √Hz.

    ``along`` and ``across`` the heading have shape ``(intervals,)``; ``ahead`` is the heading's unit
    vector, ``(2, intervals)``. Where he stands it is any unit vector.
    """

    along: FloatArray
    across: FloatArray
    ahead: FloatArray

    @classmethod
    def even(cls, knots: Knots, path: FloatArray, level: float) -> Roughness:
        """The same everywhere and both ways, on a path ``(coefficients, 2)``."""
        levels = np.full(knots.intervals, level)
        return cls(levels, levels, _ahead(knots, path))

    @property
    def left(self) -> FloatArray:
        """The unit vector to the left of the heading."""
        return np.stack([-self.ahead[1], self.ahead[0]])

    def times(self, factor: float) -> Roughness:
        """Rougher by a factor everywhere."""
        return Roughness(factor * self.along, factor * self.across, self.ahead)

    def learned(self, knots: Knots, drawn: FloatArray, average: Average) -> Roughness:
        """As draws ``(coefficients, 2, draws)`` from the posterior under this roughness show it.

        A longer step of expectation–maximisation: towards the expected square of the white derivative.
        """
        # The fourth derivative of a spline of degree five: fourth differences of its coefficients.
        snap = np.diff(drawn, PRIOR_ORDER, axis=0) / knots.spacing_s**PRIOR_ORDER
        along, across = _power(knots, snap, self.ahead), _power(knots, snap, self.left)
        both = 0.5 * (along + across)
        return Roughness(
            _stepped(self.along, average(_evened(along, both))),
            _stepped(self.across, average(_evened(across, both))),
            self.ahead,
        )


def over_time(knots: Knots, over_s: float) -> Average:
    """A mean over the moments nearby; ``over_s`` is a Gaussian's standard deviation, seconds."""
    return partial(gaussian_filter1d, sigma=over_s / knots.spacing_s, mode="nearest")


def over_laps(knots: Knots, path: FloatArray, line: StationLine, own: Average) -> Average:
    """A mean over all laps within metres of a place of the course, and no less than his own at the time.

    A lap on which he rode more roughly than usual must not be smoothed into what he usually does.

    Args:
        path: about where the rider was, spline coefficients ``(coefficients, 2)``.
        line: along which places count.
        own: the mean over the moments nearby; alone it counts beside the course and where he hardly moves.
    """
    at, v = values(knots, path, knots.middle_s, 0, 1)
    station, aside = line.project(*at.T)
    riding = (np.abs(aside) < _NEAR_M) & (np.hypot(*v.T) > _RIDING_MPS)
    metres = int(np.ceil(line.length_m))
    metre = np.clip(station.astype(np.int64), 0, metres - 1)
    smooth = partial(gaussian_filter1d, sigma=_OVER_M, mode="wrap" if line.closed else "nearest")

    def summed(power: FloatArray) -> FloatArray:
        return smooth(np.bincount(metre[riding], power[riding], minlength=metres))[metre]

    passes = np.where(riding, summed(np.ones(knots.intervals)), 1.0)

    def average(power: FloatArray) -> FloatArray:
        alone = own(power)
        return np.where(riding, np.maximum(summed(power) / passes, alone), alone)

    return average


def _ahead(knots: Knots, path: FloatArray) -> FloatArray:
    (v,) = values(knots, path, knots.middle_s, 1)
    speed = np.hypot(*v.T)
    moving = speed > 0.0
    return np.where(moving, v.T / np.where(moving, speed, 1.0), [[1.0], [0.0]])


def _power(knots: Knots, snap: FloatArray, way: FloatArray) -> FloatArray:
    """Integral of the squared fourth derivative one way over each interval, mean over draws.

    Args:
        snap: fourth derivative at the knots, ``(intervals + 1, 2, draws)``; between them it runs straight.
        way: unit vectors, ``(2, intervals)``.
    """
    start, end = (
        way[0, :, None] * at[:, 0] + way[1, :, None] * at[:, 1] for at in (snap[:-1], snap[1:])
    )
    squares = start * start + start * end + end * end
    return knots.spacing_s / 3.0 * np.mean(squares, axis=1)


def _evened(power: FloatArray, both: FloatArray) -> FloatArray:
    return power ** (1.0 - _EVENED) * both**_EVENED


def _stepped(level: FloatArray, power: FloatArray) -> FloatArray:
    """The level moved towards a power, in proportion."""
    before = np.square(level)
    after = before * (power / before) ** _STEP
    return np.sqrt(np.maximum(after, _LEAST * np.median(after)))
