"""Which moments of a ride tell of each other how roughly it was ridden.

Those nearby do, and the other laps at the same place: brakes, roll and drive come where they always
come. But not for a pass on which he did something else: a lapse held for as smooth as he usually is there would
be pulled towards what he usually does. Whether a pass is like the others is not to be seen from its roughness,
of which a second of a log knows next to nothing; that he pulled another way across than usual is plain.
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

Pooled = Callable[[FloatArray], FloatArray]
"""What is pooled for every interval from those like it: ``(intervals,)`` → ``(intervals,)``."""

# What is usual counts for as many squares: roughness at a place differs by half of itself from lap to lap.
_USUAL_COUNTS = 6.0
_AROUND_S = 15.0  # what is usual where there are no other laps
_OVER_M = 6.0  # one standard deviation: laps differ by as much in where they do the same
_NEAR_M = 15.0  # beside the reference he is on the course (our choice)
_RIDING_MPS = 5.0  # slower he waits, and would outweigh laps that pass there (our choice)
_FEWEST_LAPS = 3  # that show what is usual
# From place to place at which laps are compared: a lapse of a second is several long.
_EVERY_M = 8.0
_LEAST_MPS2 = 0.1  # nobody pulls a machine over alike to less than a degree of lean
# Passes ridden otherwise, as Tukey's contaminated normal deviate (A survey of sampling from contaminated
# distributions, 1960; memory): how many, and how many times as far off as others; and for how long one is that
# stands out at a moment.
_OTHERS, _FARTHER = 0.3, 5.0
_OTHERWISE_S = 1.5


@dataclass(frozen=True, eq=False)
class Alike:
    """How squares of white deviates are pooled, and what a log tells of them.

    ``nearby`` is their mean over the moments nearby, which is worth ``intervals`` of them; ``usual`` their mean over
    what is ridden alike, which counts for ``counts`` more, ``(intervals,)``; ``told`` is for what a log can tell at
    all, which hangs on the receiver and hardly on what was done there.
    """

    nearby: Pooled
    intervals: float
    usual: Pooled
    counts: FloatArray
    told: Pooled


def over_time(knots: Knots, over_s: float) -> Alike:
    """Moments nearby, ``over_s`` being a Gaussian's standard deviation in seconds; usual is what is around them."""
    over = over_s / knots.spacing_s
    nearby = partial(gaussian_filter1d, sigma=over, mode="nearest")
    around = max(round(_AROUND_S / knots.spacing_s), 1)
    usual = partial(uniform_filter1d, size=around, mode="nearest")
    counts = np.full(knots.intervals, _USUAL_COUNTS)
    return Alike(nearby, 2.0 * float(np.sqrt(np.pi)) * over, usual, counts, nearby)


def over_laps(knots: Knots, path: FloatArray, line: StationLine, alone: Alike) -> Alike:
    """All laps within metres of a place of the course are usual there, as far as they were ridden as usual.

    Args:
        path: about where the rider was, spline coefficients ``(coefficients, 2)``.
        line: along which places count.
        alone: what counts beside the course and where he hardly moves.
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

    def over_passes(weight: FloatArray, otherwise: Pooled) -> Pooled:
        def summed(values: FloatArray) -> FloatArray:
            return smooth(np.bincount(metre, values[riding], minlength=metres))[metre]

        weights = np.maximum(summed(weight), 1e-9)

        def mean(values: FloatArray) -> FloatArray:
            out = otherwise(values)
            out[riding] = summed(weight * values) / weights
            return out

        return mean

    return Alike(
        alone.nearby,
        alone.intervals,
        over_passes(as_usual, alone.usual),
        np.where(riding, as_usual, 1.0) * alone.counts,
        over_passes(np.ones(knots.intervals), alone.told),
    )


def _as_usual(
    knots: Knots, length_m: float, station: FloatArray, riding: np.ndarray, across: FloatArray
) -> FloatArray:
    """How probably each moment was ridden as that place of the course usually is, ``(intervals,)``.

    Args:
        length_m: of the course.
        station, riding, across: metres along the course, whether he rides on it, and acceleration to the left.
    """
    # Off the course he stays where he left it: from a paddock any leg of it may be the nearest.
    station = station[np.maximum.accumulate(np.where(riding, np.arange(len(station)), 0))]
    laps = np.cumsum(np.round(-np.diff(station, prepend=station[0]) / length_m))
    ridden = np.maximum.accumulate(station + length_m * laps)
    starts = length_m * np.arange(int(ridden[-1] // length_m) + 1)
    grid = starts[:, None] + np.arange(0.0, length_m, _EVERY_M)
    there = np.interp(grid, ridden, riding.astype(np.float64), 0.0, 0.0) > 0.99
    often = np.count_nonzero(there, axis=0) >= _FEWEST_LAPS
    if not often.any():
        return np.ones(knots.intervals)
    pulls = np.where(there, np.interp(grid, ridden, across), np.nan)[:, often]
    away = pulls - np.nanmedian(pulls, axis=0)
    scatter = SD_PER_MEDIAN * np.nanmedian(np.abs(away), axis=0)
    squares = np.square(away) / max(float(np.mean(np.square(scatter))), _LEAST_MPS2**2)
    odds = (1.0 / _OTHERS - 1.0) * _FARTHER * np.exp(0.5 * squares * (_FARTHER**-2 - 1.0))
    otherwise = np.zeros_like(grid)
    otherwise[:, often] = np.nan_to_num(1.0 / (1.0 + odds))
    share = np.interp(ridden, grid.ravel(), otherwise.ravel())
    return 1.0 - maximum_filter1d(share, 1 + 2 * round(_OTHERWISE_S / knots.spacing_s))
