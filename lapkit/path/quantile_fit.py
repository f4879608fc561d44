"""Quantile regression with a prior, for many weightings of the same values at once."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lapkit.units import FloatArray

_ROUNDS = 15  # of reweighting; more would move a margin by a millimetre at most
_EVEN_M = 0.15  # smaller misfits are weighted alike: the Laplace distribution's own weight is infinite at none
_LEAST_SPREAD_M = 0.01  # no path shows a margin kept more exactly


class Prior(NamedTuple):
    """What is believed of each unknown beforehand: ``mean`` and ``sd``, metres, ``(k,)`` each."""

    mean: FloatArray
    sd: FloatArray


class QuantileFit(NamedTuple):
    """What suits the values best under each weighting.

    ``at_m`` ``(b, k)`` are the unknowns, ``spread_m`` ``(b,)`` the scale of the asymmetric Laplace distribution that values
    have about them, ``weight`` ``(b, n)`` how each value counts, 1/m.
    """

    at_m: FloatArray
    spread_m: FloatArray
    weight: FloatArray

    @classmethod
    def of(
        cls,
        share: float,
        values_m: FloatArray,
        shown: FloatArray,
        counts: FloatArray,
        prior: Prior,
        start_m: FloatArray | None = None,
    ) -> QuantileFit:
        """Fit by reweighted least squares.

        Args:
            share: of the values are to fall short of what is fitted.
            values_m: metres, ``(n,)``.
            shown: how much each value has of each unknown, ``(n, k)``.
            counts: how much each value counts for, one row a weighting, ``(b, n)``.
            prior: of the unknowns.
            start_m: near what is to be found, ``(k,)``: half of the rounds are enough from there.
        """
        unknowns = shown.shape[1]
        pairs = (shown[:, :, None] * shown[:, None, :]).reshape(len(shown), -1)
        believed = prior.sd**-2
        start, rounds = (prior.mean, _ROUNDS) if start_m is None else (start_m, _ROUNDS // 2)
        at = np.tile(start, (len(counts), 1))
        for _ in range(rounds):
            misfit = values_m - at @ shown.T
            pull = np.where(misfit > 0.0, share, 1.0 - share)
            size = np.abs(misfit)
            spread = np.sum(counts * pull * size, axis=1) / counts.sum(axis=1)
            spread = np.maximum(spread, _LEAST_SPREAD_M)
            weight = counts * pull / np.maximum(size, _EVEN_M)
            told = weight / spread[:, None]
            square = (told @ pairs).reshape(-1, unknowns, unknowns) + np.diag(believed)
            right = (told * values_m) @ shown + believed * prior.mean
            at = np.linalg.solve(square, right[:, :, None])[:, :, 0]
        return cls(at, spread, weight)
