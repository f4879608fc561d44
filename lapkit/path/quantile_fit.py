"""Quantile regression with a prior, under many weightings of the same values at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray

_ROUNDS = 15  # of reweighting; more would move a margin by a millimetre at most
# Smaller misfits are weighted alike: the Laplace distribution's own weight is infinite at a misfit of zero.
_EVEN_M = 0.15
_LEAST_SPREAD_M = 0.01  # no path shows that a margin is kept more exactly


class Prior(NamedTuple):
    """Normal prior of each unknown: ``mean`` and ``sd``, metres, ``(k,)`` each."""

    mean: FloatArray
    sd: FloatArray


class QuantileFit(NamedTuple):
    """The most probable unknowns under each of ``b`` weightings.

    ``at_m`` ``(b, k)`` are the unknowns, ``spread_m`` ``(b,)`` the scale of the asymmetric Laplace distribution of the
    values about them, ``weight`` ``(b, n)`` the weight of each value in the last round, 1/m.
    """

    at_m: FloatArray
    spread_m: FloatArray
    weight: FloatArray


@dataclass(frozen=True, eq=False)
class QuantileRegression:
    """Unknowns to be found from values of which a certain share falls short of what the unknowns make of them.

    The values are taken to follow an asymmetric Laplace distribution, which makes the likeliest unknowns those of quantile
    regression (Yu and Moyeed 2001, Statistics & Probability Letters 54, p. 437; memory).

    Attributes:
        share: of the values that fall short, 0 to 1.
        values_m: metres, ``(n,)``.
        design: coefficient of each unknown in each value, ``(n, k)``.
        prior: of the unknowns.
    """

    share: float
    values_m: FloatArray
    design: FloatArray
    prior: Prior

    def fit(self, counts: FloatArray, start_m: FloatArray | None = None) -> QuantileFit:
        """Fit by reweighted least squares.

        Args:
            counts: how much each value counts for, one row for each weighting, ``(b, n)``.
            start_m: unknowns near those that are to be found, ``(k,)``; from there half of the rounds are enough.
        """
        unknowns = self.design.shape[1]
        pairs = (self.design[:, :, None] * self.design[:, None, :]).reshape(len(self.design), -1)
        believed = self.prior.sd**-2
        prior_square, prior_right = np.diag(believed), believed * self.prior.mean
        total = counts.sum(axis=1)
        start, rounds = (self.prior.mean, _ROUNDS) if start_m is None else (start_m, _ROUNDS // 2)
        at = np.tile(start, (len(counts), 1))
        for _ in range(rounds):
            misfit = self.values_m - at @ self.design.T
            pull = np.where(misfit > 0.0, self.share, 1.0 - self.share)
            size = np.abs(misfit)
            spread = np.sum(counts * pull * size, axis=1) / total
            spread = np.maximum(spread, _LEAST_SPREAD_M)
            weight = counts * pull / np.maximum(size, _EVEN_M)
            precision = weight / spread[:, None]
            square = (precision @ pairs).reshape(-1, unknowns, unknowns) + prior_square
            right = (precision * self.values_m) @ self.design + prior_right
            at = np.linalg.solve(square, right[:, :, None])[:, :, 0]
        return QuantileFit(at, spread, weight)
