"""Sights of the position offset: linear observations of it, summed into normal equations once."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.path.offset_knots import OffsetKnots, folded


@dataclass(frozen=True, eq=False)
class Readings:
    """``n`` observed components of the offset, each along a direction of its own.

    Attributes:
        time_s: when each was observed, ``(n,)``.
        direction: vectors east and north, ``(n, 2)``; of unit length, unless their length is used to weight readings.
        value_m: the observed components, metres, ``(n,)``.
        group: number of each reading's group, ``(n,)``, or None. Readings of one group were only observed relative to
            each other: they share an unknown constant.
    """

    time_s: FloatArray
    direction: FloatArray
    value_m: FloatArray
    group: np.ndarray | None = None


class Common(NamedTuple):
    """Unknowns that all readings of a sight share, each a priori normal about zero with ``sd_m``, metres.

    ``share`` ``(n, s)`` is the coefficient of each unknown in each reading; None for a shift east and north.
    """

    sd_m: float
    share: FloatArray | None = None


class _Groups(NamedTuple):
    """Readings in groups: the number of each reading's group, ``(n,)``, and how many each has, ``(groups,)``."""

    slot: np.ndarray
    sizes: np.ndarray

    @classmethod
    def of(cls, number: np.ndarray) -> _Groups:
        _, slot, sizes = np.unique(number, return_inverse=True, return_counts=True)
        return cls(slot, sizes)

    def means(self, values: FloatArray) -> FloatArray:
        """Mean of each group, ``(n,)`` → ``(groups,)``."""
        return np.bincount(self.slot, values) / self.sizes


class _Design(NamedTuple):
    """How readings depend on the knots: the matrix A, ``(n, unknowns)``, by its four entries in each row.

    ``at`` are the columns of the entries and ``weight`` their values, ``(n, 4)`` each.
    """

    at: np.ndarray
    weight: FloatArray
    unknowns: int

    @classmethod
    def of(cls, knots: OffsetKnots, readings: Readings) -> _Design:
        return cls(*knots.weights(readings.time_s, readings.direction), 2 * len(knots.time_s))

    def squares(self) -> FloatArray:
        """AᵀA, ``(unknowns, unknowns)``."""
        products = self.weight[:, :, None] * self.weight[:, None, :]
        return self._summed(products, self.at[:, :, None], self.at[:, None, :], self.unknowns)

    def transposed_times(self, values: FloatArray) -> FloatArray:
        """Aᵀ times a value for each reading, ``(n,)`` → ``(unknowns,)``."""
        return self._summed(self.weight * values[:, None], 0, self.at, 1)[0]

    def sums_of(self, groups: _Groups) -> FloatArray:
        """Rows of A summed over each group, ``(groups, unknowns)``."""
        return self._summed(self.weight, groups.slot[:, None], self.at, len(groups.sizes))

    def shift(self) -> FloatArray:
        """What a shift of the whole offset east and north makes of each reading, ``(n, 2)``.

        East and north weights are each split between two knots; together they are the shift's.
        """
        return self.weight.reshape(-1, 2, 2).sum(axis=2)

    def _summed(
        self, weights: FloatArray, row: np.ndarray | int, column: np.ndarray, rows: int
    ) -> FloatArray:
        """Weights summed into a matrix ``(rows, unknowns)`` at their rows and columns."""
        places = (row * self.unknowns + column).ravel()
        total = np.bincount(places, weights.ravel(), rows * self.unknowns)
        return np.asarray(total, dtype=np.float64).reshape(rows, self.unknowns)


class _CommonSums(NamedTuple):
    """Products of the common unknowns' coefficients, summed over the readings.

    ``cross`` ``(s, unknowns)`` with those of the knots, ``right`` ``(s,)`` with the observed values, ``square``
    ``(s, s)`` with themselves.
    """

    cross: FloatArray
    right: FloatArray
    square: FloatArray

    @classmethod
    def of(cls, design: _Design, value_m: FloatArray, common: Common) -> _CommonSums:
        share = design.shift() if common.share is None else common.share
        cross = np.stack([design.transposed_times(each) for each in share.T])
        return cls(cross, value_m @ share, share.T @ share)


@dataclass(frozen=True, eq=False)
class Sums:
    """Normal equations of readings at one metre of noise, over all knots east, then all north.

    Attributes:
        precision: ``(unknowns, unknowns)``.
        right: right side, ``(unknowns,)``.
        square: sum of squares of the observed values.
        free_values: number of readings less one for each group.
        common: what the common unknowns add; None where there are none.
    """

    precision: FloatArray
    right: FloatArray
    square: float
    free_values: int
    common: _CommonSums | None

    @classmethod
    def of(cls, knots: OffsetKnots, readings: Readings, common: Common | None) -> Sums:
        """Sum readings; the unknown constant of each group is eliminated."""
        design, value = _Design.of(knots, readings), readings.value_m
        precision, right = design.squares(), design.transposed_times(value)
        square, count = float(value @ value), len(value)
        if readings.group is not None:
            # A group's mean determines its constant and nothing else.
            groups = _Groups.of(readings.group)
            sums, means = design.sums_of(groups), groups.means(value)
            precision -= sums.T @ (sums / groups.sizes[:, None])
            right -= means @ sums
            square -= float(means**2 @ groups.sizes)
            count -= len(groups.sizes)
        shared = None if common is None else _CommonSums.of(design, value, common)
        return cls(precision, right, square, count, shared)

    def at_every_other_knot(self) -> Sums:
        """The same sums without every other knot, past which the offset is taken to run straight."""
        common = self.common
        if common is not None:
            common = common._replace(cross=folded(common.cross.T).T)
        precision = folded(folded(self.precision).T)
        return replace(self, precision=precision, right=folded(self.right), common=common)


class SightInformation(NamedTuple):
    """A sight in information form.

    ``precision`` ``(unknowns, unknowns)``, ``right`` the right side ``(unknowns,)`` and ``square`` the sum of squares of the
    observed values, all three over the variance of their errors; ``log_det`` is the log determinant of the errors' covariance.
    """

    precision: FloatArray
    right: FloatArray
    square: float
    log_det: float


@dataclass(frozen=True, eq=False)
class Sight:
    """Readings of the offset whose errors are independent, with standard deviation ``sd_m``.

    Attributes:
        readings: what was observed.
        sums: their normal equations at one metre of noise, so that they need not be summed again for another ``sd_m``.
        sd_m: standard deviation of each reading's own error, metres.
        firm: whether they show what the offset was. Others show only how it moved, or what it cannot have been.
        common: unknowns that all readings share; None where there are none.
        path_m: for readings taken from the ridden path, how far each drawn path ran beside the estimate at that time,
            metres along the readings' directions, ``(draws, n)``; None for other readings.
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
        """A sight of readings, with their normal equations; readings in groups share no common unknowns."""
        return cls(readings, Sums.of(knots, readings, common), sd_m, firm, common)

    def at_every_other_knot(self) -> Sight:
        """The same, as it shows every other knot of the offset (:meth:`Sums.at_every_other_knot`)."""
        return replace(self, sums=self.sums.at_every_other_knot())

    @cached_property
    def information(self) -> SightInformation:
        """The sight in information form, its common unknowns integrated out and its groups' constants eliminated."""
        sums = self.sums
        precision, right, square = sums.precision, sums.right, sums.square
        log_det = 2.0 * sums.free_values * float(np.log(self.sd_m))
        if self.common is not None and sums.common is not None:
            # Woodbury's identity.
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
        return SightInformation(precision * scale, right * scale, square * scale, log_det)

    def right_of_path(self, knots: OffsetKnots, path_m: FloatArray) -> FloatArray:
        """What drawn paths add to the right side, ``(draws, n)`` → ``(unknowns, draws)``; ``path_m`` as :attr:`path_m`."""
        design = _Design.of(knots, self.readings)
        value = path_m
        if self.readings.group is not None:
            groups = _Groups.of(self.readings.group)
            value = value - np.stack([groups.means(row) for row in value])[:, groups.slot]
        return np.stack([design.transposed_times(row) for row in value], axis=1) / self.sd_m**2
