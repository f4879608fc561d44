"""Uniform B-splines of degree five in time: the space in which ridden paths live.

One coefficient per axis and knot carries position, velocity, acceleration and jerk together. A knot every quarter of a
second represents everything below about 2 Hz, while 99.9 % of the power of a rider's lean lies below 0.8 Hz. What is
faster no receiver sees and no rider rides; it is not in the space, so no draw contains it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import comb, factorial

import numpy as np

from lapkit.arrays import FloatArray

DEGREE = 5
"""Degree of the pieces; derivatives up to the fourth are continuous."""

SUPPORT = DEGREE + 1
"""How many coefficients a point in time depends on."""

_FEW = 8  # columns, up to which it is faster to go coefficient by coefficient
# Times that are transposed together: few enough to stay in the processor's cache.
_AT_ONCE = 64


@lru_cache(maxsize=1)
def _power_coefficients() -> FloatArray:
    """Polynomial coefficients of the pieces: entry ``[k, p]`` multiplies u^p for coefficient k.

    The cardinal B-spline by its truncated-power formula (de Boor, *A Practical Guide to Splines*, ch. IX;
    memory); tests hold it against scipy's BSpline.
    """
    table = np.zeros((SUPPORT, SUPPORT))
    for k in range(SUPPORT):
        # Coefficient k covers the interval with its (DEGREE - k)-th piece.
        piece = DEGREE - k
        for j in range(piece + 1):
            sign = (-1) ** j * comb(SUPPORT, j) / factorial(DEGREE)
            for power in range(SUPPORT):
                shift = float(piece - j) ** (DEGREE - power)
                table[k, power] += sign * comb(DEGREE, power) * shift
    return table


@lru_cache(maxsize=SUPPORT)
def _derivative_coefficients(order: int) -> FloatArray:
    """The same as :func:`_power_coefficients` for the ``order``-th derivative by u."""
    table = _power_coefficients()
    for _ in range(order):
        table = np.concatenate(
            [table[:, 1:] * np.arange(1, SUPPORT), np.zeros((SUPPORT, 1))], axis=1
        )
    return table


def penalty_block(order: int, spacing_s: float) -> FloatArray:
    """Integrals over one interval of products of the pieces' ``order``-th derivatives, ``(6, 6)``."""
    table = _derivative_coefficients(order)
    powers = np.arange(SUPPORT)
    moments = 1.0 / (powers[:, None] + powers[None, :] + 1.0)
    return table @ moments @ table.T * spacing_s ** (1 - 2 * order)


@dataclass(frozen=True)
class Knots:
    """Evenly spaced knots of a path.

    Attributes:
        start_s: time of the first knot, seconds.
        spacing_s: from knot to knot, seconds.
        intervals: how many intervals there are between them.
        wander_every: how many knots of the path there are to one of the receiver's wander
            (:mod:`~lapkit.path.unknowns`); it divides the number of coefficients.
    """

    start_s: float
    spacing_s: float
    intervals: int
    wander_every: int = 1

    @property
    def one_interval(self) -> Knots:
        """The same spacing over a single interval from zero, which is alike in all logs of the same kind."""
        return Knots(0.0, self.spacing_s, 1, self.wander_every)

    @property
    def coefficients(self) -> int:
        """How many coefficients an axis has."""
        return self.intervals + DEGREE

    @property
    def stop_s(self) -> float:
        """Where the last interval ends, seconds."""
        return self.start_s + self.intervals * self.spacing_s

    @property
    def middle_s(self) -> FloatArray:
        """Middles of the intervals, seconds, shape ``(intervals,)``."""
        return self.start_s + self.spacing_s * (np.arange(self.intervals, dtype=np.float64) + 0.5)

    def locate(self, time_s: FloatArray) -> tuple[np.ndarray, FloatArray]:
        """Number of the interval of each time and the place within it, 0 to 1, ``(n,)`` each; times beyond an end count as it."""
        scaled = (np.asarray(time_s) - self.start_s) / self.spacing_s
        index = np.clip(scaled.astype(np.int64), 0, self.intervals - 1)
        return index, np.clip(scaled - index, 0.0, 1.0)

    def pieces(self, order: int = 0) -> FloatArray:
        """The six weights as polynomials: ``[k, p]`` multiplies within**p, shape ``(6, 6 - order)``."""
        return _derivative_coefficients(order)[:, : SUPPORT - order] / self.spacing_s**order

    def basis(self, within: FloatArray, order: int = 0) -> FloatArray:
        """Weights of the six coefficients for places within an interval, shape ``(6, n)``."""
        pieces = self.pieces(order)
        return pieces @ powers_of(within, pieces.shape[1])


def powers_of(within: FloatArray, count: int) -> FloatArray:
    """Powers 0 to ``count`` − 1 of places within an interval, ``(count, n)``."""
    powers = np.ones((count, len(within)))
    for power in range(1, count):
        np.multiply(powers[power - 1], within, out=powers[power])
    return powers


def values(
    knots: Knots, coefficients: FloatArray, time_s: FloatArray, *orders: int
) -> tuple[FloatArray, ...]:
    """Derivatives of the path at times ``(n,)``, one for each of ``orders``: coefficients ``(k, ...)`` → ``(n, ...)``."""
    index, within = knots.locate(time_s)
    weights = np.stack([knots.basis(within, order) for order in orders])
    flat = coefficients.reshape(len(coefficients), -1)
    sums = _of_few if flat.shape[1] <= _FEW else _of_many
    shape = (len(index), *coefficients.shape[1:])
    return tuple(out.reshape(shape) for out in sums(weights, flat, index))


def _of_few(weights: FloatArray, flat: FloatArray, index: np.ndarray) -> FloatArray:
    """Weights ``(orders, 6, n)`` times six coefficients from ``index`` on, in a few columns ``(k, c)``: ``(orders, n, c)``."""
    out = np.zeros((len(weights), flat.shape[1], len(index)))
    columns = np.ascontiguousarray(flat.T)
    for k in range(SUPPORT):
        out += weights[:, k, None] * columns.take(index + k, axis=1)
    return out.transpose(0, 2, 1)


def _of_many(weights: FloatArray, flat: FloatArray, index: np.ndarray) -> FloatArray:
    """The same for many columns. In memory the times come last, because measures run along them."""
    by_time = np.ascontiguousarray(weights.transpose(2, 0, 1))
    out = np.empty((len(weights), flat.shape[1], len(index)))
    for start in range(0, len(index), _AT_ONCE):
        part = slice(start, start + _AT_ONCE)
        near = flat[index[part, None] + np.arange(SUPPORT)]
        out[..., part] = np.matmul(by_time[part], near).transpose(1, 2, 0)
    return out.transpose(0, 2, 1)
