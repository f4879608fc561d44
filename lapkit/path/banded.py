"""The normal equations of a whole log as one banded matrix.

Unknowns come four to a knot: the mass path's spline coefficient east and north, and the receiver's wander
east and north at that knot. An observation touches the twenty-four of its interval, so the matrix is
banded. Within an interval everything observed is a polynomial of where the fix lies in it; what a fix adds
to the matrix is therefore a fixed combination of the powers of that place, and the matrix needs nothing of
the fixes but sums of powers an interval. That is a tenth of the work of summing row by row.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.path.spline import SUPPORT, Knots, penalty_block
from lapkit.units import FloatArray

STATES = 4
"""Unknowns to a knot: path east, path north, wander east, wander north."""

BANDWIDTH = STATES * SUPPORT
"""Rows of the upper band: how many unknowns one observation can touch."""

PRIOR_ORDER = 4
"""The derivative of position that is white a priori (snap): lean then falls off as 1/f² beyond its bursts."""

# Wander runs straight between its knots; they lie under the middle of the spline's support.
_WANDER_AT = (2, 3)
_WANDER = np.array([[1.0, -1.0], [0.0, 1.0]])


@dataclass(frozen=True, eq=False)
class Gram:
    """Normal equations of one kind of observation at unit noise.

    ``band`` is upper banded, shape ``(24, unknowns)``; ``right`` has shape ``(unknowns,)``; ``square`` is
    the weighted sum of squares of the data and ``count`` the number of scalar observations.
    """

    band: FloatArray
    right: FloatArray
    square: float
    count: float


@dataclass(frozen=True, eq=False)
class Linear:
    """Observations linear in the path; arrays over ``n`` fixes in time order.

    What is seen east and north is the path's derivative of ``order``, plus ``pull`` times the part along
    ``left`` of the derivative two orders higher, plus, for positions, the wander. ``data`` has shape
    ``(n, 2)``, ``left`` ``(2, n)``, ``pull`` and ``weight`` ``(n,)``; a weight of 0 leaves a fix out.
    """

    time_s: FloatArray
    order: int
    data: FloatArray
    weight: FloatArray
    pull: FloatArray
    left: FloatArray


class _Sums:
    """Sums over the fixes of each interval of a weight times powers of the place within it."""

    def __init__(self, knots: Knots, time_s: FloatArray, used: np.ndarray) -> None:
        index, self._within = knots.locate(time_s[used])
        self._intervals = knots.intervals
        self._held, self._first = np.unique(index, return_index=True)

    def of(self, weight: FloatArray, powers: int) -> FloatArray:
        """Powers 0 to ``powers`` − 1, shape ``(powers, intervals)``."""
        sums = np.zeros((powers, self._intervals))
        term = weight
        for power in range(powers):
            if power:
                term = term * self._within
            if len(self._first):
                sums[power, self._held] = np.add.reduceat(term, self._first)
        return sums


def gram(knots: Knots, seen: Linear) -> Gram:
    """Sum observations into normal equations at unit noise."""
    used = seen.weight > 0
    weight, data = seen.weight[used], seen.data[used].T
    sums = _Sums(knots, seen.time_s, used)
    plain, lifted = knots.pieces(seen.order), knots.pieces(seen.order + 2)
    band = np.zeros((BANDWIDTH, STATES * knots.coefficients))
    ends = np.zeros((STATES, knots.coefficients))
    squares = sums.of(weight, 2 * plain.shape[1] - 1)
    both = _applied(_product(plain, plain), squares)
    with_wander = seen.order == 0
    for axis in (0, 1):
        _add_path(band, axis, axis, both)
        own = sums.of(weight * data[axis], plain.shape[1])
        _add_ends(ends[axis], _applied(plain, own))
        if with_wander:
            _add_wander(band, axis, axis, _applied(_product(plain, _WANDER), squares))
            _add_wander_squares(band, axis, _applied(_product(_WANDER, _WANDER), squares))
            _add_ends(ends[2 + axis], _applied(_WANDER, own), _WANDER_AT[0])
    if np.any(seen.pull):
        _add_lift(band, ends, sums, plain, lifted, seen, used)
    return Gram(
        band=band,
        right=np.ascontiguousarray(ends.T).ravel(),
        square=float(np.sum(weight * np.square(data))),
        count=2.0 * float(np.count_nonzero(used)),
    )


def _add_lift(
    band: FloatArray,
    ends: FloatArray,
    sums: _Sums,
    plain: FloatArray,
    lifted: FloatArray,
    seen: Linear,
    used: np.ndarray,
) -> None:
    """Add what the pull along ``left`` contributes.

    With b the spline's weights and c those two orders higher, the rows are b + pull·left·leftᵀ·c; as left
    is a unit vector their squares are b bᵀ + pull·(left leftᵀ)·(b cᵀ + c bᵀ) + pull²·(left leftᵀ)·c cᵀ.
    """
    left, pull, weight = seen.left[:, used], seen.pull[used], seen.weight[used]
    mixed = _product(plain, lifted)
    mixed = mixed + mixed.transpose(1, 0, 2)
    high = _product(lifted, lifted)
    along = np.sum(left * seen.data[used].T, axis=0)
    for axis in (0, 1):
        side = sums.of(weight * pull * left[axis] * along, lifted.shape[1])
        _add_ends(ends[axis], _applied(lifted, side))
    for axis, other in ((0, 0), (0, 1), (1, 1)):
        share = weight * pull * left[axis] * left[other]
        once = sums.of(share, mixed.shape[2])
        twice = sums.of(share * pull, high.shape[2])
        _add_path(band, axis, other, _applied(mixed, once) + _applied(high, twice))
        if seen.order == 0:
            across = _applied(_product(lifted, _WANDER), once)
            _add_wander(band, axis, other, across)
            if other != axis:
                _add_wander(band, other, axis, across)


def _product(one: FloatArray, two: FloatArray) -> FloatArray:
    """Products of polynomials, ``(k, p)`` and ``(l, q)`` → ``(k, l, p + q − 1)``."""
    return np.array([[np.convolve(a, b) for b in two] for a in one])


def _applied(polynomials: FloatArray, sums: FloatArray) -> FloatArray:
    """Polynomials ``(..., p)`` summed over the fixes of each interval, ``(..., intervals)``."""
    shape, powers = polynomials.shape[:-1], polynomials.shape[-1]
    return (polynomials.reshape(-1, powers) @ sums[:powers]).reshape(*shape, -1)


def _add(band: FloatArray, row: int, column: int, values: FloatArray) -> None:
    """Add one value an interval at the block's ``row`` and ``column``, in either order."""
    row, column = min(row, column), max(row, column)
    stop = column + STATES * len(values)
    band[BANDWIDTH - 1 - (column - row), column:stop:STATES] += values


def _add_path(band: FloatArray, axis: int, other: int, blocks: FloatArray) -> None:
    for k in range(SUPPORT):
        for m in range(k if axis == other else 0, SUPPORT):
            _add(band, STATES * k + axis, STATES * m + other, blocks[k, m])


def _add_wander(band: FloatArray, axis: int, other: int, blocks: FloatArray) -> None:
    """Path coefficients of one axis with the wander of another; ``blocks`` ``(6, 2, intervals)``."""
    for k in range(SUPPORT):
        for which, place in enumerate(_WANDER_AT):
            _add(band, STATES * k + axis, STATES * place + 2 + other, blocks[k, which])


def _add_wander_squares(band: FloatArray, axis: int, blocks: FloatArray) -> None:
    first, second = (STATES * place + 2 + axis for place in _WANDER_AT)
    _add(band, first, first, blocks[0, 0])
    _add(band, first, second, blocks[0, 1])
    _add(band, second, second, blocks[1, 1])


def _add_ends(ends: FloatArray, values: FloatArray, first: int = 0) -> None:
    for k, value in enumerate(values, start=first):
        ends[k : k + len(value)] += value


def smooth_band(knots: Knots, roughness: FloatArray) -> FloatArray:
    """Prior precision of the path for a roughness an interval, shape ``(intervals,)``."""
    band = np.zeros((BANDWIDTH, STATES * knots.coefficients))
    penalty = penalty_block(PRIOR_ORDER, knots.spacing_s)[:, :, None] / np.square(roughness)
    for axis in (0, 1):
        _add_path(band, axis, axis, penalty)
    return band


def one_axis(knots: Knots, time_s: FloatArray, order: int, weight: FloatArray) -> FloatArray:
    """Upper band ``(6, coefficients)`` of observing one axis alone, without lift or wander."""
    sums = _Sums(knots, time_s, weight > 0)
    plain = knots.pieces(order)
    product = _product(plain, plain)
    blocks = _applied(product, sums.of(weight[weight > 0], product.shape[2]))
    band = np.zeros((SUPPORT, knots.coefficients))
    for k in range(SUPPORT):
        for m in range(k, SUPPORT):
            band[SUPPORT - 1 - (m - k), m : m + knots.intervals] += blocks[k, m]
    return band


def one_axis_right(
    knots: Knots, time_s: FloatArray, order: int, weighted: FloatArray
) -> FloatArray:
    """Right side ``(coefficients,)`` for data times weight, shape ``(n,)``."""
    sums = _Sums(knots, time_s, np.ones(len(time_s), dtype=bool))
    plain = knots.pieces(order)
    right = np.zeros(knots.coefficients)
    _add_ends(right, _applied(plain, sums.of(weighted, plain.shape[1])))
    return right
