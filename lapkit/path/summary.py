"""From the rows of an ensemble to value, 95 % interval and probability.

Row 0 belongs to the path estimate, rows 1.. to draws. The value is the estimate's and the interval
is laid about it. For a value at a place that is the posterior's own middle. For an extreme it is
the least biased choice: draws are rougher than the truth, so that their extremes stand too far
out, by about a degree of lean where only positions were logged; the estimate is smoother than the
truth but has errors of its own, and over riders smooth and rough the two cancel to a tenth of
that. Mirroring the draws at the estimate takes off what is not there.

Intervals are Student's, not percentiles: from some fifty draws a 2.5 % percentile is known to a
fifth of itself, a standard deviation to a tenth, and curvature, lean and offset are near Gaussian.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import stdtrit

from lapkit.units import FloatArray

COVERAGE = 0.95
"""Share of truths that an interval is meant to hold."""


class Summary(NamedTuple):
    """Value and the ends of its central 95 % interval; arrays of one shape."""

    value: FloatArray
    lo: FloatArray
    hi: FloatArray


def quantile(degrees_of_freedom: float) -> float:
    """Student's t that a central 95 % interval reaches to."""
    return float(stdtrit(degrees_of_freedom, 0.5 + 0.5 * COVERAGE))


def draws_of(rows: FloatArray) -> FloatArray:
    """The draws, ``(1 + draws, ...)`` → ``(draws, ...)``; the estimate where there are none."""
    return rows[1:] if len(rows) > 1 else rows


def centred_draws(rows: FloatArray) -> FloatArray:
    """The draws moved to lie about the estimate, for probabilities of extremes."""
    draws = draws_of(rows)
    return draws + (rows[0] - np.mean(draws, axis=0))


def spread(rows: FloatArray) -> FloatArray:
    """One standard deviation of the draws about their own mean: ``(1 + draws, ...)`` → ``(...)``.

    Zero where there are no draws.
    """
    if len(rows) < 3:
        return np.zeros(rows.shape[1:])
    return np.std(rows[1:], axis=0, ddof=1)


def summarise(rows: FloatArray) -> Summary:
    """The estimate's value, and an interval about it from the draws' spread.

    Args:
        rows: shape ``(1 + draws, ...)``; a NaN in a draw makes the interval NaN.
    """
    draws = len(rows) - 1
    if draws < 2:
        return Summary(rows[0], rows[0], rows[0])
    # The reach covers one more value from the same distribution, the draws being only so many.
    reach = quantile(draws - 1) * np.sqrt(1.0 + 1.0 / draws) * spread(rows)
    return Summary(rows[0], rows[0] - reach, rows[0] + reach)


def summarise_plateau(rows: FloatArray) -> Summary:
    """As :func:`summarise`, for the largest value of something held level, as lean is in a corner.

    The largest value of a level stretch picks the error that stands highest, in the estimate too. Draws
    carry such errors on top of the estimate's own and show how much one helping of them adds; but they
    are rougher than a rider, and a quarter of it is what was left over riders smooth and rough.

    Args:
        rows: shape ``(1 + draws, ...)``.
    """
    value, lo, hi = summarise(rows)
    if len(rows) < 4:
        return Summary(value, lo, hi)
    above = 0.25 * (np.mean(rows[1:], axis=0) - rows[0])
    return Summary(value - above, lo - above, hi - above)


def probability(draws: np.ndarray) -> FloatArray:
    """Share of draws in which something holds: booleans ``(draws, ...)`` → ``(...)``."""
    return np.mean(draws, axis=0)
