"""The knots of the receiver's slow position offset, and what is seen of it between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.units import FloatArray

STEP_S = 10.0
"""Knot spacing of the offset, seconds; more in a log so long that the system would grow out of hand."""

_MOST_KNOTS = 400


@dataclass(frozen=True, eq=False)
class Sight:
    """Linear sights of the offset: ``n`` weighted sums of it are ``value``, within ``sd_m``.

    Each sum is of four of the ``unknowns`` (all knots east, then all north): which, and by what weights,
    ``at`` and ``weight`` of shape ``(n, 4)`` say. Where ``group`` is given, each group of sums shares an
    unknown constant; all of them share an unknown shift, east and north, within ``shared_sd_m``. A ``firm``
    sight tells where the offset stood, others how it moved or where it cannot have been.
    """

    unknowns: int
    at: np.ndarray
    weight: FloatArray
    value: FloatArray
    sd_m: float
    group: np.ndarray | None = None
    firm: bool = False
    shared_sd_m: float = 0.0

    @property
    def free_values(self) -> int:
        """How many values are left when each group has told its constant."""
        constants = 0 if self.group is None else len(np.unique(self.group))
        return len(self.value) - constants

    def information(self) -> tuple[FloatArray, FloatArray, float, float]:
        """Precision, right side, sum of squares and log determinant of the noise."""
        squares = self.weight[:, :, None] * self.weight[:, None, :]
        precision = self._summed(squares, self.at[:, :, None], self.at[:, None, :], self.unknowns)
        right = self._summed(self.weight * self.value[:, None], 0, self.at, 1)[0]
        square = float(self.value @ self.value)
        count = float(len(self.value))
        if self.group is not None:
            # The constants taken out: what a group's mean says is left to them.
            _, slot, sizes = np.unique(self.group, return_inverse=True, return_counts=True)
            sums = self._summed(self.weight, slot[:, None], self.at, len(sizes))
            means = np.bincount(slot, self.value) / sizes
            precision -= sums.T @ (sums / sizes[:, None])
            right -= means @ sums
            square -= float(means**2 @ sizes)
            count -= len(sizes)
        log_det = 2.0 * count * float(np.log(self.sd_m))
        if self.shared_sd_m:
            # And the shift (Woodbury's identity).
            way = self.weight.reshape(-1, 2, 2).sum(axis=2)
            sums = np.stack(
                [self._summed(self.weight * w[:, None], 0, self.at, 1)[0] for w in way.T]
            )
            told = self.value @ way
            inside = way.T @ way + np.eye(2) * (self.sd_m / self.shared_sd_m) ** 2
            shift = np.linalg.inv(inside)
            precision -= sums.T @ shift @ sums
            right -= told @ shift @ sums
            square -= float(told @ shift @ told)
            log_det += float(np.linalg.slogdet(inside)[1])
            log_det -= 4.0 * float(np.log(self.sd_m / self.shared_sd_m))
        scale = self.sd_m**-2
        return (
            precision * scale,
            right * scale,
            square * scale,
            log_det,
        )

    def _summed(
        self, weights: FloatArray, row: np.ndarray | int, column: np.ndarray, rows: int
    ) -> FloatArray:
        """Weights added up where they belong, shape ``(rows, unknowns)``."""
        place = row * self.unknowns + column
        total = np.bincount(place.ravel(), weights.ravel(), rows * self.unknowns)
        return np.asarray(total, dtype=np.float64).reshape(rows, self.unknowns)


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
    ) -> Sight:
        """Sights of the offset's component along unit vectors ``direction``, shape ``(n, 2)``."""
        count = len(self.time_s)
        index, part = self.place(time_s)
        at = np.stack([index, index + 1, count + index, count + index + 1], axis=1)
        between = np.stack([1.0 - part, part], axis=1)
        weight = np.concatenate([between * direction[:, :1], between * direction[:, 1:]], axis=1)
        return Sight(2 * count, at, weight, value, sd_m, group, firm)
