"""How near a rider keeps to the edges of the road, and how precisely that shows the receiver's offset.

On each side a rider has an unknown margin, defined as what a quarter of his nearest approaches fall short of. Approaches
are taken to lie about the margin in an asymmetric Laplace distribution, which makes this a quantile regression (Koenker
and Bassett 1978, Econometrica 46, p. 33; memory): an approach that stays far from an edge, or leaves the road, has no
more influence than any other. How well parts of the course agree on the offset shows how certain it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.linalg import hadamard

from lapkit.arrays import FloatArray
from lapkit.path.offset_process import PRIOR_SD_M
from lapkit.path.quantile_fit import Prior, QuantileFit, QuantileRegression

MARGIN_M, MARGIN_SD_M = 0.6, 0.5
"""Prior mean and standard deviation of a margin, metres: from nothing to a metre and a half (our choice)."""

_SHORT = 0.25  # share of the approaches that fall short of the margin, q
# Approaches this close to the margin, on either side, are counted for their density.
_ABOUT_M = 0.25
# Parts of the course that are compared: sixteen half-samples can balance no more. In each half-sample a part's count is
# raised or lowered by this share: a tenth of it stays, so that no half-sample lacks a side of the road (our choice).
_STRETCHES = 15
_MORE_OR_LESS = 0.9


@dataclass(frozen=True, eq=False)
class NearEdges:
    """Approaches near an edge, as they appear under the offset found so far; arrays over ``n`` of them.

    Attributes:
        clear_m: how far within the edge he was, metres.
        left: unit vectors to the left of the reference, ``(n, 2)``.
        side: 1 at the left edge, −1 at the right.
        place: number of the place along the course.
    """

    clear_m: FloatArray
    left: FloatArray
    side: FloatArray
    place: np.ndarray

    @cached_property
    def at_side(self) -> FloatArray:
        """1 in the column of each approach's side, left and right, else 0, ``(n, 2)``."""
        return np.stack([self.side > 0.0, self.side < 0.0], axis=1).astype(np.float64)

    @cached_property
    def counts(self) -> FloatArray:
        """How many independent approaches each one counts for, ``(n,)``."""
        return effective_counts(self.clear_m, 2 * self.place + (self.side > 0))

    def margins(self) -> QuantileFit:
        """The likeliest margins left and right, under one weighting."""
        prior = Prior(np.full(2, MARGIN_M), np.full(2, MARGIN_SD_M))
        regression = QuantileRegression(_SHORT, self.clear_m, self.at_side, prior)
        return regression.fit(self.counts[None])

    def precision(self, margins: QuantileFit, *, settled: bool) -> FloatArray:
        """The precision of each approach, 1/m², ``(n,)``, at the likeliest margins.

        Each is weighted as the quantile regression weights it, and together they are as precise as a sample quantile:
        the square of their density at the margin, over q (1 − q), for each approach.

        Args:
            margins: from :meth:`margins`.
            settled: whether the offset is known well enough to count approaches about the margin; until then their
                density is taken from their spread.
        """
        (margin,), (spread,), (weight,) = margins
        even = _SHORT * (1.0 - _SHORT)
        dense = even / spread
        if settled:
            near = np.abs(self.clear_m - self.at_side @ margin) < _ABOUT_M
            share = self.counts @ near / self.counts.sum()
            # At most what their spread says, and at least half of it, as few may happen to lie about the margin.
            dense = float(np.clip(share / (2.0 * _ABOUT_M), 0.5 * dense, dense))
        return weight * (dense**2 / even * self.counts.sum() / weight.sum())

    def disagreement(self, margins: QuantileFit, precision: FloatArray) -> float:
        """Variance of the offset by how parts of the course disagree on it, over the one that ``precision`` gives.

        The precisions come from how widely approaches scatter about the margins, whatever their order along the course.
        So they miss two things: that he uses the road differently in one part of the course than in another (the offset
        is less certain), and that he keeps one margin to the millimetre (it is more certain). Therefore the offset is
        found repeatedly with some parts of the course weighted more and the others less, any two of them alike in half of
        the trials (balanced half-samples: McCarthy 1969, Review of the International Statistical Institute 37, p. 239,
        with Fay's weights; memory). The offsets found in these trials scatter as the offset's own error does.

        Args:
            margins: from :meth:`margins`.
            precision: from :meth:`precision`.
        """
        design = np.concatenate([-self.side[:, None] * self.left, self.at_side], axis=1)
        sd_m = np.array([PRIOR_SD_M, PRIOR_SD_M, MARGIN_SD_M, MARGIN_SD_M])
        prior = Prior(np.array([0.0, 0.0, MARGIN_M, MARGIN_M]), sd_m)
        stretch = self.place * _STRETCHES // (self.place.max() + 1)
        # The first column of the matrix is all ones and balances nothing.
        sign = hadamard(_STRETCHES + 1, dtype=np.float64)[:, 1 + stretch]
        halves = self.counts * (1.0 + _MORE_OR_LESS * sign)
        regression = QuantileRegression(_SHORT, self.clear_m, design, prior)
        start_m = np.concatenate([np.zeros(2), margins.at_m[0]])
        whole, *each = regression.fit(np.concatenate([self.counts[None], halves]), start_m).at_m
        away = (np.array(each)[:, :2] - whole[:2]) / _MORE_OR_LESS
        square = (design * precision[:, None]).T @ design
        covariance = np.linalg.inv(square + np.diag(sd_m**-2))
        scale = np.linalg.inv(covariance[:2, :2])
        # Two where the approaches determine both components, less where the prior does.
        expected = np.trace(scale @ (covariance @ square @ covariance)[:2, :2])
        moved = np.mean(np.sum(away @ scale * away, axis=1))
        # Four unknowns are fitted, which hides the disagreement of as many stretches: theirs is taken from the precisions.
        return float(moved / expected + design.shape[1] / len(np.unique(stretch)))


def effective_counts(clear_m: FloatArray, place: np.ndarray) -> FloatArray:
    """How many independent approaches each one counts for, ``(n,)``.

    What keeps a rider off an edge at a place does so on every lap. One over Kish's design effect (1965, Survey Sampling;
    memory): of n approaches at a place that have a share ρ of their variance in common each counts for
    1 / (1 + (n − 1) ρ), with ρ by analysis of variance.

    Args:
        clear_m: how far within the edge, metres, ``(n,)``.
        place: number of the place and edge, ``(n,)``.
    """
    _, slot, laps = np.unique(place, return_inverse=True, return_counts=True)
    n, places = len(clear_m), len(laps)
    if places == n or places == 1:
        return 1.0 / laps[slot]
    mean = np.bincount(slot, clear_m) / laps
    within = float(np.sum(np.square(clear_m - mean[slot]))) / (n - places)
    between = float(laps @ np.square(mean - clear_m.mean())) / (places - 1)
    usual = (n - float(laps @ laps) / n) / (places - 1)
    total = between + (usual - 1.0) * within
    if total == 0.0:  # all approaches are exactly as near
        return 1.0 / laps[slot]
    common = np.clip((between - within) / total, 0.0, 1.0)
    return np.asarray(1.0 / (1.0 + (laps[slot] - 1.0) * common), dtype=np.float64)
