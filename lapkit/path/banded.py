"""The normal equations of a whole log, banded.

An observation depends on the six path coefficients and the two knots of wander of its interval, so the matrix of
the unknowns (:mod:`~lapkit.path.unknowns`) is banded. Within an interval everything observed is a polynomial in the
place of the fix, u from 0 to 1. What a fix adds to the matrix is therefore a fixed combination of powers of u, and the
fixes enter only through sums of those powers over each interval (:mod:`~lapkit.path.places`). That is a tenth of the
work of adding fix by fix.

Couplings are stored by how far apart two unknowns are. Row r of the path's, ``(6, coefficients)``, holds the couplings
of each coefficient with the one 5 − r before it. Row r of ``beside``, ``(2 reach + 1, groups)``, holds those of each
knot of wander with the coefficient r − reach after its own. The pairs of axes (:data:`~lapkit.path.unknowns.AXES`) lead.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.path.places import Places
from lapkit.path.spline import SUPPORT, Knots, penalty_block
from lapkit.path.unknowns import AXES, Groups, add_wander, columns, in_order

_FARTHEST = SUPPORT - 1  # how far apart two coefficients of one interval are at most


@dataclass(frozen=True, eq=False)
class Gram:
    """Normal equations of one kind of observation at unit noise.

    Attributes:
        band: the matrix as an upper band, ``(rows, unknowns)`` (:func:`~lapkit.path.unknowns.columns`).
        right: the right side, ``(unknowns,)``.
        square: weighted sum of squares of the data.
        count: number of scalar observations.
    """

    band: FloatArray
    right: FloatArray
    square: float
    count: float


@dataclass(frozen=True, eq=False)
class Linear:
    """Observations linear in the unknowns; arrays over ``n`` fixes in time order.

    Observed east and north is a derivative of the path, plus ``pull`` times the component along ``left`` of the
    derivative two orders higher, plus, for positions, the wander.

    Attributes:
        places: where the fixes lie between the knots.
        order: of the derivative: 0 for positions, 1 for velocities.
        data: observed east and north, ``(2, n)``.
        weight: factor of each fix's precision, ``(n,)``; 0 leaves a fix out.
        pull: factor of the higher derivative, ``(n,)``: what lean adds to an antenna above the centre of mass.
        left: unit vectors, ``(2, n)``.
    """

    places: Places
    order: int
    data: FloatArray
    weight: FloatArray
    pull: FloatArray
    left: FloatArray


class _Term(NamedTuple):
    """The coupling of two of an interval's unknowns, as a polynomial in u.

    That of interval i is stored in row ``row`` of the couplings, at column ``knot`` + i.
    """

    row: int
    knot: int
    polynomial: FloatArray


def _of_path(products: FloatArray) -> list[_Term]:
    """The couplings among the path's coefficients, from products of their polynomials, ``(6, 6, p)``, symmetric."""
    return [
        _Term(_FARTHEST - (m - k), m, products[k, m]) for m in range(SUPPORT) for k in range(m + 1)
    ]


def _of_wander(groups: Groups, phase: int, path: FloatArray) -> list[_Term]:
    """The couplings of path and wander in the intervals of a phase, from the path's polynomials ``(6, p)``."""
    products = _product(path, groups.shares(phase))
    first = groups.intervals(phase)[1]
    return [
        _Term(phase + k + groups.every * (1 - after), first + after, products[k, after])
        for after in (0, 1)
        for k in range(SUPPORT)
    ]


class _Terms(NamedTuple):
    """Several terms: their polynomials as one matrix, ``(terms, powers)``, with the row and the knot of each."""

    matrix: FloatArray
    rows: tuple[tuple[int, int], ...]

    @classmethod
    def of(cls, terms: list[_Term], powers: int) -> _Terms:
        matrix = np.zeros((len(terms), powers))
        for line, term in zip(matrix, terms, strict=True):
            line[: len(term.polynomial)] = term.polynomial
        return cls(matrix, tuple((term.row, term.knot) for term in terms))

    def add(self, couplings: FloatArray, sums: FloatArray) -> None:
        """Add the terms, for sums of powers ``(powers, intervals)``, to couplings."""
        for (row, knot), values in zip(self.rows, self.matrix @ sums, strict=True):
            couplings[row, knot : knot + len(values)] += values

    def band(self, knots: Knots, sums: FloatArray) -> FloatArray:
        """The same as an upper band ``(6, coefficients)`` of one axis of the path alone."""
        band = np.zeros((SUPPORT, knots.coefficients))
        self.add(band, sums)
        return band


class _TermsWithWander(NamedTuple):
    """The terms that one kind of product makes: of the path with itself and, phase by phase, of the path with the wander."""

    path: _Terms
    beside: tuple[tuple[slice, _Terms], ...]

    @classmethod
    def of(
        cls, knots: Knots, order: int, products: FloatArray, path: FloatArray
    ) -> _TermsWithWander:
        """From products of the path's polynomials, and from the polynomials ``path`` that are observed with the wander."""
        groups, powers = Groups.of(knots), products.shape[2]
        beside = [
            (groups.intervals(phase)[0], _Terms.of(_of_wander(groups, phase, path), powers))
            for phase in range(groups.every if order == 0 else 0)
        ]
        return cls(_Terms.of(_of_path(products), powers), tuple(beside))

    def add(self, couplings: FloatArray, beside: FloatArray, sums: FloatArray) -> None:
        """Add the couplings for sums of powers to those of the path and to those with the wander."""
        self.path.add(couplings, sums)
        for intervals, with_wander in self.beside:
            with_wander.add(beside, sums[:, intervals])


@lru_cache(maxsize=8)
def _plain(knots: Knots, order: int) -> _TermsWithWander:
    """What observing a derivative of the path contributes; with order 0, of path and wander together."""
    plain = knots.pieces(order)
    return _TermsWithWander.of(knots, order, _product(plain, plain), plain)


@lru_cache(maxsize=8)
def _lift(knots: Knots, order: int) -> tuple[_TermsWithWander, int]:
    """What the pull contributes: powers of u that go with the pull, then those that go with its square.

    The number says how many belong to the former.
    """
    plain, lifted = knots.pieces(order), knots.pieces(order + 2)
    mixed = _product(plain, lifted)
    mixed = mixed + mixed.transpose(1, 0, 2)
    both = np.concatenate([mixed, _product(lifted, lifted)], axis=2)
    return _TermsWithWander.of(knots, order, both, lifted), mixed.shape[2]


def gram(knots: Knots, seen: Linear) -> Gram:
    """Sum observations into normal equations at unit noise."""
    groups = Groups.of(knots)
    count = knots.coefficients // groups.every
    couplings = np.zeros((len(AXES), SUPPORT, knots.coefficients))
    beside = np.zeros((len(AXES), 2 * groups.reach + 1, count))
    plain = _plain(knots.one_interval, seen.order)
    squares = seen.places.sums(seen.weight, plain.path.matrix.shape[1])
    plain.add(couplings[0], beside[0], squares)
    couplings[2], beside[2] = couplings[0], beside[0]
    if np.any(seen.pull):
        _add_lift(couplings, beside, knots, seen)
    # Velocities do not show the wander.
    band = columns(groups, couplings, beside if seen.order == 0 else None)
    if seen.order == 0:
        add_wander(groups, band, *_wander_squares(groups, squares, count))
    return Gram(
        band=band,
        right=right_side(knots, seen),
        square=float(np.sum((seen.weight * seen.data) * seen.data)),
        count=2.0 * float(np.count_nonzero(seen.weight)),
    )


def right_side(knots: Knots, seen: Linear) -> FloatArray:
    """The right side alone of :func:`gram`, ``(unknowns,)``: all that depends on what was observed."""
    groups, weighted = Groups.of(knots), seen.weight * seen.data
    path, wander = (
        np.zeros((2, knots.coefficients)),
        np.zeros((2, knots.coefficients // groups.every)),
    )
    pieces, lifted = knots.pieces(seen.order), knots.pieces(seen.order + 2)
    along = seen.weight * seen.pull * np.sum(seen.left * seen.data, axis=0)
    for axis in (0, 1):
        own = seen.places.sums(weighted[axis], pieces.shape[1])
        _add_shifted(path[axis], pieces @ own)
        if seen.order == 0:
            _add_wander_right(groups, wander[axis], own)
        if np.any(seen.pull):
            side = seen.places.sums(seen.left[axis] * along, lifted.shape[1])
            _add_shifted(path[axis], lifted @ side)
    return in_order(path, wander)


def _add_lift(couplings: FloatArray, beside: FloatArray, knots: Knots, seen: Linear) -> None:
    """Add what the pull along ``left`` contributes, in place.

    With b the spline's weights and c those two orders higher, a fix has the rows b + pull·left·leftᵀ·c. As left is a unit
    vector, their squares are b bᵀ + pull·(left leftᵀ)·(b cᵀ + c bᵀ) + pull²·(left leftᵀ)·c cᵀ.
    """
    left, pulled = seen.left, seen.weight * seen.pull
    lift, once = _lift(knots.one_interval, seen.order)
    powers = lift.path.matrix.shape[1]
    for pair, (axis, other) in enumerate(AXES):
        share = pulled * left[axis] * left[other]
        parts = (seen.places.sums(share, once),
                 seen.places.sums(share * seen.pull, powers - once))  # fmt: skip
        lift.add(couplings[pair], beside[pair], np.concatenate(parts))


def _product(one: FloatArray, two: FloatArray) -> FloatArray:
    """Products of polynomials, ``(k, p)`` and ``(l, q)`` → ``(k, l, p + q − 1)``."""
    return np.array([[np.convolve(a, b) for b in two] for a in one])


def _add_wander_right(groups: Groups, right: FloatArray, sums: FloatArray) -> None:
    """Add the right side of the wander on one axis, ``(groups,)``, from the data's sums ``(powers, intervals)``."""
    for phase in range(groups.every):
        intervals, first = groups.intervals(phase)
        _add_shifted(right, groups.shares(phase) @ sums[:2, intervals], first)


def _wander_squares(groups: Groups, sums: FloatArray, count: int) -> tuple[FloatArray, FloatArray]:
    """Couplings of each knot of wander with itself and with the one before, ``(groups,)`` each, from positions."""
    square, before = np.zeros((2, count))
    for phase in range(groups.every):
        intervals, first = groups.intervals(phase)
        products = _product(groups.shares(phase), groups.shares(phase)) @ sums[:3, intervals]
        _add_shifted(square, products[[0, 1], [0, 1]], first)
        _add_shifted(before, products[:1, 1], first + 1)
    return square, before


def _add_shifted(out: FloatArray, values: FloatArray, first: int = 0) -> None:
    """Add rows of values ``(k, n)`` to ``out``, each one place further on than the row before."""
    for k, value in enumerate(values, start=first):
        out[k : k + len(value)] += value


@lru_cache(maxsize=8)
def _path_alone(knots: Knots, order: int) -> _Terms:
    """What observing a derivative of the path contributes to the path alone."""
    plain = knots.pieces(order)
    return _Terms.of(_of_path(_product(plain, plain)), 2 * plain.shape[1] - 1)


@lru_cache(maxsize=8)
def _penalty(knots: Knots, order: int) -> _Terms:
    """What a squared derivative's integral over an interval contributes to the path alone."""
    return _Terms.of(_of_path(penalty_block(order, knots.spacing_s)[:, :, None]), 1)


def one_axis(knots: Knots, places: Places, order: int, weight: FloatArray) -> FloatArray:
    """Upper band ``(6, coefficients)`` of observing one axis alone, without lift or wander."""
    alone = _path_alone(knots.one_interval, order)
    return alone.band(knots, places.sums(weight, alone.matrix.shape[1]))


def penalty_band(knots: Knots, order: int, weight: FloatArray) -> FloatArray:
    """Integral of a squared derivative, weighted by interval ``(intervals,)``, as a band like that of :func:`one_axis`."""
    return _penalty(knots.one_interval, order).band(knots, weight[None])


def one_axis_right(knots: Knots, places: Places, order: int, weighted: FloatArray) -> FloatArray:
    """Right side ``(coefficients,)`` of observing one axis alone; ``weighted`` are the data times their weights, ``(n,)``."""
    plain = knots.pieces(order)
    right = np.zeros(knots.coefficients)
    _add_shifted(right, plain @ places.sums(weighted, plain.shape[1]))
    return right
