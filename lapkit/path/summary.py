"""From the rows of an ensemble to value, 95 % interval and probability.

Row 0 belongs to the path estimate, rows 1.. to draws. A value at a place is taken plainly: the
estimate's, with the draws' spread about it. An extreme is reflected: the draws are rougher than the
truth and their extremes stand too far out, the estimate's own extreme stands out too, and by how much
is what the draws tell (the basic bootstrap, ``2 f(estimate) − f(draw)``).

Intervals are Student's, not percentiles: from some fifty draws a 2.5 % percentile is known to a fifth
of itself, a standard deviation to a tenth, and curvature, lean and offset are near Gaussian.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import stdtrit

from lapkit.units import FloatArray

COVERAGE = 0.95
"""Share of truths that an interval is meant to hold."""


class Summary(NamedTuple):
    """Value and the ends of its central 95 % interval; arrays of one shape, or scalars of numpy."""

    value: FloatArray
    lo: FloatArray
    hi: FloatArray


def quantile(degrees_of_freedom: float) -> float:
    """Student's t that a central 95 % interval reaches to."""
    return float(stdtrit(degrees_of_freedom, 0.5 + 0.5 * COVERAGE))


def draws_of(rows: FloatArray) -> FloatArray:
    """The draws: ``(1 + draws, ...)`` → ``(draws, ...)``; the estimate itself where there are none."""
    return rows[1:] if len(rows) > 1 else rows


def reflected_draws(rows: FloatArray) -> FloatArray:
    """The draws mirrored at the estimate, for probabilities of extremes; shape as :func:`draws_of`."""
    return 2.0 * rows[:1] - draws_of(rows)


def spread(rows: FloatArray) -> FloatArray:
    """One standard deviation of the draws about their own mean: ``(1 + draws, ...)`` → ``(...)``.

    Zero where there are no draws.
    """
    if len(rows) < 3:
        return np.zeros(rows.shape[1:])
    return np.std(rows[1:], axis=0, ddof=1)


def plain(rows: FloatArray) -> Summary:
    """A value at a place: the estimate's value, and an interval from the draws' spread.

    Args:
        rows: shape ``(1 + draws, ...)``; NaN in a row makes the interval NaN.
    """
    return _interval(rows[0], rows)


def reflected(rows: FloatArray) -> Summary:
    """An extreme over a stretch of path, its bias taken off; arguments as :func:`plain`."""
    if len(rows) == 1:
        return plain(rows)
    return _interval(2.0 * rows[0] - np.mean(rows[1:], axis=0), rows)


def probability(draws: np.ndarray) -> FloatArray:
    """Share of draws in which something holds: booleans ``(draws, ...)`` → ``(...)``."""
    return np.mean(draws, axis=0)


def _interval(value: FloatArray, rows: FloatArray) -> Summary:
    draws = len(rows) - 1
    if draws < 2:
        return Summary(value, value, value)
    # The reach covers a new value from the same distribution, the draws being only so many.
    reach = quantile(draws - 1) * np.sqrt(1.0 + 1.0 / draws) * spread(rows)
    return Summary(value, value - reach, value + reach)
