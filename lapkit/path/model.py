"""The smoothing problem: a linear-Gaussian model of a whole log, as one banded system.

Unknowns, four to a knot: the mass path's spline coefficient east and north, and the receiver's wander
(correlated over seconds) east and north at that knot. Observed are the antenna's positions and, where
logged, its velocities; both are linear in the unknowns once heading and lean are known roughly, so the
system is linearised about the last solution and solved again.

Antenna = mass path + Δh sin(lean) to the inside, with sin(lean) = a_n / √(g² + a_n²) and a_n the
acceleration to the left: a wave of lean near √(g/Δh) leaves the antenna nearly still, and no correction
after smoothing can bring it back.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_solve_banded, cholesky_banded

from lapkit.path.spline import SUPPORT, Knots, penalty_block
from lapkit.units import FloatArray

STATES = 4
"""Unknowns to a knot: path east, path north, wander east, wander north."""

BLOCK = STATES * SUPPORT
"""Unknowns that one observation can touch."""

PRIOR_ORDER = 4
"""The derivative of position that is white a priori (snap): lean then falls off as 1/f² beyond its bursts."""

_SLOW_MPS = 3.0


@dataclass(frozen=True, eq=False)
class Observed:
    """Fixes on the plane. Arrays have shape ``(n,)``.

    ``x_m`` and ``y_m`` are the antenna's, ``vx_mps`` and ``vy_mps`` its velocity, NaN where not logged.
    ``position_weight`` and ``velocity_weight`` multiply the precision (0 leaves a value out).
    ``velocity_time_s`` is when the velocity was true, which differs from ``time_s`` by the receiver's lag.
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


@dataclass(frozen=True)
class Noise:
    """What blurs a log, and how roughly its rider rode; standard deviations per axis.

    ``white_m`` position noise of each fix, ``wander_m`` and ``wander_s`` size and correlation time of the
    wander, ``velocity_mps`` noise of each velocity, ``roughness`` root of the spectral density of the path's
    white fourth derivative, m/s⁴ per √Hz.
    """

    white_m: float
    wander_m: float
    wander_s: float
    velocity_mps: float
    roughness: float


@dataclass(frozen=True, eq=False)
class Gram:
    """Normal equations of one kind of observation at unit noise.

    ``band`` is upper banded, shape ``(24, unknowns)``; ``right`` has shape ``(unknowns,)``; ``square`` is
    the weighted sum of squares of the data and ``count`` the number of scalar observations.
    """

    band: FloatArray
    right: FloatArray
    square: float
    count: float


@dataclass(frozen=True, eq=False)
class Attitude:
    """Heading and lean along the last solution, for linearising; arrays of shape ``(n,)``.

    ``left_x``, ``left_y`` the unit vector to the rider's left; ``sin_lean`` and ``slope`` = d sin(lean)/d a_n;
    ``across`` and ``along`` the acceleration's components, ``turning`` the yaw rate.
    """

    left_x: FloatArray
    left_y: FloatArray
    sin_lean: FloatArray
    slope: FloatArray
    across: FloatArray
    along: FloatArray
    turning: FloatArray

    @classmethod
    def of(
        cls, vx: FloatArray, vy: FloatArray, ax: FloatArray, ay: FloatArray, load: FloatArray
    ) -> Attitude:
        """From velocity, acceleration (m/s, m/s²) and ``load``, gravity felt by the wheels, m/s².

        Standing or creeping, heading means nothing and the lean is taken as none.
        """
        speed = np.maximum(np.hypot(vx, vy), 0.1)
        riding = np.clip(speed / _SLOW_MPS - 1.0, 0.0, 1.0)
        left_x, left_y = -vy / speed, vx / speed
        across = (left_x * ax + left_y * ay) * riding
        along = (vx * ax + vy * ay) / speed * riding
        hypotenuse = np.hypot(load, across)
        return cls(
            left_x=left_x,
            left_y=left_y,
            sin_lean=across / hypotenuse,
            slope=riding * load**2 / hypotenuse**3,
            across=across,
            along=along,
            turning=across / speed * riding,
        )


def _rows(
    knots: Knots, time_s: FloatArray, order: int, above_m: float, attitude: Attitude | None
) -> tuple[np.ndarray, FloatArray, FloatArray]:
    """Interval index, rows ``(n, 2, 24)`` and known part ``(n, 2)`` of observing the antenna.

    ``order`` 0 is its position, 1 its velocity; ``above_m`` its height above the centre of mass.
    """
    index, within = knots.locate(time_s)
    n = len(index)
    rows = np.zeros((n, 2, SUPPORT, STATES))
    known = np.zeros((n, 2))
    basis = knots.basis(within, order)
    rows[:, 0, :, 0] = basis
    rows[:, 1, :, 1] = basis
    if order == 0:
        # Wander runs straight between its knots; they lie under the middle of the spline's support.
        for axis in (0, 1):
            rows[:, axis, 2, 2 + axis] = 1.0 - within
            rows[:, axis, 3, 2 + axis] = within
    if attitude is not None and above_m:
        left = np.stack([attitude.left_x, attitude.left_y], axis=1)
        lifted = above_m * attitude.slope[:, None] * knots.basis(within, order + 2)
        for axis in (0, 1):
            for other in (0, 1):
                pull = (left[:, axis] * left[:, other])[:, None]
                rows[:, axis, :, other] += pull * lifted
        if order == 0:
            known += (above_m * (attitude.sin_lean - attitude.slope * attitude.across))[
                :, None
            ] * left
        else:
            ahead = np.stack([attitude.left_y, -attitude.left_x], axis=1)
            known -= (above_m * attitude.slope * attitude.turning * attitude.along)[:, None] * left
            known -= (above_m * attitude.sin_lean * attitude.turning)[:, None] * ahead
    return index, rows.reshape(n, 2, BLOCK), known


def _gram(
    knots: Knots, index: np.ndarray, rows: FloatArray, data: FloatArray, weight: FloatArray
) -> Gram:
    """Sum the rows into the banded normal equations, interval by interval."""
    used = weight > 0
    index, rows, data, weight = index[used], rows[used], data[used], weight[used]
    order = np.argsort(index, kind="stable")
    index, rows, data, weight = index[order], rows[order], data[order], weight[order]
    scaled = rows * np.sqrt(weight)[:, None, None]
    target = data * np.sqrt(weight)[:, None]
    held, first = np.unique(index, return_index=True)
    place = np.arange(len(index)) - np.repeat(first, np.diff(np.append(first, len(index))))
    slot = np.repeat(np.arange(len(held)), np.diff(np.append(first, len(index))))
    most = int(place.max()) + 1 if len(place) else 1
    padded = np.zeros((len(held), most, 2, BLOCK))
    aims = np.zeros((len(held), most, 2))
    padded[slot, place] = scaled
    aims[slot, place] = target
    flat = padded.reshape(len(held), -1, BLOCK)
    squares = np.matmul(flat.transpose(0, 2, 1), flat)
    sides = np.matmul(aims.reshape(len(held), 1, -1), flat)[:, 0]
    blocks = np.zeros((BLOCK, BLOCK, knots.intervals))
    blocks[:, :, held] = squares.transpose(1, 2, 0)
    ends = np.zeros((BLOCK, knots.intervals))
    ends[:, held] = sides.T
    return Gram(
        band=band_of_blocks(blocks),
        right=_vector_of_blocks(ends),
        square=float(np.sum(target**2)),
        count=2.0 * float(np.count_nonzero(used)),
    )


def band_of_blocks(blocks: FloatArray) -> FloatArray:
    """Upper banded sum of one symmetric ``(24, 24)`` block an interval, shape ``(24, 24, intervals)``."""
    intervals = blocks.shape[2]
    band = np.zeros((BLOCK, STATES * (intervals + SUPPORT - 1)))
    for row in range(BLOCK):
        for column in range(row, BLOCK):
            at = slice(column, column + STATES * intervals, STATES)
            band[BLOCK - 1 - (column - row), at] += blocks[row, column]
    return band


def _vector_of_blocks(ends: FloatArray) -> FloatArray:
    intervals = ends.shape[1]
    vector = np.zeros(STATES * (intervals + SUPPORT - 1))
    for row in range(BLOCK):
        vector[row : row + STATES * intervals : STATES] += ends[row]
    return vector


def position_gram(knots: Knots, seen: Observed, above_m: float, attitude: Attitude | None) -> Gram:
    """Normal equations of all positions at one metre of noise."""
    index, rows, known = _rows(knots, seen.time_s, 0, above_m, attitude)
    data = np.stack([seen.x_m, seen.y_m], axis=1) - known
    return _gram(knots, index, rows, data, seen.position_weight)


def velocity_gram(knots: Knots, seen: Observed, above_m: float, attitude: Attitude | None) -> Gram:
    """Normal equations of all velocities at one metre per second of noise."""
    index, rows, known = _rows(knots, seen.velocity_time_s, 1, above_m, attitude)
    data = np.nan_to_num(np.stack([seen.vx_mps, seen.vy_mps], axis=1)) - known
    return _gram(knots, index, rows, data, seen.velocity_weight)


def smooth_band(knots: Knots, roughness: FloatArray) -> FloatArray:
    """Prior precision of the path, banded, for a roughness an interval, shape ``(intervals,)``."""
    blocks = np.zeros((SUPPORT, STATES, SUPPORT, STATES, knots.intervals))
    penalty = penalty_block(PRIOR_ORDER, knots.spacing_s)[:, :, None] / np.square(roughness)
    for axis in (0, 1):
        blocks[:, axis, :, axis] = penalty
    return band_of_blocks(blocks.reshape(BLOCK, BLOCK, knots.intervals))


def wander_band(knots: Knots, noise: Noise) -> tuple[FloatArray, float]:
    """Prior precision of the wander, an Ornstein–Uhlenbeck process at the knots, and its log determinant.

    Wander at a knot hangs on the coefficient whose support is centred there; the outermost
    coefficients have knots too, outside the log.
    """
    unknowns = STATES * knots.coefficients
    keep = np.exp(-knots.spacing_s / noise.wander_s)
    step = noise.wander_m**2 * (1.0 - keep**2)
    diagonal = np.full(knots.coefficients, (1.0 + keep**2) / step)
    diagonal[0] = diagonal[-1] = 1.0 / step
    band = np.zeros((BLOCK, unknowns))
    for axis in (2, 3):
        band[BLOCK - 1, axis::STATES] = diagonal
        band[BLOCK - 1 - STATES, STATES + axis :: STATES] = -keep / step
    log_det = -2.0 * ((knots.coefficients - 1) * np.log(step) + np.log(noise.wander_m**2))
    return band, float(log_det)


@dataclass(frozen=True, eq=False)
class Solution:
    """Posterior of all unknowns: mean ``(unknowns,)`` and upper banded Cholesky factor of the precision."""

    knots: Knots
    mean: FloatArray
    factor: FloatArray
    log_likelihood: float


def solve(
    knots: Knots,
    position: Gram,
    velocity: Gram | None,
    noise: Noise,
    smooth: FloatArray,
) -> Solution:
    """Posterior for the noise given; ``smooth`` is the path's prior precision (:func:`smooth_band`).

    The log likelihood leaves out what does not depend on the noise and leaves out the path's prior
    determinant, which the caller knows for an even roughness.
    """
    wander, wander_log_det = wander_band(knots, noise)
    band = smooth + wander + position.band / noise.white_m**2
    right = position.right / noise.white_m**2
    square = position.square / noise.white_m**2
    scale = position.count * np.log(noise.white_m**2)
    if velocity is not None:
        band += velocity.band / noise.velocity_mps**2
        right = right + velocity.right / noise.velocity_mps**2
        square += velocity.square / noise.velocity_mps**2
        scale += velocity.count * np.log(noise.velocity_mps**2)
    factor = cholesky_banded(band, overwrite_ab=True, check_finite=False)
    mean = cho_solve_banded((factor, False), right, check_finite=False)
    log_det = 2.0 * float(np.sum(np.log(factor[-1])))
    fit = square - float(right @ mean)
    return Solution(knots, mean, factor, -0.5 * (log_det - wander_log_det + scale + fit))
