"""The normal equations of a whole log, banded.

Unknowns come four to a knot: the mass path's spline coefficient east and north, and the receiver's wander
east and north at that knot. An observation touches the twenty-four of its interval, so the matrix is
banded. Within an interval everything observed is a polynomial of where the fix lies in it; what a fix adds
to the matrix is therefore a fixed combination of the powers of that place, and the matrix needs nothing of
the fixes but sums of powers an interval. That is a tenth of the work of summing row by row.

Until it is solved the matrix is kept as what couples each knot with those before it: :data:`COUPLINGS` rows
over the knots. The first six couple the knot's path coefficient with the one five to none knots before, the
next four its wander with the path coefficient three to none before, the last three its path coefficient with
the wander three to one before.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from lapkit.path.places import Places
from lapkit.path.spline import SUPPORT, Knots, penalty_block
from lapkit.units import FloatArray

STATES = 4
"""Unknowns to a knot: path east, path north, wander east, wander north."""

BANDWIDTH = STATES * (SUPPORT - 1) + 2
"""Rows of the upper band: it reaches from a knot's path north to the path east five knots before."""

COUPLINGS = SUPPORT + 4 + 3
"""Rows that say how a knot is coupled with those before it."""

AXES = ((0, 0), (0, 1), (1, 1))
"""Pairs of axes, east 0 and north 1, for which couplings are kept."""

# Wander runs straight between its knots; they lie under the middle of the spline's support.
_WANDER_AT = (2, 3)
_WANDER = np.array([[1.0, -1.0], [0.0, 1.0]])
_LAST_PATH, _LAST_WANDER, _LAST_EARLIER = SUPPORT - 1, SUPPORT + 3, SUPPORT + 7


@dataclass(frozen=True, eq=False)
class Gram:
    """Normal equations of one kind of observation at unit noise.

    ``couplings`` has shape ``(3, COUPLINGS, coefficients)`` for the pairs of :data:`AXES`, or only the
    first six rows where wander is not observed. ``wander`` is the wander's square and its product with
    that of the knot before, ``(2, coefficients)``, empty where it is not observed. ``right`` has shape ``(unknowns,)``; ``square`` is the
    weighted sum of squares of the data and ``count`` the number of scalar observations.
    """

    couplings: FloatArray
    wander: FloatArray
    right: FloatArray
    square: float
    count: float


@dataclass(frozen=True, eq=False)
class Linear:
    """Observations linear in the path; arrays over ``n`` fixes in time order.

    What is seen east and north is the path's derivative of ``order``, plus ``pull`` times the part along
    ``left`` of the derivative two orders higher, plus, for positions, the wander. ``data`` has shape
    ``(2, n)``, ``left`` ``(2, n)``, ``pull`` and ``weight`` ``(n,)``; a weight of 0 leaves a fix out.
    """

    places: Places
    order: int
    data: FloatArray
    weight: FloatArray
    pull: FloatArray
    left: FloatArray


class _Part(NamedTuple):
    """What two of an interval's unknowns contribute: to a row of couplings, at a knot from the first on."""

    row: int
    knot: int
    polynomial: FloatArray


def _of_path(products: FloatArray) -> list[_Part]:
    """Parts of products of the path's polynomials, ``(6, 6, p)``, symmetric."""
    return [
        _Part(_LAST_PATH - (m - k), m, products[k, m]) for m in range(SUPPORT) for k in range(m + 1)
    ]


def _of_wander(products: FloatArray) -> list[_Part]:
    """Parts of products of the path's polynomials with the wander's, ``(6, 2, p)``."""
    return [
        _Part(_LAST_WANDER - (at - k), at, products[k, which])
        if k <= at
        else _Part(_LAST_EARLIER - (k - at), k, products[k, which])
        for which, at in enumerate(_WANDER_AT)
        for k in range(SUPPORT)
    ]


class _Sum(NamedTuple):
    """Parts as one matrix, ``(parts, powers)``, and where each goes."""

    matrix: FloatArray
    rows: tuple[tuple[int, int], ...]

    @classmethod
    def of(cls, parts: list[_Part], powers: int) -> _Sum:
        matrix = np.zeros((len(parts), powers))
        for line, part in zip(matrix, parts, strict=True):
            line[: len(part.polynomial)] = part.polynomial
        return cls(matrix, tuple((part.row, part.knot) for part in parts))

    def add(self, couplings: FloatArray, sums: FloatArray) -> None:
        """Add what sums of powers ``(powers, intervals)`` contribute."""
        for (row, knot), values in zip(self.rows, self.matrix @ sums, strict=True):
            couplings[row, knot : knot + len(values)] += values

    def band(self, knots: Knots, sums: FloatArray) -> FloatArray:
        """The same as an upper band ``(6, coefficients)`` of one axis of the path alone."""
        band = np.zeros((SUPPORT, knots.coefficients))
        self.add(band, sums)
        return band


@lru_cache(maxsize=8)
def _plain(knots: Knots, order: int) -> _Sum:
    """What observing a derivative of the path contributes; with order 0, of path and wander together."""
    plain = knots.pieces(order)
    parts = _of_path(_product(plain, plain))
    if order == 0:
        parts += _of_wander(_product(plain, _WANDER))
    return _Sum.of(parts, 2 * plain.shape[1] - 1)


@lru_cache(maxsize=8)
def _lift(knots: Knots, order: int) -> tuple[_Sum, int]:
    """What the pull contributes, by the powers times it and then its square; how many of the first."""
    plain, lifted = knots.pieces(order), knots.pieces(order + 2)
    mixed = _product(plain, lifted)
    mixed = mixed + mixed.transpose(1, 0, 2)
    both = np.concatenate([mixed, _product(lifted, lifted)], axis=2)
    parts = _of_path(both)
    if order == 0:
        parts += _of_wander(_product(lifted, _WANDER))
    return _Sum.of(parts, both.shape[2]), mixed.shape[2]


def gram(knots: Knots, seen: Linear) -> Gram:
    """Sum observations into normal equations at unit noise."""
    weighted = seen.weight * seen.data
    with_wander = seen.order == 0
    couplings = np.zeros((len(AXES), COUPLINGS if with_wander else SUPPORT, knots.coefficients))
    ends = np.zeros((STATES, knots.coefficients))
    plain = _plain(knots, seen.order)
    squares = seen.places.sums(seen.weight, plain.matrix.shape[1])
    plain.add(couplings[0], squares)
    couplings[2] = couplings[0]
    pieces = knots.pieces(seen.order)
    for axis in (0, 1):
        own = seen.places.sums(weighted[axis], pieces.shape[1])
        _add_ends(ends[axis], pieces @ own)
        if with_wander:
            _add_ends(ends[2 + axis], _WANDER @ own[:2], _WANDER_AT[0])
    if np.any(seen.pull):
        _add_lift(couplings, ends, knots, seen)
    return Gram(
        couplings=couplings,
        wander=_wander_squares(knots, squares) if with_wander else np.zeros((2, 0)),
        right=np.ascontiguousarray(ends.T).ravel(),
        square=float(np.sum(weighted * seen.data)),
        count=2.0 * float(np.count_nonzero(seen.weight)),
    )


def _add_lift(couplings: FloatArray, ends: FloatArray, knots: Knots, seen: Linear) -> None:
    """Add what the pull along ``left`` contributes.

    With b the spline's weights and c those two orders higher, the rows are b + pull·left·leftᵀ·c; as left
    is a unit vector their squares are b bᵀ + pull·(left leftᵀ)·(b cᵀ + c bᵀ) + pull²·(left leftᵀ)·c cᵀ.
    """
    left, pulled = seen.left, seen.weight * seen.pull
    along = pulled * np.sum(left * seen.data, axis=0)
    pieces = knots.pieces(seen.order + 2)
    for axis in (0, 1):
        side = seen.places.sums(left[axis] * along, pieces.shape[1])
        _add_ends(ends[axis], pieces @ side)
    lift, once = _lift(knots, seen.order)
    for of_axes, (axis, other) in zip(couplings, AXES, strict=True):
        share = pulled * left[axis] * left[other]
        parts = (seen.places.sums(share, once),
                 seen.places.sums(share * seen.pull, lift.matrix.shape[1] - once))  # fmt: skip
        lift.add(of_axes, np.concatenate(parts))


def _product(one: FloatArray, two: FloatArray) -> FloatArray:
    """Products of polynomials, ``(k, p)`` and ``(l, q)`` → ``(k, l, p + q − 1)``."""
    return np.array([[np.convolve(a, b) for b in two] for a in one])


def _wander_squares(knots: Knots, sums: FloatArray) -> FloatArray:
    """What positions say of the wander itself, as in :class:`Gram`."""
    wander = np.zeros((2, knots.coefficients))
    products = _product(_WANDER, _WANDER) @ sums[:3]
    _add_ends(wander[0], products[[0, 1], [0, 1]], _WANDER_AT[0])
    _add_ends(wander[1], products[:1, 1], _WANDER_AT[1])
    return wander


def _add_ends(ends: FloatArray, values: FloatArray, first: int = 0) -> None:
    for k, value in enumerate(values, start=first):
        ends[k : k + len(value)] += value


def columns(
    couplings: FloatArray, wander_square: FloatArray, wander_next: FloatArray
) -> FloatArray:
    """Couplings written out as an upper band, shape ``(22, unknowns)``, column by column in memory.

    Args:
        couplings: as in :class:`Gram`, all rows.
        wander_square, wander_next: of each axis alike, shape ``(coefficients,)``.
    """
    band = np.zeros((len(wander_square), STATES, BANDWIDTH))
    path, wander, earlier = np.split(couplings.transpose(0, 2, 1), [SUPPORT, SUPPORT + 4], axis=2)
    for one in (0, 1):
        for other in (0, 1):
            pair = one + other
            # The row of an unknown with the state ``one`` some knots before a column with ``other``.
            last = BANDWIDTH - 1 + one - other
            inside = path[pair] if one <= other else path[pair][:, :-1]
            _put(band[:, other], inside, last if one <= other else last - STATES)
            _put(band[:, 2 + other], wander[pair], last - 2)
            _put(band[:, other], earlier[pair], last + 2 - STATES)
    band[:, 2:, -1] = wander_square[:, None]
    band[:, 2:, -1 - STATES] = wander_next[:, None]
    return band.reshape(-1, BANDWIDTH).T


def _put(column: FloatArray, values: FloatArray, last: int) -> None:
    """Put values ``(coefficients, m)`` into every fourth row of columns, the last of them at ``last``."""
    first = last - STATES * (values.shape[1] - 1)
    column[:, first : last + 1 : STATES] = values


@lru_cache(maxsize=8)
def _path_alone(knots: Knots, order: int) -> _Sum:
    """What observing a derivative of the path contributes to the path alone."""
    plain = knots.pieces(order)
    return _Sum.of(_of_path(_product(plain, plain)), 2 * plain.shape[1] - 1)


@lru_cache(maxsize=8)
def _penalty(knots: Knots, order: int) -> _Sum:
    """What a squared derivative's integral over an interval contributes to the path alone."""
    return _Sum.of(_of_path(penalty_block(order, knots.spacing_s)[:, :, None]), 1)


def one_axis(knots: Knots, places: Places, order: int, weight: FloatArray) -> FloatArray:
    """Upper band ``(6, coefficients)`` of observing one axis alone, without lift or wander."""
    alone = _path_alone(knots, order)
    return alone.band(knots, places.sums(weight, alone.matrix.shape[1]))


def penalty_band(knots: Knots, order: int, weight: FloatArray) -> FloatArray:
    """Weights ``(intervals,)`` times the integral of a squared derivative; a band as of :func:`one_axis`."""
    return _penalty(knots, order).band(knots, weight[None])


def one_axis_right(knots: Knots, places: Places, order: int, weighted: FloatArray) -> FloatArray:
    """Right side ``(coefficients,)`` for data times weight, shape ``(n,)``."""
    plain = knots.pieces(order)
    right = np.zeros(knots.coefficients)
    _add_ends(right, plain @ places.sums(weighted, plain.shape[1]))
    return right
