"""A sparse convex quadratic programme, solved by an interior point.

Minimise ½ xᵀHx + cᵀx subject to lower ≤ Bx ≤ upper by Mehrotra's predictor–corrector: S. Mehrotra,
"On the implementation of a primal-dual interior point method", SIAM Journal on Optimization 2
(1992) 575–601 (attribution from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import splu

from lapkit.arrays import FloatArray

_MAX_ROUNDS = 60  # it takes 12 to 20
_SHORT_OF_WALL = 0.99  # share of the step to the nearest bound, to stay interior (Mehrotra 1992)
_FIRST_SLACK = 0.1  # where the start violates a bound
# Limit of the mean product of slack and multiplier, in the objective's unit, and of the other conditions of
# optimality, relative to the largest multiplier.
_TOLERANCE = 1e-6


@dataclass(frozen=True, eq=False)
class Quadratic:
    """½ xᵀHx + cᵀx within bounds on rows of x.

    ``hessian`` H ``(n, n)`` is positive semidefinite, ``linear`` c is ``(n,)``, ``rows`` B ``(m, n)``, ``lower`` and
    ``upper`` are ``(m,)``. Bounds may be infinite. A row needs room between its two bounds, because an equality has no
    interior.
    """

    hessian: sp.csr_array
    linear: FloatArray
    rows: sp.csr_array
    lower: FloatArray
    upper: FloatArray


def minimise(problem: Quadratic, start: FloatArray) -> FloatArray:
    """The minimiser, shape ``(n,)``; the start, shape ``(n,)``, need not keep the bounds."""
    below, above = np.isfinite(problem.lower), np.isfinite(problem.upper)
    G = sp.vstack([-problem.rows[below], problem.rows[above]]).tocsr()
    Gt = G.T.tocsr()
    weighed = _Weighed.of(problem.rows)
    h = np.concatenate([-problem.lower[below], problem.upper[above]])
    x = np.array(start)
    slack, dual = np.maximum(h - G @ x, _FIRST_SLACK), np.ones(len(h))
    for _ in range(_MAX_ROUNDS):
        downhill = -(problem.hessian @ x + problem.linear + Gt @ dual)
        short = h - G @ x - slack
        gap = float(slack @ dual) / len(h)
        unmet = max(np.abs(downhill).max() / (1.0 + dual.max()), np.abs(short).max())
        if gap < _TOLERANCE and unmet < _TOLERANCE:
            break
        weight = dual / slack
        # Nearly every row has two bounds: their weights are added first, so that it is multiplied once.
        of_rows = np.zeros(len(below))
        of_rows[below] += weight[: np.count_nonzero(below)]
        of_rows[above] += weight[np.count_nonzero(below) :]
        solve = _solver(problem.hessian + weighed.squares(of_rows))
        ds, dz = np.zeros(len(h)), np.zeros(len(h))
        target = 0.0
        # The first pass predicts how far the gap can close, the second corrects for curvature.
        for last in (False, True):
            product = slack * dual + ds * dz - target
            dx = solve(downhill + Gt @ (weight * short + product / slack))
            ds = short - G @ dx
            dz = -product / slack - weight * ds
            reach = min(_reach(slack, ds), _reach(dual, dz))
            if not last:
                after = float((slack + reach * ds) @ (dual + reach * dz)) / len(h)
                target = gap * (after / gap) ** 3
        reach *= _SHORT_OF_WALL
        x, slack, dual = x + reach * dx, slack + reach * ds, dual + reach * dz
    return x


@dataclass(frozen=True, eq=False)
class _Weighed:
    """A matrix B ``(m, n)``, its transpose, and the row index of each of its stored values."""

    rows: sp.csr_array
    transposed: sp.csr_array
    row: np.ndarray

    @classmethod
    def of(cls, rows: sp.csr_array) -> _Weighed:
        return cls(rows, rows.T.tocsr(), np.repeat(np.arange(rows.shape[0]), np.diff(rows.indptr)))

    def squares(self, weight: FloatArray) -> sp.csr_array:
        """Bᵀ diag(w) B for weights w ``(m,)``."""
        rows = self.rows
        times = sp.csr_array((rows.data * weight[self.row], rows.indices, rows.indptr), rows.shape)
        return self.transposed @ times


def _solver(matrix: sp.csr_array) -> Callable[[FloatArray], FloatArray]:
    """The function that solves a system with a symmetric positive definite matrix.

    The unknowns lie along a line, each coupled with its neighbours. Elimination in that order takes half the time of
    searching for a better order and for pivots first.
    """
    return splu(
        matrix.tocsc(),
        permc_spec="NATURAL",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    ).solve


def _reach(values: FloatArray, change: FloatArray) -> float:
    """Largest part of the step, at most all of it, that keeps every value positive."""
    falling = change < 0
    if not falling.any():
        return 1.0
    return float(min(1.0, np.min(-values[falling] / change[falling])))
