"""Heights along a line, smoothed as strongly as each place needs, with the uncertainty that remains.

A course is flat for a kilometre and then goes over a crest that is eighty metres long. A single strength of smoothing
either leaves the flat rough or planes the crest down. So the third derivative of the height is modelled as white noise
whose level changes along the line. The level is estimated from the heights themselves: the squared third differences
of the smoothed heights over their degrees of freedom (MacKay's evidence updates), averaged over some 80 m.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.linalg import cho_solve_banded, cholesky_banded
from scipy.ndimage import gaussian_filter1d
from scipy.sparse import csr_array

from lapkit.arrays import FloatArray
from lapkit.course.smoothing import Smooth

_AVERAGED_OVER_M = 40.0  # standard deviation of the weights: a crest or dip is about that long
_PRIOR_SQUARES = 0.5  # weight, in squares, of the level of the whole course at each place
# The search for levels starts from high ones, because a crest that was planed down once is not found again
_START_WAVE_M = 60.0
_NOISE_ROUNDS, _LEVEL_ROUNDS = 3, 12  # ten and fifty move a crest of 1.5 m by 2 to 4 cm more
_FINEST_NOISE_M = 1e-3  # nobody knows a height better
_VARIANCE_DRAWS = 16  # draws that posterior variance and degrees of freedom are estimated from
# By how much the mean of a level's posterior exceeds its sum of squares over n, where n is about four: n / (n − 2).
_MEAN_OVER_SQUARES = 2.0
_DRAWS = 32  # of the road: one for each drawn path, of which later rooms make as many (a test holds them together)
_SEED = 1  # the same heights give the same draws
_THIRD_DIFFERENCE = np.array([-1.0, 3.0, -3.0, 1.0])


@dataclass(frozen=True, eq=False)
class SmoothHeights:
    """Smoothed heights at even nodes, ``(n,)``.

    ``deviations_m`` are draws of the difference between the true and the smoothed heights, ``(n, draws)``.
    """

    height_m: FloatArray
    deviations_m: FloatArray


class Nodes(NamedTuple):
    """Even nodes along a line: how many, at least four, and the metres from one to the next."""

    number: int
    step_m: float


def smooth_heights(
    at_m: FloatArray, height_m: FloatArray, nodes: Nodes, uniform: Smooth
) -> SmoothHeights:
    """Smooth heights known at any places along a line.

    Args:
        at_m: where they are known, metres from the first node, in any order, shape ``(m,)``.
        height_m: metres, ``(m,)``.
        nodes: where they are wanted.
        uniform: the heights smoothed with one strength for the whole line, whose noise and strength are the start.

    Source: MacKay 1992, Bayesian interpolation (the updates of levels, from memory); draws by solving with
    perturbed data, as for the path.
    """
    noise_m, wave_m = max(uniform.noise_sd, _FINEST_NOISE_M), uniform.wavelength_m
    problem = _Problem(at_m, height_m, nodes, np.random.default_rng(_SEED))
    prior = np.full(nodes.number - 3, _level(noise_m, wave_m, nodes.step_m))
    variance = noise_m**2
    for _ in range(_NOISE_ROUNDS):
        mean, deviations = problem.solve(prior, variance, _VARIANCE_DRAWS)
        variance = max(problem.misfit(mean, deviations), _FINEST_NOISE_M**2)
    start = _level(noise_m, min(wave_m, _START_WAVE_M), nodes.step_m)
    level = np.full(nodes.number - 3, start)
    for _ in range(_LEVEL_ROUNDS):
        mean, deviations = problem.solve(level, variance, _VARIANCE_DRAWS)
        level = problem.updated(level, prior, mean, deviations)
    mean, _ = problem.solve(level, variance, 1)
    _, deviations = problem.solve(_MEAN_OVER_SQUARES * level, variance, _DRAWS)
    return SmoothHeights(mean, deviations)


def _level(noise_m: float, wave_m: float, step_m: float) -> float:
    """Variance of third differences for which heights and the noise of a node have equal power at a wavelength."""
    return noise_m**2 * (2.0 * np.pi * step_m / wave_m) ** 6


class _Problem:
    """The Gaussian posterior of heights at nodes: observed through cubics, with a variance for each third difference."""

    def __init__(
        self, at_m: FloatArray, height_m: FloatArray, nodes: Nodes, rng: np.random.Generator
    ) -> None:
        count, step_m = nodes
        place = at_m / step_m
        first = np.clip(place.astype(np.int64) - 1, 0, count - 4)
        u = place - first - 1.0
        # Lagrange's cubic through four nodes: straight lines would mistake the sag between two nodes for a dip.
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
        self._observe = csr_array((weights.ravel(), index), shape=(len(at_m), count))
        self._height, self._rng = height_m, rng
        self._averaged = _AVERAGED_OVER_M / step_m
        square = self._observe.T @ self._observe
        self._square_band = np.zeros((4, count))
        for i in range(4):
            self._square_band[i, : count - i] = square.diagonal(-i)

    def solve(
        self, level: FloatArray, variance: float, draws: int
    ) -> tuple[FloatArray, FloatArray]:
        """Mean ``(nodes,)`` and deviations ``(nodes, draws)`` of the posterior of the heights."""
        band = self._square_band / variance
        for i, j in zip(*np.triu_indices(4), strict=True):
            band[j - i, i : i + len(level)] += _THIRD_DIFFERENCE[i] * _THIRD_DIFFERENCE[j] / level
        factor = cholesky_banded(band, lower=True), True
        noise = self._rng.standard_normal((len(self._height), draws)) / np.sqrt(variance)
        process = self._rng.standard_normal((len(level), draws)) / np.sqrt(level)[:, None]
        perturbed = self._observe.T @ noise
        for first, weight in enumerate(_THIRD_DIFFERENCE):
            perturbed[first : first + len(level)] += weight * process
        mean = cho_solve_banded(factor, self._observe.T @ self._height / variance)
        return mean, cho_solve_banded(factor, perturbed)

    def misfit(self, mean: FloatArray, deviations: FloatArray) -> float:
        """Variance of the residuals, with the posterior variance of the heights added."""
        residual = np.square(self._height - self._observe @ mean)
        posterior = np.mean(np.square(self._observe @ deviations), axis=-1)
        return float(np.mean(residual + posterior))

    def updated(
        self, level: FloatArray, prior: FloatArray, mean: FloatArray, deviations: FloatArray
    ) -> FloatArray:
        """The next levels: squared third differences of the mean over their degrees of freedom."""
        undetermined = np.mean(np.square(np.diff(deviations, 3, axis=0)), axis=-1) / level
        squares = self._nearby(np.square(np.diff(mean, 3)))
        freedom = self._nearby(np.maximum(1.0 - undetermined, 1e-6))
        return (_PRIOR_SQUARES * prior + squares) / (_PRIOR_SQUARES + freedom)

    def _nearby(self, values: FloatArray) -> FloatArray:
        """Weighted sum of values over the neighbourhood of each node."""
        count = np.sqrt(4.0 * np.pi) * self._averaged
        return count * gaussian_filter1d(values, self._averaged, mode="nearest")
