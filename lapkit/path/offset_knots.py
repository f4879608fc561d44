"""The knots of the receiver's slow position offset, between which it runs straight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray

STEP_S = 10.0
"""Knot spacing of the offset, seconds; wider in a log so long that the system would grow too large."""

_MOST_KNOTS = 400  # an hour and six minutes; the work grows with their cube


@dataclass(frozen=True, eq=False)
class OffsetKnots:
    """Evenly spaced knots of the offset process: times in seconds, ``(n,)``, at least two."""

    time_s: FloatArray

    @classmethod
    def covering(cls, start_s: float, stop_s: float) -> OffsetKnots:
        """Knots every ten seconds over a span of time, or 400 of them over a longer one."""
        step = max(STEP_S, (stop_s - start_s) / (_MOST_KNOTS - 1))
        count = int(np.ceil((stop_s - start_s) / step)) + 1
        return cls(start_s + step * np.arange(max(count, 2), dtype=np.float64))

    def thinned(self) -> OffsetKnots:
        """Every other knot, and one more beyond the last where that is left out."""
        return OffsetKnots(
            self.time_s[0] + 2.0 * self.step_s * np.arange(len(self.time_s) // 2 + 1)
        )

    @property
    def step_s(self) -> float:
        """Knot spacing, seconds."""
        return float(self.time_s[1] - self.time_s[0])

    def between(self, at_knots: FloatArray, time_s: FloatArray) -> FloatArray:
        """Values at the knots ``(..., knots)`` interpolated at times, ``(..., n)``; level beyond the ends."""
        index, part = self.place(time_s)
        step = np.diff(at_knots, axis=-1)
        return at_knots.take(index, axis=-1) + step.take(index, axis=-1) * part

    def place(self, time_s: FloatArray) -> tuple[np.ndarray, FloatArray]:
        """Number of the knot before each time, and how far on to the next it is, 0 to 1; ``(n,)`` each."""
        place = np.clip((time_s - self.time_s[0]) / self.step_s, 0.0, len(self.time_s) - 1.0)
        index = np.minimum(place.astype(np.int64), len(self.time_s) - 2)
        return index, place - index

    def weights(self, time_s: FloatArray, direction: FloatArray) -> tuple[np.ndarray, FloatArray]:
        """How components of the offset along directions depend on the knots.

        Args:
            time_s: seconds, ``(n,)``.
            direction: vectors east and north, ``(n, 2)``.

        Returns:
            The four unknowns on which each depends, numbered over all knots east and then all north, and their
            weights, ``(n, 4)`` each.
        """
        count = len(self.time_s)
        index, part = self.place(time_s)
        at = np.stack([index, index + 1, count + index, count + index + 1], axis=1)
        between = np.stack([1.0 - part, part], axis=1)
        return at, np.concatenate([between * direction[:, :1], between * direction[:, 1:]], axis=1)


def folded(at_knots: FloatArray) -> FloatArray:
    """Precision or right side of both components' knots, ``(2 knots, ...)``, summed onto every other knot.

    The offset is taken to run straight past a knot that is left out
    (:meth:`OffsetKnots.thinned`), so each of its two neighbours gets half of it.
    """
    knots = at_knots.reshape(2, -1, *at_knots.shape[1:])
    stay, between = knots[:, ::2], 0.5 * knots[:, 1::2]
    out = np.zeros((2, knots.shape[1] // 2 + 1, *at_knots.shape[1:]))
    out[:, : stay.shape[1]] += stay
    out[:, : between.shape[1]] += between
    out[:, 1 : between.shape[1] + 1] += between
    return out.reshape(-1, *at_knots.shape[1:])
