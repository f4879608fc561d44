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
    """Linear sights of the offset: ``rows @ offset = value`` within ``sd_m``.

    ``rows`` has shape ``(n, 2 · knots)`` (east knots, then north), ``value`` shape ``(n,)``. Where
    ``group`` is given, each group of rows shares an unknown constant. A ``firm`` one tells where the
    offset stood, others how it moved or where it cannot have been.
    """

    rows: FloatArray
    value: FloatArray
    sd_m: float
    group: np.ndarray | None = None
    firm: bool = False

    def information(self) -> tuple[FloatArray, FloatArray, float, float]:
        """Precision, right side, sum of squares and log determinant of the noise."""
        rows, value = self.rows, self.value
        count = float(len(value))
        if self.group is not None:
            _, slot, sizes = np.unique(self.group, return_inverse=True, return_counts=True)
            order = np.argsort(slot, kind="stable")
            means = np.add.reduceat(rows[order], np.cumsum(sizes) - sizes, axis=0)
            rows = rows - (means / sizes[:, None])[slot]
            value = value - (np.bincount(slot, value) / sizes)[slot]
            count -= len(sizes)
        scale = self.sd_m**-2
        return (
            rows.T @ rows * scale,
            rows.T @ value * scale,
            float(value @ value) * scale,
            2.0 * count * float(np.log(self.sd_m)),
        )


@dataclass(frozen=True, eq=False)
class OffsetKnots:
    """Evenly spaced knots of the offset process, seconds; shape ``(n,)``, two at least."""

    time_s: FloatArray

    @classmethod
    def covering(cls, start_s: float, stop_s: float) -> OffsetKnots:
        """Knots every ten seconds over a span of time; 400 of them in more than an hour."""
        step = max(STEP_S, (stop_s - start_s) / (_MOST_KNOTS - 1))
        count = int(np.ceil((stop_s - start_s) / step)) + 1
        return cls(start_s + step * np.arange(max(count, 2)))

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
        return at_knots[..., index] * (1.0 - part) + at_knots[..., index + 1] * part

    def place(self, time_s: FloatArray) -> tuple[np.ndarray, FloatArray]:
        """The knot before each time and the share of the step to the next one; ``(n,)`` each."""
        place = np.clip((time_s - self.time_s[0]) / self.step_s, 0.0, len(self.time_s) - 1.0)
        index = np.minimum(place.astype(np.int64), len(self.time_s) - 2)
        return index, place - index

    def weights(self, time_s: FloatArray) -> FloatArray:
        """Straight-line interpolation between knots as a matrix, shape ``(n, knots)``."""
        index, part = self.place(time_s)
        matrix = np.zeros((len(part), len(self.time_s)))
        matrix[np.arange(len(part)), index] = 1.0 - part
        matrix[np.arange(len(part)), index + 1] = part
        return matrix

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
        weights = self.weights(time_s)
        rows = np.concatenate([weights * direction[:, :1], weights * direction[:, 1:]], axis=1)
        return Sight(rows, value, sd_m, group, firm)
