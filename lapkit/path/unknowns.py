"""The unknowns of a whole log: their order, and their couplings written out as a band.

They are ordered in groups, one for each knot of the receiver's wander: first the spline coefficients of the path, east
and north, from that knot up to the next one, then the wander, east and north. The wander runs straight between its knots,
each of which lies at the middle of the support of its group's first coefficient.

"Coupling" is short for an entry of the precision matrix, which is zero for unknowns that no observation and no prior
brings together.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.path.spline import SUPPORT, Knots

AXES = ((0, 0), (0, 1), (1, 1))
"""Pairs of axes, east 0 and north 1, for which couplings are kept."""

# From an interval's first coefficient to the one whose support has its middle where the interval begins.
_TO_MIDDLE = 2


@dataclass(frozen=True)
class Groups:
    """How unknowns are grouped, with one knot of the wander for each ``every`` knots of the path."""

    every: int

    @classmethod
    def of(cls, knots: Knots) -> Groups:
        """The groups of a path, whose coefficients make whole groups (:class:`~lapkit.path.spline.Knots`)."""
        return cls(knots.wander_every)

    @property
    def states(self) -> int:
        """How many unknowns a group has."""
        return 2 * self.every + 2

    @property
    def reach(self) -> int:
        """How many coefficients to either side of its own one a knot of wander is coupled with."""
        return self.every + _TO_MIDDLE

    def path(self, coefficient: int, axis: int) -> int:
        """Number of a coefficient's unknown on an axis; coefficient and unknown are counted from the first of a group."""
        groups, knot = divmod(coefficient, self.every)
        return self.states * groups + 2 * knot + axis

    def wander(self, axis: int) -> int:
        """Number of the wander's unknown on an axis, counted from the first of its group."""
        return 2 * self.every + axis

    @cached_property
    def rows(self) -> int:
        """Rows of the upper band: the largest distance between coupled unknowns, and one for the diagonal."""
        back = [self.path(k, 1) - self.path(k - SUPPORT + 1, 0) for k in range(self.every)]
        return 1 + max(*back, self.wander(1) - self.path(-self.reach, 0))

    def intervals(self, phase: int) -> tuple[slice, int]:
        """The intervals that begin ``phase`` knots of the path after one of the wander.

        With them comes the number of the knot of wander before the first of them.
        """
        first = (phase - _TO_MIDDLE) % self.every
        return slice(first, None, self.every), (first + _TO_MIDDLE) // self.every

    def shares(self, phase: int) -> FloatArray:
        """Weights of the knots of wander before and after such an interval, ``(2, 2)``: polynomials of the place in it."""
        before = 1.0 - phase / self.every
        return np.array([[before, -1.0 / self.every], [1.0 - before, 1.0 / self.every]])


def path_coefficients(knots: Knots, unknowns: FloatArray) -> FloatArray:
    """The path's part of all unknowns, ``(unknowns, ...)`` → ``(coefficients, 2, ...)``."""
    groups, more = Groups.of(knots), unknowns.shape[1:]
    path = unknowns.reshape(len(unknowns) // groups.states, groups.states, *more)
    path = path[:, : groups.wander(0)]
    return path.reshape(path.shape[0] * path.shape[1] // 2, 2, *more)


def wander_at(knots: Knots, unknowns: FloatArray, time_s: FloatArray) -> FloatArray:
    """The wander at times, metres: ``(unknowns,)``, ``(n,)`` → ``(n, 2)``."""
    groups = Groups.of(knots)
    wander = unknowns.reshape(-1, groups.states)[:, groups.wander(0) :]
    index, within = knots.locate(time_s)
    before, phase = np.divmod(index + _TO_MIDDLE, groups.every)
    after = ((phase + within) / groups.every)[:, None]
    return (1.0 - after) * wander[before] + after * wander[before + 1]


def in_order(path: FloatArray, wander: FloatArray) -> FloatArray:
    """Values of path and wander in the unknowns' order: ``(2, coefficients)`` and ``(2, groups)`` → ``(unknowns,)``."""
    return np.hstack([path.T.reshape(wander.shape[1], -1), wander.T]).ravel()


def columns(groups: Groups, path: FloatArray, beside: FloatArray | None = None) -> FloatArray:
    """Couplings written out as an upper band, ``(rows, unknowns)``, contiguous by columns.

    Args:
        groups: how unknowns are grouped.
        path: couplings of each coefficient with those from the fifth before it to itself, for the pairs of
            :data:`AXES`, ``(3, 6, coefficients)``.
        beside: couplings of each knot of wander with the coefficients from ``reach`` before its own to ``reach``
            after it, ``(3, 2 reach + 1, groups)``; None where the wander is not observed.
    """
    band = np.zeros((path.shape[2] // groups.every, groups.states, groups.rows))
    diagonal, reach = groups.rows - 1, groups.reach
    for one, other in product((0, 1), repeat=2):
        for knot, back in product(range(groups.every), range(SUPPORT)):
            row, column = groups.path(knot - back, one), groups.path(knot, other)
            if row <= column:
                couples = path[one + other, SUPPORT - 1 - back, knot :: groups.every]
                band[:, column, diagonal + row - column] = couples
        if beside is None:
            continue
        for ahead in range(-reach, reach + 1):
            coefficient, wander = groups.path(ahead, one), groups.wander(other)
            couples = beside[one + other, reach + ahead]
            if coefficient < wander:
                band[:, wander, diagonal + coefficient - wander] = couples
            else:
                later, column = divmod(coefficient, groups.states)
                band[later:, column, diagonal + wander - coefficient] = couples[:-later]
    return band.reshape(-1, groups.rows).T


def add_wander(groups: Groups, band: FloatArray, square: FloatArray, before: FloatArray) -> None:
    """Add the couplings of each knot of wander with itself and with the one before to a band, in place.

    Args:
        groups: how unknowns are grouped.
        band: as :func:`columns` writes it.
        square: couplings of each knot with itself, alike on both axes, ``(groups,)``.
        before: of each knot with the one before, ``(groups,)``.
    """
    wander = band.T.reshape(-1, groups.states, len(band))[:, groups.wander(0) :]
    wander[:, :, -1] += square[:, None]
    wander[:, :, -1 - groups.states] += before[:, None]
