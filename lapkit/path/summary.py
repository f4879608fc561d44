"""From the rows of an ensemble to value, 95 % interval and probability.

Row 0 belongs to the path estimate, rows 1.. to draws. The value is the estimate's, and the interval is centred on it. For
a value at a place, the estimate is the middle of the posterior. For an extreme, it is the least biased choice: draws are
rougher than the truth, so that their extremes are too large, by about a degree of lean where only positions were logged.
The estimate is smoother than the truth, which makes its extremes too small, and it has errors, which make them too large.
Over riders smooth and rough the two cancel to a tenth of that degree.

Intervals are Student's, not percentiles, because from some thirty draws a 2.5 % percentile is known to a quarter of
itself, a standard deviation to an eighth, and curvature, lean and offset are nearly Gaussian.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from scipy.special import stdtr, stdtrit

from lapkit.arrays import FloatArray

COVERAGE = 0.95
"""Share of truths that an interval is meant to hold."""

DRAWS = 32
"""How many paths are drawn for every log whose measures go into tables, and so stand behind every interval in them."""

CALL_AT = 0.9
"""Something is said of a lap only if it is at least this probable in it: a side of a seam, a lane, a fault."""

SD_PER_MEDIAN = 1.4826
"""Standard deviation of a normal deviate over the median of its absolute value."""

MEDIAN_LENGTH = 1.1774
"""Median length of a vector in the plane with normal components, in their standard deviations: √(2 ln 2)."""


class Summary(NamedTuple):
    """Value and the ends of its central 95 % interval; arrays of one shape."""

    value: FloatArray
    lo: FloatArray
    hi: FloatArray

    @property
    def half_width(self) -> FloatArray:
        """Half the interval."""
        return 0.5 * (self.hi - self.lo)


@lru_cache(maxsize=16)
def quantile(degrees_of_freedom: float) -> float:
    """Student's t at the end of a central 95 % interval."""
    return float(stdtrit(degrees_of_freedom, 0.5 + 0.5 * COVERAGE))


def draws_of(rows: FloatArray) -> FloatArray:
    """The draws, ``(1 + draws, ...)`` → ``(draws, ...)``; the estimate where there are none."""
    return rows[1:] if len(rows) > 1 else rows


def spread(rows: FloatArray) -> FloatArray:
    """One standard deviation of the draws about their own mean: ``(1 + draws, ...)`` → ``(...)``.

    Zero where there are no draws.
    """
    if len(rows) < 3:
        return np.zeros(rows.shape[1:])
    draws = rows[1:]
    return _spread_about(draws, _mean(draws))


def _mean(draws: FloatArray) -> FloatArray:
    """Mean over draws; numpy's own checks types at every call, which costs more than these small sums."""
    return np.add.reduce(draws, axis=0) / len(draws)


def _spread_about(draws: FloatArray, mean: FloatArray) -> FloatArray:
    away = draws - mean
    return np.sqrt(np.add.reduce(away * away, axis=0) / (len(draws) - 1))


def summarise(rows: FloatArray) -> Summary:
    """The estimate's value, and an interval centred on it from the draws' spread.

    Args:
        rows: shape ``(1 + draws, ...)``; a NaN in a draw makes the interval NaN.
    """
    draws = len(rows) - 1
    if draws < 2:
        return Summary(rows[0], rows[0], rows[0])
    # The centre is the estimate, on which the draws' mean has no influence: only their spread is uncertain.
    reach = quantile(draws - 1) * spread(rows)
    return Summary(rows[0], rows[0] - reach, rows[0] + reach)


def summarise_extreme(rows: FloatArray, *, level: bool = False) -> Summary:
    """As :func:`summarise`, for the largest or smallest value along a stretch.

    The largest value of anything noisy is too large, because it picks the highest error. That holds for the estimate too.
    A draw has the estimate's errors once more, so the distance of the draws' extremes beyond the estimate's shows the
    excess that such errors make. Smoothing has taken as much off the path of a rider who is as rough as the draws, and
    nothing off that of a smooth rider. Which of them he is is unknown, so the interval is centred half an excess beyond
    the estimate and widened by a whole one, unless the stretch is held level.

    Args:
        rows: shape ``(1 + draws, ...)``.
        level: whether the stretch is held level, as lean is in a corner. Its largest value stands for seconds, so that
            errors and smoothing nearly cancel: the interval is centred on the value and widened by half an excess.
    """
    draws = len(rows) - 1
    if draws < 3:
        return summarise(rows)
    excess = _excess(rows)
    if level:
        reach = _reach(draws) * spread_of_extreme(rows)
        return Summary(rows[0], rows[0] - reach, rows[0] + reach)
    middle, reach = rows[0] + 0.5 * excess, _reach(draws) * np.hypot(spread(rows), excess)
    return Summary(rows[0], middle - reach, middle + reach)


def spread_of_extreme(rows: FloatArray) -> FloatArray:
    """As :func:`spread`, widened by the uncertainty of an extreme's bias; for values at a place the same.

    Laps that are pooled share that bias, so it does not average out.
    """
    return np.hypot(spread(rows), 0.5 * _excess(rows))


def _excess(rows: FloatArray) -> FloatArray:
    """How far the draws' extremes lie beyond the estimate's on average; zero where there are no draws."""
    return np.mean(draws_of(rows), axis=0) - rows[0]


def _reach(draws: int) -> float:
    """Standard deviations to either end of an interval whose centre depends on the draws' mean."""
    return quantile(draws - 1) * float(np.sqrt(1.0 + 1.0 / draws))


def probability_above(rows: FloatArray, limit: FloatArray) -> FloatArray:
    """How probably the truth of an extreme lies above a limit: ``(1 + draws, ...)`` and ``(...)`` → ``(...)``.

    By Student's distribution about the estimate, as intervals are: a share of some thirty draws has steps of 3 %, and near
    0 and 1 a single draw decides. The draws' mean has no part in it, because draws are rougher than the truth. Where there
    is no spread it is 0 or 1; a NaN in a draw makes it NaN.
    """
    away, sd = rows[0] - limit, spread(rows)
    with np.errstate(divide="ignore", invalid="ignore"):
        in_sd = np.where(sd == 0.0, np.where(away > 0.0, np.inf, -np.inf), away / sd)
    return np.asarray(stdtr(max(len(rows) - 2, 1), in_sd), dtype=np.float64)


def probability(draws: np.ndarray) -> FloatArray:
    """Share of draws in which something holds: booleans ``(draws, ...)`` → ``(...)``."""
    return np.mean(draws, axis=0)
