"""The knots of the receiver's slow position offset, and what is seen of it between them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from lapkit.units import FloatArray

STEP_S = 10.0
"""Knot spacing of the offset, seconds; more in a log so long that the system would grow out of hand."""

_MOST_KNOTS = 400  # an hour and six minutes of them; time grows with their cube


@dataclass(frozen=True, eq=False)
class Sums:
    """What ``free_values`` linear sights of the offset say at one metre of noise, summed over them.

    ``precision`` ``(unknowns, unknowns)`` and ``right`` ``(unknowns,)`` are of all knots east, then all north; ``square``
    is the sum of squares of what was seen. ``shifted`` ``(s, unknowns)``, ``shift_right`` ``(s,)`` and ``shift`` ``(s, s)``
    are what they say together with, and of, unknowns that all of them share: a shift east and north, or others.
    """

    precision: FloatArray
    right: FloatArray
    square: float
    free_values: int
    shifted: FloatArray
    shift_right: FloatArray
    shift: FloatArray

    @classmethod
    def of(
        cls,
        unknowns: int,
        at: np.ndarray,
        weight: FloatArray,
        value: FloatArray,
        group: np.ndarray | None,
        shared: FloatArray | None = None,
    ) -> Sums:
        """Sum sights, each of four of the ``unknowns``: which, ``at``, and by what ``weight``, ``(n, 4)`` each.

        Where ``group`` is given, each group of sights shares an unknown constant, which is taken out. ``shared`` ``(n, s)``
        is how much each sight has of the unknowns that all of them share; a shift east and north when None.
        """

        def summed(
            weights: FloatArray, row: np.ndarray | int, column: np.ndarray, rows: int
        ) -> FloatArray:
            total = np.bincount((row * unknowns + column).ravel(), weights.ravel(), rows * unknowns)
            return np.asarray(total, dtype=np.float64).reshape(rows, unknowns)

        squares = weight[:, :, None] * weight[:, None, :]
        precision = summed(squares, at[:, :, None], at[:, None, :], unknowns)
        right = summed(weight * value[:, None], 0, at, 1)[0]
        square, count = float(value @ value), len(value)
        if group is not None:
            # What a group's mean says is left to its constant.
            _, slot, sizes = np.unique(group, return_inverse=True, return_counts=True)
            sums = summed(weight, slot[:, None], at, len(sizes))
            means = np.bincount(slot, value) / sizes
            precision -= sums.T @ (sums / sizes[:, None])
            right -= means @ sums
            square -= float(means**2 @ sizes)
            count -= len(sizes)
        way = weight.reshape(-1, 2, 2).sum(axis=2) if shared is None else shared
        shifted = np.stack([summed(weight * w[:, None], 0, at, 1)[0] for w in way.T])
        return cls(precision, right, square, count, shifted, value @ way, way.T @ way)


@dataclass(frozen=True, eq=False)
class Sight:
    """Linear sights of the offset, right to within ``sd_m``: weighted sums of it that were seen.

    All of them share unknowns, a shift east and north where no others are named, within ``shared_sd_m`` of zero. A ``firm`` sight tells where the
    offset stood, others how it moved or where it cannot have been.

    They were seen at ``time_s`` ``(n,)`` along ``direction`` ``(n, 2)``, those of a ``group`` ``(n,)`` beside each other.
    ``path_m`` ``(draws, n)`` is how far beside the estimate each drawn path was then, where they were seen from it.
    """

    sums: Sums
    sd_m: float
    time_s: FloatArray
    direction: FloatArray
    group: np.ndarray | None = None
    firm: bool = False
    shared_sd_m: float = 0.0
    path_m: FloatArray | None = None

    @cached_property
    def information(self) -> tuple[FloatArray, FloatArray, float, float]:
        """Precision, right side, sum of squares and log determinant of the noise."""
        told = self.sums
        precision, right, square = told.precision, told.right, told.square
        log_det = 2.0 * told.free_values * float(np.log(self.sd_m))
        if self.shared_sd_m:
            # And the shift (Woodbury's identity).
            inside = told.shift + np.eye(len(told.shift)) * (self.sd_m / self.shared_sd_m) ** 2
            shift = np.linalg.inv(inside)
            precision = precision - told.shifted.T @ shift @ told.shifted
            right = right - told.shift_right @ shift @ told.shifted
            square -= float(told.shift_right @ shift @ told.shift_right)
            log_det += float(np.linalg.slogdet(inside)[1])
            log_det -= 2.0 * len(told.shift) * float(np.log(self.sd_m / self.shared_sd_m))
        scale = self.sd_m**-2
        return precision * scale, right * scale, square * scale, log_det


@dataclass(frozen=True, eq=False)
class OffsetKnots:
    """Evenly spaced knots of the offset process, seconds; shape ``(n,)``, two at least."""

    time_s: FloatArray

    @classmethod
    def covering(cls, start_s: float, stop_s: float) -> OffsetKnots:
        """Knots every ten seconds over a span of time; 400 of them in more than an hour."""
        step = max(STEP_S, (stop_s - start_s) / (_MOST_KNOTS - 1))
        count = int(np.ceil((stop_s - start_s) / step)) + 1
        return cls(start_s + step * np.arange(max(count, 2), dtype=np.float64))

    def thinned(self) -> OffsetKnots:
        """Every other knot, one beyond the last where it would be left out."""
        return OffsetKnots(
            self.time_s[0] + 2.0 * self.step_s * np.arange(len(self.time_s) // 2 + 1)
        )

    @property
    def step_s(self) -> float:
        """Knot spacing, seconds."""
        return float(self.time_s[1] - self.time_s[0])

    def between(self, at_knots: FloatArray, time_s: FloatArray) -> FloatArray:
        """Values at the knots ``(..., knots)`` interpolated at times, ``(..., n)``."""
        index, part = self.place(time_s)
        before, after = (at_knots.take(i, axis=-1) for i in (index, index + 1))
        return before * (1.0 - part) + after * part

    def place(self, time_s: FloatArray) -> tuple[np.ndarray, FloatArray]:
        """The knot before each time and the share of the step to the next one; ``(n,)`` each."""
        place = np.clip((time_s - self.time_s[0]) / self.step_s, 0.0, len(self.time_s) - 1.0)
        index = np.minimum(place.astype(np.int64), len(self.time_s) - 2)
        return index, place - index

    def sight(
        self,
        time_s: FloatArray,
        direction: FloatArray,
        value: FloatArray,
        sd_m: float,
        group: np.ndarray | None = None,
        *,
        firm: bool = False,
        shared: FloatArray | None = None,
    ) -> Sight:
        """Sights of the offset's component along unit vectors ``direction``, shape ``(n, 2)``."""
        at, weight = self._weights(time_s, direction)
        sums = Sums.of(2 * len(self.time_s), at, weight, value, group, shared)
        return Sight(sums, sd_m, time_s, direction, group, firm)

    def right_of_path(self, sight: Sight, path_m: FloatArray) -> FloatArray:
        """What a sight's right side has more where the path is each of those drawn, ``(unknowns, draws)``."""
        at, weight = self._weights(sight.time_s, sight.direction)
        value = path_m
        if sight.group is not None:
            _, slot, sizes = np.unique(sight.group, return_inverse=True, return_counts=True)
            share = np.zeros((len(slot), len(sizes)))
            share[np.arange(len(slot)), slot] = 1.0
            value = value - (value @ share / sizes)[:, slot]
        seen = np.zeros((len(at), 2 * len(self.time_s)))
        np.put_along_axis(seen, at, weight, axis=1)
        return seen.T @ value.T / sight.sd_m**2

    def _weights(self, time_s: FloatArray, direction: FloatArray) -> tuple[np.ndarray, FloatArray]:
        """The four unknowns that each sight is of, and by what weights, ``(n, 4)`` each."""
        count = len(self.time_s)
        index, part = self.place(time_s)
        at = np.stack([index, index + 1, count + index, count + index + 1], axis=1)
        between = np.stack([1.0 - part, part], axis=1)
        return at, np.concatenate([between * direction[:, :1], between * direction[:, 1:]], axis=1)
