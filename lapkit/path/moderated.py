"""Variances that are each known from few values, moderated by what they have in common."""

from __future__ import annotations

import numpy as np
from scipy.special import digamma, polygamma

from lapkit.arrays import FloatArray


def moderated(variance: FloatArray, free: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Variances of comparable measurements, each shrunk towards what they have in common, and new degrees of freedom.

    The true variances are taken to follow a scaled inverse χ² distribution, which is fitted to the mean and variance of the
    logarithms of the estimates (Smyth 2004, Statistical Applications in Genetics and Molecular Biology 3(1), article 3,
    section 6.2). Where the estimates differ no more than estimates from few laps always do, they all become
    one; where they differ widely, each stays nearly what it was.

    Args:
        variance: estimates, ``(n,)``; variances of zero are left out of the fit.
        free: degrees of freedom of each, ``(n,)``.

    Returns:
        The variances, and the degrees of freedom of Student's t that go with them, ``(n,)`` each.
    """
    used = (variance > 0.0) & (free > 0.0)
    if np.count_nonzero(used) < 2:
        return variance, free
    half = 0.5 * free[used]
    log = np.log(variance[used]) - digamma(half) + np.log(half)
    excess = float(np.var(log, ddof=1) - np.mean(polygamma(1, half)))
    mean_log = float(np.mean(log))
    if excess <= 0.0:
        return np.full_like(variance, np.exp(mean_log)), np.full_like(free, np.sum(free[used]))
    prior_free = 2.0 * _trigamma_inverse(excess)
    prior = float(np.exp(mean_log + digamma(0.5 * prior_free) - np.log(0.5 * prior_free)))
    shrunk = (prior_free * prior + free * variance) / (prior_free + free)
    return shrunk, np.minimum(prior_free + free, np.sum(free[used]))


def _trigamma_inverse(value: float) -> float:
    """The number whose trigamma function has this value; Newton's method on the reciprocal (Smyth 2004, appendix)."""
    y = 0.5 + 1.0 / value
    for _ in range(50):
        trigamma = float(polygamma(1, y))
        step = trigamma * (1.0 - trigamma / value) / float(polygamma(2, y))
        y += step
        if abs(step) < 1e-9 * y:
            break
    return y
