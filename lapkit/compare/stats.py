"""Small statistics: intervals of means and of changes, scatter shared by corners, false discoveries."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import digamma, polygamma, stdtr, stdtrit

from lapkit.path.ridden import DRAWS
from lapkit.path.summary import COVERAGE, Summary, quantile
from lapkit.units import FloatArray

_SPREAD_PER_WIDTH = 0.5 / quantile(DRAWS - 1)

LEAST_SPREAD = 1e-6
"""What seems to be known exactly is known no better than this, in its own unit: so it can be divided by."""

_AS_IF_KNOWN = 1e6  # degrees of freedom; more are as good as a normal deviate


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
    """One standard deviation of what an interval was made from, with the usual number of draws; in its shape and unit."""
    return np.maximum((summary.hi - summary.lo) * _SPREAD_PER_WIDTH, LEAST_SPREAD)


def mean_interval(values: FloatArray) -> MeanInterval:
    """Mean of independent values ``(n,)`` and its 95 % interval by Student's t; n of two or more."""
    n = len(values)
    reach = float(stdtrit(n - 1, 0.5 + 0.5 * COVERAGE) * np.std(values, ddof=1) / np.sqrt(n))
    mean = float(np.mean(values))
    return MeanInterval(mean, mean - reach, mean + reach)


def change_of(size: float, variance: float, free: float, shared_sd: float = 0.0) -> Change:
    """A change of a mean by ``size`` whose variance was estimated with so many degrees of freedom.

    ``shared_sd`` is what all laps of a run have in common beyond their scatter, of the two runs
    together: the position offset, for a change of line. It counts as known, so that the degrees of
    freedom grow with it (Welch and Satterthwaite).
    """
    total = variance + shared_sd**2
    if total == 0.0:
        return Change(size, size, size, 0.0 if size else 1.0)
    free = min(free * (total / variance) ** 2 if variance > 0 else np.inf, _AS_IF_KNOWN)
    sd = float(np.sqrt(total))
    reach = float(stdtrit(free, 0.5 + 0.5 * COVERAGE)) * sd
    return Change(size, size - reach, size + reach, float(2.0 * stdtr(free, -abs(size) / sd)))


def moderated(variance: FloatArray, free: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Variances of like things, each drawn towards what they have in common, and their new freedom.

    True variances are taken as scattered like scaled inverse χ², and how widely is fitted to the estimates
    themselves, by the mean and variance of their logarithms (Smyth 2004, Statistical Applications in
    Genetics and Molecular Biology 3(1), article 3, section 6.2). Where they differ no more than estimates
    of so few laps must, all become one; where they differ widely, each stays nearly what it was.

    Args:
        variance: estimates, ``(n,)``; those of zero stay out of the fit.
        free: degrees of freedom of each, ``(n,)``.

    Returns:
        Variances and degrees of freedom of Student's t that go with them, ``(n,)`` each.
    """
    used = (variance > 0.0) & (free > 0.0)
    if np.count_nonzero(used) < 2:
        return variance, free
    half = 0.5 * free[used]
    log = np.log(variance[used]) - digamma(half) + np.log(half)
    excess = float(np.var(log, ddof=1) - np.mean(polygamma(1, half)))
    middle = float(np.mean(log))
    if excess <= 0.0:
        return np.full_like(variance, np.exp(middle)), np.full_like(free, np.sum(free[used]))
    prior = 2.0 * _trigamma_inverse(excess)
    common = float(np.exp(middle + digamma(0.5 * prior) - np.log(0.5 * prior)))
    drawn = (prior * common + free * variance) / (prior + free)
    return drawn, np.minimum(prior + free, np.sum(free[used]))


def _trigamma_inverse(value: float) -> float:
    """The number whose trigamma function is that; Newton on its reciprocal (Smyth 2004, appendix)."""
    y = 0.5 + 1.0 / value
    for _ in range(50):
        trigamma = float(polygamma(1, y))
        step = trigamma * (1.0 - trigamma / value) / float(polygamma(2, y))
        y += step
        if abs(step) < 1e-9 * y:
            break
    return y


def adjusted(p: FloatArray) -> FloatArray:
    """P values ``(n,)`` raised for how many tests there are: the least rate at which each may be reported.

    As Benjamini and Hochberg (1995) step up; NaN stays NaN and counts as no test.
    """
    raised = np.full(len(p), np.nan)
    known = np.flatnonzero(np.isfinite(p))
    order = known[np.argsort(p[known])]
    each = p[order] * len(order) / np.arange(1, len(order) + 1)
    raised[order] = np.minimum(np.minimum.accumulate(each[::-1])[::-1], 1.0)
    return raised


def discoveries(p: FloatArray, rate: float = 0.05) -> np.ndarray:
    """Which of the tests with p values ``(n,)`` may be reported (Benjamini and Hochberg 1995).

    Of what is reported no more than ``rate`` is false, on average; NaN is never reported.
    """
    return np.nan_to_num(adjusted(p), nan=np.inf) <= rate


def within_groups(values: FloatArray, group: np.ndarray) -> FloatArray:
    """Values ``(n,)`` less the mean of their group ``(n,)``."""
    _, of_group = np.unique(group, return_inverse=True)
    return values - (np.bincount(of_group, weights=values) / np.bincount(of_group))[of_group]
