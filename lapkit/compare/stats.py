"""Small statistics: intervals of means and of changes, false discovery rates."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import stdtr, stdtrit

from lapkit.arrays import FloatArray
from lapkit.path.summary import COVERAGE, DRAWS, Summary, quantile

# Standard deviation over the width of an interval. Tables hold its ends only, and are made from this many draws.
_SPREAD_PER_WIDTH = 0.5 / quantile(DRAWS - 1)

LEAST_SPREAD = 1e-6
"""Least standard deviation of anything, in its own unit, so that one can divide by it."""

_AS_IF_KNOWN = 1e6  # degrees of freedom from which Student's t is as good as normal


class MeanInterval(NamedTuple):
    """A mean over laps and the ends of its 95 % interval."""

    value: float
    lo: float
    hi: float


class Change(NamedTuple):
    """A difference of means, after less before: its size, 95 % interval and two-sided p value."""

    size: float
    lo: float
    hi: float
    p: float


def spread_of(summary: Summary) -> FloatArray:
    """The standard deviation behind an interval that was read from a table; in its shape and unit.

    The interval is taken to come from :data:`~lapkit.path.summary.DRAWS` draws, as in every table.
    """
    return np.maximum((summary.hi - summary.lo) * _SPREAD_PER_WIDTH, LEAST_SPREAD)


def mean_interval(values: FloatArray) -> MeanInterval:
    """Mean of independent values ``(n,)``, n at least two, and its 95 % interval by Student's t."""
    n = len(values)
    half_width = float(stdtrit(n - 1, 0.5 + 0.5 * COVERAGE) * np.std(values, ddof=1) / np.sqrt(n))
    mean = float(np.mean(values))
    return MeanInterval(mean, mean - half_width, mean + half_width)


def change_of(size: float, variance: float, free: float, shared_sd: float = 0.0) -> Change:
    """A change of a mean, with its interval and p value by Student's t.

    Args:
        size: the change.
        variance: its variance, as estimated from the scatter of laps.
        free: degrees of freedom of that estimate.
        shared_sd: standard deviation of the error of the change that does not come from the scatter of laps; for a change
            of line the position offsets of the two runs. It counts as known, so that the degrees of freedom grow with it
            (Welch and Satterthwaite).
    """
    total = variance + shared_sd**2
    if total == 0.0:
        return Change(size, size, size, 0.0 if size else 1.0)
    free = min(free * (total / variance) ** 2 if variance > 0 else np.inf, _AS_IF_KNOWN)
    sd = float(np.sqrt(total))
    half_width = float(stdtrit(free, 0.5 + 0.5 * COVERAGE)) * sd
    p = float(2.0 * stdtr(free, -abs(size) / sd))
    return Change(size, size - half_width, size + half_width, p)


def adjusted(p: FloatArray) -> FloatArray:
    """P values ``(n,)`` adjusted for the number of tests: the lowest false discovery rate at which each may be reported.

    By the step-up procedure of Benjamini and Hochberg (1995). NaN stays NaN and counts as no test.
    """
    result = np.full(len(p), np.nan)
    known = np.flatnonzero(np.isfinite(p))
    order = known[np.argsort(p[known])]
    of_rank = p[order] * len(order) / np.arange(1, len(order) + 1)
    result[order] = np.minimum(np.minimum.accumulate(of_rank[::-1])[::-1], 1.0)
    return result


def discoveries(p: FloatArray, rate: float = 0.05) -> np.ndarray:
    """Which of the tests with p values ``(n,)`` may be reported (Benjamini and Hochberg 1995).

    ``rate`` is the false discovery rate: on average no larger share of what is reported is false. NaN is never reported.
    """
    return np.nan_to_num(adjusted(p), nan=np.inf) <= rate


def within_groups(values: FloatArray, group: np.ndarray) -> FloatArray:
    """Values ``(n,)`` less the mean of their group ``(n,)``."""
    _, of_group = np.unique(group, return_inverse=True)
    return values - (np.bincount(of_group, weights=values) / np.bincount(of_group))[of_group]
