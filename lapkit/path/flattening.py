"""What smoothing takes off a ride, as an uncertainty of its own.

Under a smooth prior every quick change of direction is estimated flatter than it was ridden. How rough a ride the prior
allows is learnt from the same log, which shows least where the ride was quickest. So the posterior's own spread is too
small for what it lacks there.
"""

from __future__ import annotations

import numpy as np
from scipy.linalg import cho_solve_banded
from scipy.linalg.blas import dsbmv

from lapkit.arrays import FloatArray
from lapkit.path.model import Solution
from lapkit.path.unknowns import path_coefficients


def flattened(solution: Solution, prior: FloatArray, right: FloatArray | None = None) -> FloatArray:
    """What smoothing would take off the estimate if that were the ride, spline coefficients ``(coefficients, 2)``.

    With P the prior's precision, r its right side and A the posterior's precision, an estimate m that is observed
    without noise or wander comes out as m - A⁻¹(Pm - r). Tukey's twicing adds that difference (Exploratory Data
    Analysis, 1977, chapter 16; memory).

    Args:
        solution: the posterior.
        prior: the path's prior precision that it was found under, an upper band (:func:`~lapkit.path.unknowns.columns`).
        right: the right side of that prior, ``(unknowns,)``; None for none.
    """
    pull = dsbmv(len(prior) - 1, 1.0, prior, solution.mean)
    if right is not None:
        pull -= right
    once_more = cho_solve_banded((solution.factor, False), pull, check_finite=False)
    return path_coefficients(solution.knots, once_more)


def shares(doubts: int, draws: int, seed: int) -> FloatArray:
    """Which share of each doubt every draw adds, ``(doubts, draws)``: normal, of mean 0 and standard deviation 1."""
    share = np.random.default_rng(seed).standard_normal((doubts, draws))
    return share - np.sum(share, axis=1, keepdims=True) / max(draws, 1)
