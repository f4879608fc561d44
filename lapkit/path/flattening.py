"""What smoothing takes off a ride, and how much of it is in doubt.

A prior draws every quick change of direction flatter than it was ridden. How rough it lets a ride be is learnt from the same
log, which shows least where the ride was quickest, so that the posterior knows too little of what it lacks there.
"""

from __future__ import annotations

import numpy as np
from scipy.linalg import cho_solve_banded
from scipy.linalg.blas import dsbmv

from lapkit.path.model import Solution
from lapkit.path.unknowns import path_coefficients
from lapkit.units import FloatArray


def flattened(solution: Solution, smooth: FloatArray) -> FloatArray:
    """What smoothing would take off the estimate if that were the ride, spline coefficients ``(coefficients, 2)``.

    With P the prior's precision and A the posterior's, an estimate m that is observed without noise or wander comes out
    as m - A⁻¹Pm. Tukey's twicing adds that difference (Exploratory Data Analysis, 1977, chapter 16; memory).

    Args:
        solution: the posterior.
        smooth: the path's prior precision that it was found under, an upper band (:func:`~lapkit.path.unknowns.columns`).
    """
    pull = dsbmv(len(smooth) - 1, 1.0, smooth, solution.mean)
    once_more = cho_solve_banded((solution.factor, False), pull, check_finite=False)
    return path_coefficients(solution.knots, once_more)


def in_doubt(flattened: FloatArray, count: int, seed: int) -> FloatArray:
    """What each draw has of it, ``(coefficients, 2, count)``: none on average, one standard deviation all of it."""
    share = np.random.default_rng(seed).standard_normal(count)
    share -= np.sum(share) / max(count, 1)
    return flattened[..., None] * share
