"""Which moments of a ride are pooled to find how roughly it was ridden.

One second of a log says next to nothing about roughness, so neighbouring moments are pooled, and with them the same place
on other laps: brakes, roll and drive come where they always come. A pass on which the rider did something else is not
pooled: if it were taken to be as smooth as he usually is there, it would be pulled towards what he usually does. That a
pass is unusual does not show in its roughness, but plainly in its lateral acceleration.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.ndimage import gaussian_filter1d, maximum_filter1d, uniform_filter1d

from lapkit.course.stations import StationLine
from lapkit.path.spline import Knots, values
from lapkit.path.summary import SD_PER_MEDIAN
from lapkit.units import FloatArray

Pool = Callable[[FloatArray], FloatArray]
"""A mean over the intervals that are pooled with each one: ``(intervals,)`` → ``(intervals,)``."""

# Degrees of freedom of the usual roughness: that of a place differs by half of itself from lap to lap.
_USUAL_COUNTS = 6.0
_AROUND_S = (
    15.0  # the time around a moment that stands for what is usual where there are no other laps
)
_OVER_M = 6.0  # one standard deviation of where along the course laps do the same
_NEAR_M = 15.0  # from the reference: the rider is on the course (our choice)
_RIDING_MPS = 5.0  # slower he waits, and would outweigh laps that pass there (our choice)
_FEWEST_LAPS = 3  # with fewer it is not known what is usual
_EVERY_M = 8.0  # from place to place at which laps are compared: a lapse of a second covers several
_LEAST_MPS2 = (
    0.1  # nobody repeats his lateral acceleration more exactly: it is less than a degree of lean
)
# Unusual passes are the contaminants of Tukey's contaminated normal distribution (A survey of sampling from contaminated
# distributions, 1960; memory): their share, and the ratio of their standard deviation to that of the others.
_UNUSUAL, _FARTHER = 0.3, 5.0
_UNUSUAL_S = 1.5  # each way of a moment that stands out, the pass counts as unusual


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


def over_laps(knots: Knots, path: FloatArray, line: StationLine, alone: Pooling) -> Pooling:
    """Pool all laps within some metres of a place of the course, as far as they were ridden as usual.

    Args:
        knots: of the path.
        path: roughly where the rider was, spline coefficients ``(coefficients, 2)``.
        line: of the course.
        alone: the pooling where he is beside the course or hardly moves.
    """
    at, v, a = values(knots, path, knots.middle_s, 0, 1, 2)
    station, aside = line.project(*at.T)
    speed = np.hypot(*v.T)
    riding = (np.abs(aside) < _NEAR_M) & (speed > _RIDING_MPS)
    across = (v[:, 0] * a[:, 1] - v[:, 1] * a[:, 0]) / np.maximum(speed, _RIDING_MPS)
    as_usual = _as_usual(knots, line.length_m, station, riding, across)
    metres = int(np.ceil(line.length_m))
    metre = np.clip(station.astype(np.int64), 0, metres - 1)[riding]
    smooth = partial(gaussian_filter1d, sigma=_OVER_M, mode="wrap" if line.closed else "nearest")

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
        over_passes(as_usual, alone.usual),
        np.where(riding, as_usual, 1.0) * alone.usual_counts,
        over_passes(np.ones(knots.intervals), alone.freedom),
    )


def _as_usual(
    knots: Knots, length_m: float, station: FloatArray, riding: np.ndarray, across: FloatArray
) -> FloatArray:
    """How probably each moment was ridden as that place of the course usually is, ``(intervals,)``.

    Args:
        knots: of the path.
        length_m: of the course.
        station: metres along the course, ``(intervals,)``.
        riding: whether he rides on it, ``(intervals,)``.
        across: acceleration to the left, m/s², ``(intervals,)``.
    """
    # Off the course his station stays as it was when he left it: from a paddock any leg of the course may be the nearest.
    station = station[np.maximum.accumulate(np.where(riding, np.arange(len(station)), 0))]
    laps = np.cumsum(np.round(-np.diff(station, prepend=station[0]) / length_m))
    ridden = np.maximum.accumulate(station + length_m * laps)
    # Laps × places, as distances ridden.
    starts = length_m * np.arange(int(ridden[-1] // length_m) + 1)
    grid = starts[:, None] + np.arange(0.0, length_m, _EVERY_M)
    there = np.interp(grid, ridden, riding.astype(np.float64), 0.0, 0.0) > 0.99
    often = np.count_nonzero(there, axis=0) >= _FEWEST_LAPS
    if not often.any():
        return np.ones(knots.intervals)
    at_places = np.where(there, np.interp(grid, ridden, across), np.nan)[:, often]
    unusual = np.zeros_like(grid)
    unusual[:, often] = np.nan_to_num(_unusual(at_places))
    share = np.interp(ridden, grid.ravel(), unusual.ravel())
    return 1.0 - maximum_filter1d(share, 1 + 2 * round(_UNUSUAL_S / knots.spacing_s))


def _unusual(across: FloatArray) -> FloatArray:
    """How probably each pass of a place was an unusual one: accelerations ``(laps, places)``, m/s², NaN where none.

    By Bayes' rule from the two components of the contaminated normal distribution, about the median of a place and with
    the standard deviation of usual passes that all places have together.
    """
    away = across - np.nanmedian(across, axis=0)
    scatter = SD_PER_MEDIAN * np.nanmedian(np.abs(away), axis=0)
    squares = np.square(away) / max(float(np.mean(np.square(scatter))), _LEAST_MPS2**2)
    odds_of_usual = (1.0 / _UNUSUAL - 1.0) * _FARTHER * np.exp(0.5 * squares * (_FARTHER**-2 - 1.0))
    return 1.0 / (1.0 + odds_of_usual)
