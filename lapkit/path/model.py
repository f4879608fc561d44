"""The smoothing problem: a linear-Gaussian model of a whole log, as one banded system.

Unknowns: the spline coefficients, east and north, of the path of the centre of mass ("mass path"), and the receiver's
wander (correlated over seconds), east and north, at knots of its own. Observed are the antenna's positions and, where
logged, its velocities. Both are linear in the unknowns once heading and lean are known roughly, so the system is
linearised about the last solution and solved again.

Antenna = mass path + Δh sin(lean) to the inside, with sin(lean) = a_n / √(g² + a_n²) and a_n the acceleration to the
left. This has to be part of the model: a wave of lean of angular frequency near √(g/Δh) leaves the antenna nearly still,
and no correction after smoothing can bring it back.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.linalg import cho_solve_banded, cholesky_banded, hadamard
from scipy.linalg.lapack import dtbtrs

from lapkit.arrays import FloatArray
from lapkit.errors import PathError
from lapkit.path.attitude import Attitude
from lapkit.path.banded import Gram, Linear
from lapkit.path.places import Places
from lapkit.path.spline import Knots
from lapkit.path.unknowns import Groups, add_wander, path_coefficients

UNDETERMINED = "the fixes lie too far apart in time, or are too wild, to determine a path"
LOOK_AT_IT = "Run `lapkit check` on it: a receiver that logs every second or faster is needed."
"""The error and its remedy where the normal equations cannot be solved."""


@dataclass(frozen=True, eq=False)
class Observed:
    """Fixes on the plane; arrays of shape ``(n,)``.

    Attributes:
        time_s: seconds on the log's clock, increasing.
        x_m, y_m: the antenna's place, metres east and north.
        position_weight: factor of each position's precision; 0 leaves the position out.
        velocity_time_s: when the velocities were true, seconds: ``time_s`` less the receiver's lag.
        vx_mps, vy_mps: the antenna's velocity east and north, m/s; any value where none is logged.
        velocity_weight: factor of each velocity's precision; 0 where none is logged.
    """

    time_s: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    position_weight: FloatArray
    velocity_time_s: FloatArray
    vx_mps: FloatArray
    vy_mps: FloatArray
    velocity_weight: FloatArray

    @property
    def has_velocity(self) -> bool:
        """Whether any velocity takes part."""
        return bool(np.any(self.velocity_weight > 0))

    @property
    def lags(self) -> bool:
        """Whether the velocities have times of their own, as those of a lagging receiver do."""
        return self.velocity_time_s is not self.time_s


@dataclass(frozen=True)
class Noise:
    """A receiver's noise and how roughly its rider rode; standard deviations per axis.

    Attributes:
        white_m: position noise of each fix, metres.
        wander_m: size of the wander, metres.
        wander_s: its correlation time, seconds.
        velocity_mps: noise of each velocity, m/s.
        roughness: root of the spectral density of the path's white fourth derivative, m/s⁴ per √Hz.
    """

    white_m: float
    wander_m: float
    wander_s: float
    velocity_mps: float
    roughness: float


def positions(seen: Observed, above_m: float, attitude: Attitude, places: Places) -> Linear:
    """All positions, as :func:`~lapkit.path.banded.gram` sums them.

    Args:
        seen: the observations.
        above_m: height of the antenna above the centre of mass, metres.
        attitude: heading and lean at the positions' times.
        places: where these times lie between the knots.
    """
    pull, left = above_m * attitude.slope, attitude.left
    data = np.stack([seen.x_m, seen.y_m])
    data -= (above_m * attitude.sin_lean - pull * attitude.across) * left
    return Linear(places, 0, data, seen.position_weight, pull, left)


def velocities(seen: Observed, above_m: float, attitude: Attitude, places: Places) -> Linear:
    """All velocities as linear observations; arguments as for :func:`positions`."""
    pull, left = above_m * attitude.slope, attitude.left
    ahead = np.stack([left[1], -left[0]])
    data = np.nan_to_num(np.stack([seen.vx_mps, seen.vy_mps]))
    data += (pull * attitude.turning * attitude.along) * left
    data += (above_m * attitude.sin_lean * attitude.turning) * ahead
    return Linear(places, 1, data, seen.velocity_weight, pull, left)


def wander_prior(knots: Knots, noise: Noise) -> tuple[FloatArray, FloatArray, float]:
    """Prior precision of the wander, an Ornstein–Uhlenbeck process at its knots, and its log determinant.

    The precision is tridiagonal and given by its diagonal and by the entry of each knot with the one before,
    ``(groups,)`` each. A knot of wander lies at the centre of a coefficient's support; the outermost coefficients have
    knots too, outside the log.
    """
    count = knots.coefficients // knots.wander_every
    keep = np.exp(-knots.wander_every * knots.spacing_s / noise.wander_s)
    step = noise.wander_m**2 * (1.0 - keep**2)
    diagonal = np.full(count, (1.0 + keep**2) / step)
    diagonal[0] = diagonal[-1] = 1.0 / step
    before = np.full(count, -keep / step)
    before[0] = 0.0
    log_det = -2.0 * ((count - 1) * np.log(step) + np.log(noise.wander_m**2))
    return diagonal, before, float(log_det)


@dataclass(frozen=True, eq=False)
class Solution:
    """Posterior of all unknowns.

    Attributes:
        knots: of the path.
        mean: ``(unknowns,)``.
        factor: upper Cholesky factor of the precision, a band as scipy has it.
        log_likelihood: of the observations (:func:`solve`).
    """

    knots: Knots
    mean: FloatArray
    factor: FloatArray
    log_likelihood: float

    @property
    def path(self) -> FloatArray:
        """The path's spline coefficients, shape ``(coefficients, 2)``."""
        return path_coefficients(self.knots, self.mean)


def draw(solution: Solution, count: int, seed: int) -> FloatArray:
    """Exact draws from the posterior, shape ``(unknowns, count)``: mean + U⁻¹ z.

    Raises:
        PathError: the fixes do not determine the path.
    """
    z = np.random.default_rng(seed).standard_normal((count, len(solution.mean))).T
    drawn = _spread(solution, z)
    drawn += solution.mean[:, None]
    return drawn


def deviations(solution: Solution, count: int, seed: int) -> FloatArray:
    """Deviations from the mean whose mean squares estimate the posterior's variances, shape ``(unknowns, count)``.

    They are U⁻¹ s with signs s, so they are not Gaussian. Over the deviations the signs of any ``count`` successive
    unknowns are orthogonal (rows of a Hadamard matrix), so that products of neighbours cancel in the mean and only their
    squares remain (Bekas, Kokiopoulou and Saad 2007, Applied Numerical Mathematics 57, p. 1214; memory). Eight of them
    are as exact as fifteen with random signs, or as seventy where speed is logged.

    Args:
        solution: the posterior.
        count: how many, a power of two.
        seed: of a random sign for each unknown.

    Raises:
        PathError: the fixes do not determine the path.
    """
    unknowns = len(solution.mean)
    heads = np.random.default_rng(seed).integers(0, 2, unknowns)
    codes = np.tile(hadamard(count, dtype=np.float64), -(-unknowns // count))[:, :unknowns]
    return _spread(solution, (codes * np.where(heads, 1.0, -1.0)).T)


def _spread(solution: Solution, z: FloatArray) -> FloatArray:
    """U⁻¹ z, written over z where that has its columns in one piece each, as LAPACK has them."""
    if z.shape[1] == 0:
        return z  # the solver writes beyond an empty right side
    spread, info = dtbtrs(solution.factor, z, uplo="U", overwrite_b=True)
    if info:
        raise PathError(UNDETERMINED, remedy=LOOK_AT_IT)
    return spread


class NormalEquations(NamedTuple):
    """All observations of a log, weighted by their noise.

    ``band``, ``right`` and ``square`` as in :class:`~lapkit.path.banded.Gram`; ``log_det`` is the log determinant of the
    noise's covariance.
    """

    noise: Noise
    band: FloatArray
    right: FloatArray
    square: float
    log_det: float

    @classmethod
    def of(cls, position: Gram, velocity: Gram | None, noise: Noise) -> NormalEquations:
        """Put together from those of positions and, where logged, of velocities, both at unit noise."""
        precision = noise.white_m**-2
        band = position.band * precision
        right = position.right * precision
        square = position.square * precision
        log_det = position.count * np.log(noise.white_m**2)
        if velocity is not None:
            precision_v = noise.velocity_mps**-2
            band += velocity.band * precision_v
            right += velocity.right * precision_v
            square += velocity.square * precision_v
            log_det += velocity.count * np.log(noise.velocity_mps**2)
        return cls(noise, band, right, square, float(log_det))


def solve(knots: Knots, equations: NormalEquations, prior: FloatArray) -> Solution:
    """Posterior of all unknowns.

    The log likelihood lacks the terms that do not depend on the noise, and the determinant of the path's prior, which
    the caller knows where the roughness is even.

    Args:
        knots: of the path.
        equations: the observations, weighted by their noise.
        prior: the path's prior precision as a band (:func:`~lapkit.path.unknowns.columns`).

    Raises:
        numpy.linalg.LinAlgError: the observations do not determine the path.
    """
    diagonal, before, wander_log_det = wander_prior(knots, equations.noise)
    band = equations.band + prior
    add_wander(Groups.of(knots), band, diagonal, before)
    factor = cholesky_banded(band, overwrite_ab=True, check_finite=False)
    mean = cho_solve_banded((factor, False), equations.right, check_finite=False)
    log_det = 2.0 * float(np.sum(np.log(factor[-1])))
    fit = equations.square - float(equations.right @ mean)
    log_likelihood = -0.5 * (log_det - wander_log_det + equations.log_det + fit)
    return Solution(knots, mean, factor, log_likelihood)
