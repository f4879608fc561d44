"""Where a rider used all of the road: how near to its edges he came shows where the receiver's offset stood.

A machine on its wheels is between the edges, and a rider who uses the road comes near them again and again, on both
sides and heading every way. How near is his habit: some ride on the kerb, some keep a metre and more. So on each side
he has an unknown margin, defined as what a quarter of his nearest approaches fall short of. An offset makes him seem
nearer to one edge and further from the other, and on the rider's left and right it changes with the heading; a margin
does not. That keeps the two apart.

Approaches are taken to lie about the margin in an asymmetric Laplace distribution, which makes this a quantile
regression (Koenker and Bassett 1978, Econometrica 46, p. 33; Yu and Moyeed 2001, Statistics & Probability Letters 54,
p. 437; memory): an approach that stays far from an edge, or leaves the road, has no more influence than any other. How sure
that makes the offset is shown by how far parts of the course agree on it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import hadamard

from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.offset_process import PRIOR_SD_M
from lapkit.path.offset_sight import Common, Readings, Sight
from lapkit.path.quantile_fit import Prior, QuantileFit
from lapkit.path.tyre_track import TyreTrack
from lapkit.units import FloatArray

_PLACE_M = 100.0  # of course, in which a rider comes to an edge and leaves it again (our choice)
_FEWEST_PLACES = 8  # on a short course
# From the reference: half a wide track, run-off and a receiver's offset (our choice).
_ON_COURSE_M = 20.0
_USED_M = 2.5  # further within an edge he was not using it
_OUTSIDE_M = 3.0  # further beyond it he had left the road, by more than an offset explains
_SHORT = 0.25  # share of the approaches that fall short of the margin, q
# Prior of the margins: from nothing to a metre and a half (our choice).
_MARGIN_M, _MARGIN_SD_M = 0.6, 0.5
# To either side of the margin, within which approaches are counted for their density.
_ABOUT_M = 0.25
_FEWEST = 6  # approaches; from fewer no margin can be found
# Parts of the course that are compared: as many as sixteen half-samples balance. In each half-sample a part's count is
# raised or lowered by this share: a tenth of it stays, so that no half-sample lacks a side of the road (our choice).
_STRETCHES = 15
_MORE_OR_LESS = 0.9


@dataclass(frozen=True, eq=False)
class Approaches:
    """The nearest that he seemed to come to each edge on each pass of each place; arrays over ``n`` of them.

    Attributes:
        time_s: when.
        left: unit vectors to the left of the reference, ``(n, 2)``.
        side: 1 at the left edge, −1 at the right.
        place: number of the place and edge.
        clear_m: how far within the edge he seemed to be, metres.
    """

    time_s: FloatArray
    left: FloatArray
    side: FloatArray
    place: np.ndarray
    clear_m: FloatArray

    @classmethod
    def of(cls, track: TyreTrack) -> Approaches | None:
        """Those of a ride; None without edges, and where it was nowhere near the course."""
        line, offset_m = track.course.reference, track.offset_m
        edges = track.course.edges_at(line.wrap(track.station_m))
        near = np.abs(offset_m) < _ON_COURSE_M
        if edges is None or not np.any(near):
            return None
        count = max(int(line.length_m // _PLACE_M), _FEWEST_PLACES)
        place = np.floor(track.station_m * (count / line.length_m)).astype(np.int64)
        sides = []
        for side, clear in ((1.0, edges[0] - offset_m), (-1.0, offset_m - edges[1])):
            ranked = np.lexsort((clear, place))
            ranked = ranked[near[ranked]]
            first = ranked[np.concatenate([[True], np.diff(place[ranked]) != 0])]
            first = first[_nearest(clear[first], place[first])]
            number = 2 * (place[first] % count) + (side > 0)
            ones = np.full(len(first), side)
            sides.append((track.time_s[first], track.left[first], ones, number, clear[first]))
        return cls(*(np.concatenate(both) for both in zip(*sides, strict=True)))

    def sights(self, knots: OffsetKnots, offset: FloatArray, turn: int) -> list[Sight]:
        """Sights of the offset; none from too few approaches.

        Args:
            knots: of the offset.
            offset: what is believed of it so far, metres, ``(2, knots)``.
            turn: number of the round, from 0. In the first ones, when the offset is hardly known, approaches
                further from an edge take part.
        """
        moved = np.einsum("wn,nw->n", knots.between(offset, self.time_s), self.left)
        clear = self.clear_m + self.side * moved
        wider = _USED_M * max(1.0 - 0.5 * turn, 0.0)
        near = (clear < _USED_M + wider) & (clear > -_OUTSIDE_M - wider)
        if np.count_nonzero(near) < _FEWEST:
            return []
        clear, side = clear[near], self.side[near]
        own = np.stack([side > 0.0, side < 0.0], axis=1).astype(np.float64)
        counts = _counts(clear, self.place[near])
        fit = _margins(clear, own, counts)
        precision = _precision(clear, own, counts, fit, settled=turn > 1)
        if turn > 1:
            shown = np.concatenate([-side[:, None] * self.left[near], own], axis=1)
            place = self.place[near] // 2
            precision /= _doubt(clear, shown, counts, precision, place, fit.at_m[0])
        # Readings of a sight are all equally sure: each is multiplied by the root of its precision.
        root = np.sqrt(precision)[:, None]
        value = side * (_MARGIN_M - self.clear_m[near])
        readings = Readings(self.time_s[near], self.left[near] * root, value * root[:, 0])
        margins = Common(_MARGIN_SD_M, side[:, None] * own * root)
        return [Sight.of(knots, readings, 1.0, common=margins)]


def _nearest(clear_m: FloatArray, place: np.ndarray) -> np.ndarray:
    """Which places, in the order they were ridden, the rider was nearer to the edge at than just before and just after.

    The others are the way there and back, and a straight along an edge is one approach, however long.
    """
    follows = np.diff(place) == 1
    sooner, later = clear_m[:-1] <= clear_m[1:], clear_m[1:] < clear_m[:-1]
    nearest = np.ones(len(clear_m), dtype=bool)
    nearest[:-1] &= sooner | ~follows
    nearest[1:] &= later | ~follows
    return nearest


def _counts(clear_m: FloatArray, place: np.ndarray) -> FloatArray:
    """How much each approach counts for, ``(n,)``: what keeps a rider off an edge at a place does so on every lap.

    One over Kish's design effect (1965, Survey Sampling; memory): of n approaches at a place that have a share ρ of
    their variance in common each counts for 1 / (1 + (n − 1) ρ), with ρ by analysis of variance.
    """
    _, slot, laps = np.unique(place, return_inverse=True, return_counts=True)
    n, places = len(clear_m), len(laps)
    if places == n or places == 1:
        return 1.0 / laps[slot]
    mean = np.bincount(slot, clear_m) / laps
    within = float(np.sum(np.square(clear_m - mean[slot]))) / (n - places)
    between = float(laps @ np.square(mean - clear_m.mean())) / (places - 1)
    usual = (n - float(laps @ laps) / n) / (places - 1)
    common = np.clip((between - within) / (between + (usual - 1.0) * within), 0.0, 1.0)
    return np.asarray(1.0 / (1.0 + (laps[slot] - 1.0) * common), dtype=np.float64)


def _margins(clear_m: FloatArray, own: FloatArray, counts: FloatArray) -> QuantileFit:
    """The likeliest margins left and right; arguments as of :func:`_precision`."""
    believed = Prior(np.full(2, _MARGIN_M), np.full(2, _MARGIN_SD_M))
    return QuantileFit.of(_SHORT, clear_m, own, counts[None], believed)


def _precision(
    clear_m: FloatArray, own: FloatArray, counts: FloatArray, fit: QuantileFit, *, settled: bool
) -> FloatArray:
    """The precision of each approach, 1/m², ``(n,)``, at the likeliest margins.

    Each is weighted as the quantile asks for, and all together are as precise as a sample quantile is: the square of
    their density at the margin, over q (1 − q), for each approach.

    Args:
        clear_m: how far within the edge he was, metres, ``(n,)``.
        own: 1 at the side of each, left and right, else 0, ``(n, 2)``.
        counts: how much each counts for, ``(n,)``.
        fit: of the margins (:func:`_margins`).
        settled: whether the offset is known well enough to count approaches about the margin; until then their
            density is taken from their spread.
    """
    (margin,), (spread,), (weight,) = fit
    even = _SHORT * (1.0 - _SHORT)
    dense = even / spread
    if settled:
        about = counts @ (np.abs(clear_m - own @ margin) < _ABOUT_M) / counts.sum()
        # No denser than their spread says, and not silenced where few happen to lie about the margin.
        dense = float(np.clip(about / (2.0 * _ABOUT_M), 0.5 * dense, dense))
    return weight * (dense**2 / even * counts.sum() / weight.sum())


def _doubt(
    clear_m: FloatArray,
    shown: FloatArray,
    counts: FloatArray,
    precision: FloatArray,
    place: np.ndarray,
    margins_m: FloatArray,
) -> float:
    """Variance of the offset as parts of the course disagree on it, over what ``precision`` makes it.

    The precisions come from how widely margins scatter, whatever their order along the course. They miss that he uses the
    road differently in one part of it than in another (the offset is less sure), and that he keeps one margin to the
    millimetre (it is surer). So parts of the course are given more and less weight in turns, any two of them the same way
    as often as not (balanced half-samples: McCarthy 1969, Review of the International Statistical Institute 37, p. 239,
    with Fay's weights; memory); the offset found with each such weighting scatters as its own error does.

    Args:
        clear_m: how far within the edge he was, metres, ``(n,)``.
        shown: how much each approach has of the offset east and north, and of the margin left and right, ``(n, 4)``.
        counts: how much each counts for, ``(n,)``.
        precision: of each, 1/m², ``(n,)``.
        place: the number of its place along the course, ``(n,)``.
        margins_m: left and right, as found at the offset believed so far.
    """
    sd_m = np.array([PRIOR_SD_M, PRIOR_SD_M, _MARGIN_SD_M, _MARGIN_SD_M])
    believed = Prior(np.array([0.0, 0.0, _MARGIN_M, _MARGIN_M]), sd_m)
    stretch = place * _STRETCHES // (place.max() + 1)
    # The first column of the matrix is all ones and balances nothing.
    sign = hadamard(_STRETCHES + 1, dtype=np.float64)[:, 1 + stretch]
    halves = np.concatenate([counts[None], counts * (1.0 + _MORE_OR_LESS * sign)])
    start = np.concatenate([np.zeros(2), margins_m])
    offset = QuantileFit.of(_SHORT, clear_m, shown, halves, believed, start).at_m[:, :2]
    away = (offset[1:] - offset[0]) / _MORE_OR_LESS
    told = (shown * precision[:, None]).T @ shown
    covariance = np.linalg.inv(told + np.diag(sd_m**-2))
    scale = np.linalg.inv(covariance[:2, :2])
    # Two where the approaches determine both components, less where the prior does.
    expected = np.trace(scale @ (covariance @ told @ covariance)[:2, :2])
    moved = np.mean(np.sum(away @ scale * away, axis=1))
    # Four unknowns are fitted: so many stretches' worth of disagreement cannot show, and is taken as the precisions have it.
    return float(moved / expected + shown.shape[1] / len(np.unique(stretch)))
