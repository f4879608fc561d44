"""Heights along a line, smoothed as strongly as each place needs, with how uncertain they stay.

A course is flat for a kilometre and then goes over a crest that is eighty metres long. One strength of smoothing for
all of it either leaves the flat rough or planes the crest down. So the third derivative of the height is taken to be
white noise whose level changes every few metres and is found from the heights themselves: the squares that the
smoothed height shows, over their degrees of freedom (MacKay's evidence updates), averaged over some 80 m.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.linalg import cho_solve_banded, cholesky_banded
from scipy.ndimage import gaussian_filter1d
from scipy.sparse import csr_array

from lapkit.course.smoothing import Smooth
from lapkit.units import FloatArray

_AVERAGED_OVER_M = 40.0  # standard deviation of the weights: a crest or dip is about that long
_COUNTED = 0.5  # squares that the level of the whole course counts for at each place
# Levels are searched for from above: a crest that was planed down once is not found again
_START_WAVE_M = 60.0
_NOISE_ROUNDS, _LEVEL_ROUNDS = 3, 12  # ten and fifty move a crest of 1.5 m by 2 to 4 cm more
_FINEST_NOISE_M = 1e-3  # nobody knows a height better
# Draws that the posterior's variance, and with it the degrees of freedom, is estimated from
_DEVIATIONS = 16
# Posterior mean over likeliest value of a level that is known from about four squares
_FEW_SQUARES = 2.0
_DRAWN = 32  # profiles that the heights leave possible: as many as paths are drawn
_SEED = 1  # the same heights give the same profiles
_THIRD = np.array([-1.0, 3.0, -3.0, 1.0])  # third difference


@dataclass(frozen=True, eq=False)
class SmoothHeights:
    """Smoothed heights at even nodes: ``height_m`` has shape ``(n,)``.

    ``deviations_m`` are draws of what the true height may differ by from the smoothed one, ``(n, k)``.
    """

    height_m: FloatArray
    deviations_m: FloatArray


class Nodes(NamedTuple):
    """Even nodes along a line: how many, at least four, and the metres from one to the next."""

    number: int
    step_m: float


def smooth_heights(
    at_m: FloatArray, height_m: FloatArray, nodes: Nodes, alike: Smooth
) -> SmoothHeights:
    """Smooth heights known anywhere along a line.

    Args:
        at_m: where they are known, metres from the first node, in any order, shape ``(m,)``.
        height_m: metres, ``(m,)``.
        nodes: at which they are wanted.
        alike: the heights smoothed as if all of the line were alike: their noise and the strength to begin with.

    Source: MacKay 1992, Bayesian interpolation (the updates of levels, from memory); draws by solving with
    perturbed data, as for the path.
    """
    noise_m, wave_m = max(alike.level, _FINEST_NOISE_M), alike.wavelength_m
    problem = _Problem(at_m, height_m, nodes, np.random.default_rng(_SEED))
    even = np.full(nodes.number - 3, _level(noise_m, wave_m, nodes.step_m))
    variance = noise_m**2
    for _ in range(_NOISE_ROUNDS):
        mean, away = problem.solve(even, variance, _DEVIATIONS)
        variance = max(problem.misfit(mean, away), _FINEST_NOISE_M**2)
    start = _level(noise_m, min(wave_m, _START_WAVE_M), nodes.step_m)
    level = np.full(nodes.number - 3, start)
    for _ in range(_LEVEL_ROUNDS):
        mean, away = problem.solve(level, variance, _DEVIATIONS)
        level = problem.learned(level, even, mean, away)
    mean, _ = problem.solve(level, variance, 1)
    _, away = problem.solve(_FEW_SQUARES * level, variance, _DRAWN)
    return SmoothHeights(mean, away)


def _level(noise_m: float, wave_m: float, step_m: float) -> float:
    """Variance of the third difference of a course as strong as the noise of a node at a wavelength."""
    return noise_m**2 * (2.0 * np.pi * step_m / wave_m) ** 6


class _Problem:
    """Heights seen between the nodes by cubics; the nodes' third differences are free by their levels."""

    def __init__(
        self, at_m: FloatArray, height_m: FloatArray, nodes: Nodes, rng: np.random.Generator
    ) -> None:
        count, step_m = nodes
        place = at_m / step_m
        first = np.clip(place.astype(np.int64) - 1, 0, count - 4)
        u = place - first - 1.0
        # Lagrange's cubic through four nodes. Straight lines would take the sag between two for a dip.
        weights = np.stack(
            [
                -u * (u - 1.0) * (u - 2.0) / 6.0,
                (u + 1.0) * (u - 1.0) * (u - 2.0) / 2.0,
                -(u + 1.0) * u * (u - 2.0) / 2.0,
                (u + 1.0) * u * (u - 1.0) / 6.0,
            ]
        )
        rows = np.arange(len(at_m))
        index = (np.tile(rows, 4), (first + np.arange(4)[:, None]).ravel())
        self._seen = csr_array((weights.ravel(), index), shape=(len(at_m), count))
        self._height, self._rng = height_m, rng
        self._averaged = _AVERAGED_OVER_M / step_m
        square = self._seen.T @ self._seen
        self._seen_band = np.zeros((4, count))
        for i in range(4):
            self._seen_band[i, : count - i] = square.diagonal(-i)

    def solve(
        self, level: FloatArray, variance: float, draws: int
    ) -> tuple[FloatArray, FloatArray]:
        """Mean ``(nodes,)`` and deviations ``(nodes, draws)`` of the heights' posterior."""
        band = self._seen_band / variance
        for i, j in zip(*np.triu_indices(4), strict=True):
            band[j - i, i : i + len(level)] += _THIRD[i] * _THIRD[j] / level
        factor = cholesky_banded(band, lower=True), True
        noise = self._rng.standard_normal((len(self._height), draws)) / np.sqrt(variance)
        freed = self._rng.standard_normal((len(level), draws)) / np.sqrt(level)[:, None]
        shaken = self._seen.T @ noise
        for first, weight in enumerate(_THIRD):
            shaken[first : first + len(level)] += weight * freed
        mean = cho_solve_banded(factor, self._seen.T @ self._height / variance)
        return mean, cho_solve_banded(factor, shaken)

    def misfit(self, mean: FloatArray, away: FloatArray) -> float:
        """Variance of the heights about the course, the posterior variance of the course added."""
        left = np.square(self._height - self._seen @ mean)
        return float(np.mean(left + np.mean(np.square(self._seen @ away), axis=-1)))

    def learned(
        self, level: FloatArray, alike: FloatArray, mean: FloatArray, away: FloatArray
    ) -> FloatArray:
        """Levels from the squares that the mean shows, over how many of them the heights can show."""
        unseen = np.mean(np.square(np.diff(away, 3, axis=0)), axis=-1) / level
        squares = self._nearby(np.square(np.diff(mean, 3)))
        shown = self._nearby(np.maximum(1.0 - unseen, 1e-6))
        return (_COUNTED * alike + squares) / (_COUNTED + shown)

    def _nearby(self, values: FloatArray) -> FloatArray:
        """Sum over the neighbourhood of each node."""
        count = np.sqrt(4.0 * np.pi) * self._averaged
        return count * gaussian_filter1d(values, self._averaged, mode="nearest")
