"""Which moments of a ride are pooled to find how roughly it was ridden.

One second of a log says next to nothing about roughness, so neighbouring moments are pooled, and with them the same place
on other laps: brakes, roll and drive come where they always come. A pass on which the rider did something else is not
pooled: if it were taken to be as smooth as he usually is there, it would be pulled towards what he usually does. That a
pass is unusual does not show in its roughness, but plainly in its lateral acceleration (``usual_passes.py``).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

from lapkit.arrays import FloatArray
from lapkit.path.along_course import AlongCourse
from lapkit.path.spline import Knots

Pool = Callable[[FloatArray], FloatArray]
"""A mean over the intervals that are pooled with each one: ``(intervals,)`` → ``(intervals,)``."""

# Degrees of freedom of the usual roughness: the roughness at one place differs by half of itself from lap to lap.
_USUAL_COUNTS = 6.0
# The time around a moment that stands for what is usual where there are no other laps.
_AROUND_S = 15.0
_OVER_M = 6.0  # one standard deviation of where along the course laps do the same


@dataclass(frozen=True, eq=False)
class Pooling:
    """How the squares of the white derivative that a log shows are pooled, and their degrees of freedom.

    Attributes:
        nearby: mean over neighbouring moments.
        nearby_counts: how many independent intervals that mean is worth.
        usual: mean over the passes that were ridden as usual; over the time around a moment where there are no other laps.
        usual_counts: degrees of freedom that the usual mean counts for, ``(intervals,)``: none where the pass itself was
            unusual.
        freedom: mean for degrees of freedom, over all passes: these depend on the receiver, hardly on what was ridden.
    """

    nearby: Pool
    nearby_counts: float
    usual: Pool
    usual_counts: FloatArray
    freedom: Pool


def over_time(knots: Knots, over_s: float) -> Pooling:
    """Pool neighbouring moments by a Gaussian of standard deviation ``over_s``, seconds, without regard to laps."""
    over = over_s / knots.spacing_s
    nearby = partial(gaussian_filter1d, sigma=over, mode="nearest")
    around = max(round(_AROUND_S / knots.spacing_s), 1)
    usual = partial(uniform_filter1d, size=around, mode="nearest")
    counts = np.full(knots.intervals, _USUAL_COUNTS)
    return Pooling(nearby, 2.0 * float(np.sqrt(np.pi)) * over, usual, counts, nearby)


def over_laps(along: AlongCourse, usual: FloatArray, alone: Pooling) -> Pooling:
    """Pool all laps within some metres of a place of the course, as far as they were ridden as usual.

    Args:
        along: where the ride was.
        usual: how probably each moment was ridden as usual, ``(intervals,)`` (:func:`~lapkit.path.usual_passes.as_usual`).
        alone: the pooling where he is beside the course or hardly moves.
    """
    riding = along.riding
    metres = int(np.ceil(along.length_m))
    metre = np.clip(along.station_m.astype(np.int64), 0, metres - 1)[riding]
    smooth = partial(gaussian_filter1d, sigma=_OVER_M, mode="wrap" if along.closed else "nearest")

    def over_passes(weight: FloatArray, elsewhere: Pool) -> Pool:
        """The weighted mean over passes on the course, and ``elsewhere`` off it."""

        def summed(values: FloatArray) -> FloatArray:
            return smooth(np.bincount(metre, values[riding], minlength=metres))[metre]

        weights = np.maximum(summed(weight), 1e-9)

        def mean(values: FloatArray) -> FloatArray:
            out = elsewhere(values)
            out[riding] = summed(weight * values) / weights
            return out

        return mean

    return Pooling(
        alone.nearby,
        alone.nearby_counts,
        over_passes(usual, alone.usual),
        np.where(riding, usual, 1.0) * alone.usual_counts,
        over_passes(np.ones(len(usual)), alone.freedom),
    )
