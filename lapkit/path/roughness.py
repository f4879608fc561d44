"""How roughly a rider rode from place to place, along his heading and across it.

Straights are smooth, roll comes in bursts, and brakes and drive come on faster than a machine leans: one level for all of
it would be too rough for the one and too stiff for the other. The levels are found from the log itself, as the squares of
the white derivative that it shows over their degrees of freedom. A second has few of those, so a level stays uncertain,
and its degrees of freedom are kept with it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.path.pooling import Pooling
from lapkit.path.spline import Knots, values

PRIOR_ORDER = 4
"""The derivative of position that is white a priori (snap): lean then falls off as 1/f² beyond its bursts."""

_EVENED = 0.1  # share of each level that is taken from the other way: in a few seconds the two are hardly told apart
_LEAST = 0.01  # of the median power: a standstill is not perfectly smooth
_KEPT = 0.02  # degrees of freedom, per interval, of the level as it was: where a log shows nothing, the level stays
_MOST_DOUBT = 3.0  # the largest factor by which the square of a level is raised for being uncertain


@dataclass(frozen=True, eq=False)
class Roughness:
    """Root of the spectral density of the path's white fourth derivative, m/s⁴ per √Hz.

    Attributes:
        along, across: levels along the heading and across it, ``(intervals,)`` each.
        freedom: degrees of freedom from which each of them is known, ``(2, intervals)``.
        ahead: unit vector of the heading, ``(2, intervals)``; any unit vector where he stands.
    """

    along: FloatArray
    across: FloatArray
    freedom: FloatArray
    ahead: FloatArray

    @classmethod
    def even(cls, knots: Knots, path: FloatArray, level: float) -> Roughness:
        """One level everywhere and both ways, regarded as certain, on a path ``(coefficients, 2)``."""
        levels = np.full(knots.intervals, level)
        return cls(levels, levels, np.full((2, knots.intervals), np.inf), _ahead(knots, path))

    @property
    def left(self) -> FloatArray:
        """The unit vector to the left of the heading."""
        return np.stack([-self.ahead[1], self.ahead[0]])

    def times(self, factor: float | FloatArray) -> Roughness:
        """Rougher by a factor, the same everywhere or one for each interval, ``(intervals,)``."""
        return Roughness(factor * self.along, factor * self.across, self.freedom, self.ahead)

    def halfway(self, other: Roughness) -> Roughness:
        """The geometric mean of its levels and another's, of the same path."""
        along, across = np.sqrt(self.along * other.along), np.sqrt(self.across * other.across)
        return Roughness(along, across, self.freedom, self.ahead)

    def middle(self) -> Roughness:
        """The geometric mean of each level's posterior.

        The square of a level known from n squares has a scaled inverse χ² distribution with n degrees of freedom (Gelman
        et al., *Bayesian Data Analysis*, 2.6; memory). The mean of its logarithm is nearly the logarithm of the sum of
        squares over n − 1.
        """
        return self._with_fewer(1.0)

    def mean(self) -> Roughness:
        """The root of the posterior mean of each level's square, which is the sum of squares over n − 2."""
        return self._with_fewer(2.0)

    def _with_fewer(self, fewer: float) -> Roughness:
        """The same sums of squares, divided by so many degrees of freedom fewer."""
        by = np.sqrt(1.0 / np.maximum(1.0 - fewer / self.freedom, 1.0 / _MOST_DOUBT))
        return Roughness(by[0] * self.along, by[1] * self.across, self.freedom, self.ahead)

    def learned(
        self,
        knots: Knots,
        path: FloatArray,
        deviations: FloatArray,
        pooling: Pooling,
        about: FloatArray | None = None,
    ) -> Roughness:
        """The roughness that the posterior under this one shows.

        It is the sum of squares of the path's snap over their degrees of freedom. A square has a part of one degree of
        freedom, the share by which its variance has fallen from prior to posterior (MacKay, Bayesian interpolation, Neural
        Computation 4, 1992; memory).

        Args:
            knots: of the path.
            path: the posterior's mean, spline coefficients ``(coefficients, 2)``.
            deviations: of the path from it, ``(coefficients, 2, n)``; their mean square is its variance.
            pooling: which squares belong to one level.
            about: the snap at the knots from which paths differ by this roughness, ``(2, intervals + 1)``; None for none.
        """
        own = snap_at_knots(knots, path)
        if about is not None:
            own = own - about.T
        shown = self._powers(knots, own[:, :, None])
        uncertain = self._powers(knots, snap_at_knots(knots, deviations))
        before = np.square(np.stack([self.along, self.across]))
        power = _evened(_KEPT * before + shown)
        freedom = _evened(1.0 + _KEPT - uncertain / before)
        along, along_freedom = _level(power[0], freedom[0], pooling)
        across, across_freedom = _level(power[1], freedom[1], pooling)
        return Roughness(along, across, np.stack([along_freedom, across_freedom]), self.ahead)

    def _powers(self, knots: Knots, snap: FloatArray) -> FloatArray:
        """:func:`_power` along the heading and across it, ``(2, intervals)``; the snap is that at the knots."""
        # Each path in one piece: all that follows runs along it.
        of_paths = np.ascontiguousarray(snap.transpose(2, 1, 0))
        return np.stack([_power(knots, of_paths, way) for way in (self.ahead, self.left)])


def _ahead(knots: Knots, path: FloatArray) -> FloatArray:
    (v,) = values(knots, path, knots.middle_s, 1)
    speed = np.hypot(*v.T)
    moving = speed > 0.0
    return np.where(moving, v.T / np.where(moving, speed, 1.0), [[1.0], [0.0]])


def snap_at_knots(knots: Knots, coefficients: FloatArray) -> FloatArray:
    """Fourth derivative at the knots, ``(coefficients, 2, ...)`` → ``(intervals + 1, 2, ...)``, in m/s⁴.

    Of a spline of degree five it is a fourth difference, and runs straight from knot to knot.
    """
    return np.diff(coefficients, PRIOR_ORDER, axis=0) / knots.spacing_s**PRIOR_ORDER


def _power(knots: Knots, snap: FloatArray, way: FloatArray) -> FloatArray:
    """Integral of the squared fourth derivative one way over each interval, mean over paths, ``(intervals,)``.

    Args:
        knots: of the paths.
        snap: fourth derivative at the knots, ``(n, 2, intervals + 1)``; between them it runs straight.
        way: unit vectors, ``(2, intervals)``.
    """
    ends = (snap[..., :-1], snap[..., 1:])
    start, end = (way[0] * at[:, 0] + way[1] * at[:, 1] for at in ends)
    squares = start * start + start * end + end * end
    return knots.spacing_s / 3.0 * np.mean(squares, axis=0)


def _evened(both: FloatArray) -> FloatArray:
    """Along and across, ``(2, intervals)``, each with :data:`_EVENED` of the other."""
    return (1.0 - _EVENED) * both + _EVENED * both[::-1]


def _level(
    power: FloatArray, freedom: FloatArray, pooling: Pooling
) -> tuple[FloatArray, FloatArray]:
    """Level one way and its degrees of freedom, from squares and their degrees of freedom; ``(intervals,)`` each."""
    usual = pooling.usual(power) / np.maximum(pooling.usual(freedom), _KEPT)
    counts, nearby_counts = pooling.usual_counts, pooling.nearby_counts
    pooled = counts + nearby_counts * np.maximum(pooling.freedom(freedom), _KEPT)
    square = (counts * usual + nearby_counts * pooling.nearby(power)) / pooled
    return np.sqrt(np.maximum(square, _LEAST * np.median(square))), pooled
