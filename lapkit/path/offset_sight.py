"""Sights of the position offset: what was seen of it, as linear observations of its knots, summed up once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from lapkit.path.offset_knots import OffsetKnots
from lapkit.units import FloatArray


@dataclass(frozen=True, eq=False)
class Readings:
    """The offset's component along a direction, as it was seen at ``n`` times.

    Attributes:
        time_s: when, ``(n,)``.
        direction: along which, vectors east and north, ``(n, 2)``: of unit length, but for readings weighted by it.
        value_m: what was seen, metres, ``(n,)``.
        group: where given, readings of one number, ``(n,)``, were seen beside each other only: they share an unknown
            constant.
    """

    time_s: FloatArray
    direction: FloatArray
    value_m: FloatArray
    group: np.ndarray | None = None


class Common(NamedTuple):
    """Unknowns that all readings of a sight share, each within ``sd_m`` of zero, metres.

    ``share`` ``(n, s)`` is how much each reading has of each unknown; None for a shift east and north.
    """

    sd_m: float
    share: FloatArray | None = None


class _CommonSums(NamedTuple):
    """Sums of what readings have of their common unknowns.

    ``cross`` ``(s, unknowns)`` with the knots, ``right`` ``(s,)`` with what was seen, ``square`` ``(s, s)`` with
    themselves.
    """

    cross: FloatArray
    right: FloatArray
    square: FloatArray


@dataclass(frozen=True, eq=False)
class Sums:
    """Normal equations of readings at one metre of noise, over all knots east, then all north.

    ``precision`` ``(unknowns, unknowns)``, ``right`` ``(unknowns,)``, ``square`` the sum of squares of what was seen,
    ``free_values`` how many readings there are beyond one for each group.
    """

    precision: FloatArray
    right: FloatArray
    square: float
    free_values: int
    common: _CommonSums | None

    @classmethod
    def of(cls, knots: OffsetKnots, readings: Readings, common: Common | None) -> Sums:
        """Sum readings; the unknown constant of each group is taken out."""
        unknowns, value = 2 * len(knots.time_s), readings.value_m
        at, weight = knots.weights(readings.time_s, readings.direction)

        def summed(
            weights: FloatArray, row: np.ndarray | int, column: np.ndarray, rows: int
        ) -> FloatArray:
            total = np.bincount((row * unknowns + column).ravel(), weights.ravel(), rows * unknowns)
            return np.asarray(total, dtype=np.float64).reshape(rows, unknowns)

        squares = weight[:, :, None] * weight[:, None, :]
        precision = summed(squares, at[:, :, None], at[:, None, :], unknowns)
        right = summed(weight * value[:, None], 0, at, 1)[0]
        square, count = float(value @ value), len(value)
        if readings.group is not None:
            # What a group's mean says is left to its constant.
            _, slot, sizes = np.unique(readings.group, return_inverse=True, return_counts=True)
            sums = summed(weight, slot[:, None], at, len(sizes))
            means = np.bincount(slot, value) / sizes
            precision -= sums.T @ (sums / sizes[:, None])
            right -= means @ sums
            square -= float(means**2 @ sizes)
            count -= len(sizes)
        shared = None
        if common is not None:
            # East and north weights are each split between two knots; together they are the shift's.
            share = common.share
            share = weight.reshape(-1, 2, 2).sum(axis=2) if share is None else share
            cross = np.stack([summed(weight * s[:, None], 0, at, 1)[0] for s in share.T])
            shared = _CommonSums(cross, value @ share, share.T @ share)
        return cls(precision, right, square, count, shared)


@dataclass(frozen=True, eq=False)
class Sight:
    """Readings of the offset that are right to within ``sd_m``, metres, each by itself.

    Attributes:
        readings: what was seen.
        sums: the same summed up, which does not depend on ``sd_m``.
        sd_m: standard deviation of each reading.
        firm: whether it tells where the offset stood; others tell how it moved, or where it cannot have been.
        common: what all readings share; None for nothing.
        path_m: where they were seen from the path, how far each drawn path was beside the estimate then, metres along
            the readings' directions, ``(draws, n)``.
    """

    readings: Readings
    sums: Sums
    sd_m: float
    firm: bool = False
    common: Common | None = None
    path_m: FloatArray | None = None

    @classmethod
    def of(
        cls,
        knots: OffsetKnots,
        readings: Readings,
        sd_m: float,
        *,
        firm: bool = False,
        common: Common | None = None,
    ) -> Sight:
        """Sum readings up over the knots."""
        return cls(readings, Sums.of(knots, readings, common), sd_m, firm, common)

    @cached_property
    def information(self) -> tuple[FloatArray, FloatArray, float, float]:
        """Precision, right side, sum of squares and log determinant of the noise."""
        sums = self.sums
        precision, right, square = sums.precision, sums.right, sums.square
        log_det = 2.0 * sums.free_values * float(np.log(self.sd_m))
        if self.common is not None and sums.common is not None:
            # The common unknowns are integrated out (Woodbury's identity).
            cross, own_right, own_square = sums.common
            ratio = self.sd_m / self.common.sd_m
            inside = own_square + np.eye(len(own_square)) * ratio**2
            inverse = np.linalg.inv(inside)
            precision = precision - cross.T @ inverse @ cross
            right = right - own_right @ inverse @ cross
            square -= float(own_right @ inverse @ own_right)
            log_det += float(np.linalg.slogdet(inside)[1])
            log_det -= 2.0 * len(own_square) * float(np.log(ratio))
        scale = self.sd_m**-2
        return precision * scale, right * scale, square * scale, log_det

    def right_of_path(self, knots: OffsetKnots, path_m: FloatArray) -> FloatArray:
        """What :attr:`path_m` adds to the right side, for each drawn path: ``(draws, n)`` → ``(unknowns, draws)``."""
        at, weight = knots.weights(self.readings.time_s, self.readings.direction)
        value = path_m
        if self.readings.group is not None:
            _, slot, sizes = np.unique(self.readings.group, return_inverse=True, return_counts=True)
            share = np.zeros((len(slot), len(sizes)))
            share[np.arange(len(slot)), slot] = 1.0
            value = value - (value @ share / sizes)[:, slot]
        seen = np.zeros((len(at), 2 * len(knots.time_s)))
        np.put_along_axis(seen, at, weight, axis=1)
        return seen.T @ value.T / self.sd_m**2
